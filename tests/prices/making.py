"""Price sheets written for a test: the bytes of a file, from its cells."""

from __future__ import annotations

import csv
import io
import struct
import zipfile
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import xlsxwriter  # type: ignore[import-untyped, unused-ignore]

from sourcing.prices.layout import Layout
from sourcing.prices.sheet import PriceSheet, read_sheet

Rows = Sequence[Sequence[Any]]
HEAD = ["Part No", "Description", "Price"]
FIRST_SHEET = "xl/worksheets/sheet1.xml"


def csv_bytes(rows: Rows, separator: str = ",", encoding: str = "utf-8") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator).writerows(rows)
    return out.getvalue().encode(encoding)


def xlsx_bytes(rows: Rows, formats: dict[tuple[int, int], str] | None = None, **more: Rows) -> bytes:
    """A workbook; `formats` gives number formats by row and column from 0, `more` further sheets by name."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, grid in {"Prices": rows, **more}.items():
        sheet = book.add_worksheet(name)
        for y, cells in enumerate(grid):
            for x, cell in enumerate(cells):
                styled = (formats or {}).get((y, x))
                if isinstance(cell, date):
                    sheet.write_datetime(y, x, cell, day)
                elif isinstance(cell, str):
                    sheet.write_string(y, x, cell)
                elif cell is not None:
                    sheet.write_number(y, x, cell, book.add_format({"num_format": styled}) if styled else None)
    book.close()
    return out.getvalue()


def ods_bytes(rows: Rows) -> bytes:
    spaces = "urn:oasis:names:tc:opendocument:xmlns"
    cells = "".join(f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows)
    names = " ".join(f'xmlns:{part}="{spaces}:{part}:1.0"' for part in ("office", "table", "text"))
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {names} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Prices">{cells}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        f'<?xml version="1.0"?><manifest:manifest xmlns:manifest="{spaces}:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/></manifest:manifest>'
    )
    return zipped(
        {"mimetype": kind.encode(), "content.xml": content.encode(), "META-INF/manifest.xml": manifest.encode()}
    )


def _ods_cell(cell: Any) -> str:
    if cell is None or cell == "":
        return "<table:table-cell/>"
    if isinstance(cell, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
    return (
        f'<table:table-cell office:value-type="float" office:value="{cell}"><text:p>{cell}</text:p></table:table-cell>'
    )


class OldError(int):
    """An error cell of an old workbook, by its code."""


class Shown(int):
    """A number of an old workbook in the style that shows five digits."""


def xls_bytes(rows: Rows, hidden: Sequence[int] = ()) -> bytes:
    """A workbook of the old binary kind: one sheet's records in a compound file of 512-byte sectors; `hidden` rows from 0."""

    def record(kind: int, body: bytes) -> bytes:
        return struct.pack("<HH", kind, len(body)) + body

    def begin(kind: int) -> bytes:
        return record(0x0809, struct.pack("<HHHHII", 0x0600, kind, 0x0DBB, 0x07CC, 0, 6))

    cells = b""
    for y in hidden:
        cells += record(0x0208, struct.pack("<HHHHHHHH", y, 0, 9, 255, 0, 0, 0x20, 0))
    for y, row in enumerate(rows):
        for x, cell in enumerate(row):
            if isinstance(cell, Shown):
                cells += record(0x027E, struct.pack("<HHHI", y, x, 1, cell << 2 | 2))
            elif isinstance(cell, OldError):
                cells += record(0x0205, struct.pack("<HHHBB", y, x, 0, cell, 1))
            elif isinstance(cell, str):
                cells += record(0x0204, struct.pack("<HHHHB", y, x, 0, len(cell), 1) + cell.encode("utf-16-le"))
            elif cell is not None:
                cells += record(0x0203, struct.pack("<HHHd", y, x, 0, cell))
    end = record(0x000A, b"")
    styles = record(0x041E, struct.pack("<HHB", 164, 5, 0) + b"00000")
    styles += b"".join(record(0x00E0, struct.pack("<HH", 0, kind) + bytes(16)) for kind in (0, 164))
    sheet = struct.pack("<IHBB", len(begin(5)) + len(styles) + 4 + 14 + len(end), 0, 6, 0) + b"Prices"
    stream = begin(5) + styles + record(0x0085, sheet) + end + begin(0x10) + cells + end
    stream = stream.ljust(max(4096, -(-len(stream) // 512) * 512), b"\0")
    last = 1 + len(stream) // 512  # sector 0 holds the chain, 1 the directory, 2 on the stream
    none, stop = 0xFFFFFFFF, 0xFFFFFFFE
    chain = [0xFFFFFFFD, stop, *range(3, last + 1), stop]
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<HHHHH6x", 0x3E, 3, 0xFFFE, 9, 6)
    head += struct.pack("<9I", 0, 1, 1, 0, 4096, stop, 0, stop, 0) + struct.pack("<109I", 0, *[none] * 108)

    def entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
        spelt = (name + "\0").encode("utf-16-le") if name else b""
        return (spelt.ljust(64, b"\0") + struct.pack("<HBBIII", len(spelt), kind, 1, none, none, child) + bytes(36)
                + struct.pack("<IQ", start, size))  # fmt: skip

    folder = (
        entry("Root Entry", 5, 1, stop, 0) + entry("Workbook", 2, none, 2, len(stream)) + entry("", 0, none, 0, 0) * 2
    )
    return head + struct.pack("<128I", *chain, *[none] * (128 - len(chain))) + folder + stream


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def edited(workbook: bytes, change: Callable[[bytes], bytes], member: str = FIRST_SHEET) -> bytes:
    """A workbook with one member's raw text changed."""
    with zipfile.ZipFile(io.BytesIO(workbook)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    return zipped({**members, member: change(members[member])})


def read(folder: Path, content: bytes, layout: Layout | None = None, name: str = "sheet.csv") -> PriceSheet:
    path = folder / name
    path.write_bytes(content)
    return read_sheet(path, layout)


def read_rows(folder: Path, rows: Rows, layout: Layout | None = None, **how: Any) -> PriceSheet:
    """Rows written as text and read back."""
    return read(folder, csv_bytes(rows, **how), layout)


def prices(sheet: PriceSheet) -> dict[str, str | None]:
    """Each number with its price, as text."""
    return {row.part_number.spelt: row.price if row.price is None else str(row.price) for row in sheet.rows}


def codes(sheet: PriceSheet) -> list[tuple[str, int | None]]:
    """Each fault's code and row."""
    return [(fault.code, fault.row) for fault in sheet.faults]
