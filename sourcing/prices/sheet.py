"""A price sheet from its file: from the cache, or its cells made into rows, faults and questions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sourcing.faults import MissingFile, RefusedSheet, shown
from sourcing.prices.cache import Cache
from sourcing.prices.grid import Grid, workbook_grids
from sourcing.prices.header import Header, find_header
from sourcing.prices.kept import keep, kept
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe, kind_of
from sourcing.prices.rows import PriceBreak, PriceRow, PriceSheet, Question, Table
from sourcing.prices.settled import Found, settled
from sourcing.prices.table import read_tables
from sourcing.prices.text import text_grid

__all__ = ["PriceBreak", "PriceRow", "PriceSheet", "Question", "Table", "read_sheet", "read_sheets"]


def read_sheet(path: Path, layout: Layout | None = None, cache: Cache | None = None) -> PriceSheet:
    """Read one price sheet; what is wrong with it is told in its faults, never raised."""
    return read_sheets([(path, layout or Layout())], cache)[0]


def read_sheets(asked: Sequence[tuple[Path, Layout]], cache: Cache | None = None) -> list[PriceSheet]:
    """Read price sheets, each once: from the cache, or parsed; all workbooks among them in one child process."""
    results: list[PriceSheet | None] = []
    books: list[tuple[int, bytes]] = []
    for place, (path, layout) in enumerate(asked):
        try:
            content = path.read_bytes()
            results.append(kept(content, layout, cache))
            if results[-1] is None and kind_of(content) != "text":
                books.append((place, content))
            elif results[-1] is None:
                results[-1] = keep(understood([text_grid(content, layout.encoding, layout.separator)], layout),
                                    content, layout, cache)  # fmt: skip
        except FileNotFoundError:
            results.append(PriceSheet("", "refused", faults=(MissingFile(),)))
        except OSError as error:
            results.append(_refused(Unsafe(error.strerror or "an unreadable file", "Check the file's permissions.")))
        except Unsafe as error:
            results[place:] = [_refused(error)]
    for (place, content), grids in zip(books, workbook_grids([content for _, content in books]), strict=True):
        layout = asked[place][1]
        results[place] = (_refused(grids) if isinstance(grids, Unsafe)
                          else keep(understood(grids, layout), content, layout, cache))  # fmt: skip
    return [_named(sheet, shown(path)) for sheet, (path, _) in zip(results, asked, strict=True) if sheet is not None]


def _refused(error: Unsafe) -> PriceSheet:
    return PriceSheet("", "refused", faults=(RefusedSheet(found=error.found, remedy=error.remedy),))


def _named(sheet: PriceSheet, file: str) -> PriceSheet:
    """A sheet and its faults under the name by which the file was asked for: what is kept knows only the content."""
    named = {id(fault): replace(fault, file=file) for fault in (*sheet.faults, *sheet.barred.values())}
    barred = {number: named[id(fault)] for number, fault in sheet.barred.items()}
    return replace(sheet, file=file, faults=tuple(named[id(fault)] for fault in sheet.faults), barred=barred)


def understood(grids: Sequence[Grid], layout: Layout) -> PriceSheet:
    """What a file's sheets say, read in a layout."""
    found = Found()
    wanted = [grid for grid in grids if layout.sheet is None or grid.sheet == layout.sheet or grid.text]
    doubtful: list[tuple[Grid, Header]] = []
    for grid in wanted:
        header = find_header(grid, layout)
        if header is not None and header.whole:
            read_tables(grid, header, layout, found)
        elif header is not None:
            doubtful.append((grid, header))
    for grid, header in doubtful:
        several_prices = "part_number" in header.columns and bool(header.unclear.get("price"))
        if not found.tables or (several_prices and not layout.columns):
            for name, choices in header.unclear.items():
                found.ask(grid.sheet, header.row, name, choices)
    if layout.sheet is not None and not wanted:
        found.ask("", 0, "sheet", tuple(grid.sheet for grid in grids))
    if found.questions:
        return PriceSheet("", "unsure", tuple(found.tables), faults=tuple(found.faults),
                          questions=tuple(dict.fromkeys(found.questions)))  # fmt: skip
    if not found.tables:
        return _refused(Unsafe("no row of headers with a part number and a price",
                               "Say the header row and columns in suppliers.toml, or ask for a price list."))  # fmt: skip
    rows = tuple(settled(found))
    stood = tuple(row for entries in found.entries.values() for _, row in entries)
    return PriceSheet("", "read", tuple(found.tables), rows, tuple(found.faults), (), found.barred, stood)
