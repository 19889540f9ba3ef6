"""Price sheets written for a test: the bytes of a file, from its cells."""

from __future__ import annotations

import csv
import io
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
    return zipped({"mimetype": kind.encode(), "content.xml": content.encode(), "META-INF/manifest.xml": manifest.encode()})


def _ods_cell(cell: Any) -> str:
    if cell is None or cell == "":
        return "<table:table-cell/>"
    if isinstance(cell, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{cell}"><text:p>{cell}</text:p></table:table-cell>'


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
