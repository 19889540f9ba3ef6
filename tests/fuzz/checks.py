"""What must hold of a reading, whatever the file: no crash, no hang, bounded memory, no silent loss."""

from __future__ import annotations

from collections import Counter

from sourcing.prices.encoding import Undecided
from sourcing.prices.grid import Grid
from sourcing.prices.kept import packed, unpacked
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe, kind_of
from sourcing.prices.rows import PriceSheet
from sourcing.prices.text import text_grid
from sourcing.prices.understood import understood
from sourcing.prices.workbook import workbook_grids


def reading(content: bytes) -> tuple[list[Grid], PriceSheet] | None:
    """A file's cells and what they were read as, both ways alike; None where it is refused before its cells are."""
    try:
        grids = [text_grid(content)] if kind_of(content) == "text" else workbook_grids(content)
    except (Unsafe, Undecided):
        return None
    sheet = understood(grids, Layout())
    careful = understood(grids, Layout(), careful=True)
    assert same(sheet, careful), "read at once and row by row differ"
    assert same(sheet, unpacked(packed(sheet))), "what is kept differs"
    return grids, sheet


def same(one: PriceSheet, two: PriceSheet) -> bool:
    return (
        (one.status, one.tables, one.faults, one.questions, one.notes)
        == (two.status, two.tables, two.faults, two.questions, two.notes)
        and list(one.rows) == list(two.rows)
        and list(one.stood) == list(two.stood)
        and one.barred == two.barred
    )


def no_row_is_lost(grids: list[Grid], sheet: PriceSheet) -> None:
    """Every row of a sheet that was read is a priced row, a fault, a header or counted as none of our business."""
    assert sheet.status in ("read", "unsure", "refused")
    if sheet.status != "read":
        assert sheet.faults, "no reason is given"
        return
    names = Counter(grid.sheet for grid in grids)
    for grid in grids:
        tables = [table for table in sheet.tables if table.sheet == grid.sheet]
        if not tables or names[grid.sheet] > 1:
            continue
        told = {row.row for row in sheet.stood if row.sheet == grid.sheet}
        told |= {fault.row for fault in sheet.faults if fault.sheet == grid.sheet and fault.row is not None}
        told &= set(grid.numbers)
        headers = {table.header_row for table in tables}
        asides = sum(table.asides for table in tables)
        counted = len(told - headers) + len(headers - {0}) + asides
        # A row with damaged letters has its fault even where it is none of our business.
        assert len(grid.numbers) <= counted <= len(grid.numbers) + len(grid.doubtful), (
            f"{len(grid.numbers)} rows, of which {len(told)} are told, {len(headers)} headers, {asides} set aside"
        )
    for table in sheet.tables:
        assert 0 <= table.confidence <= 1 and table.rows >= 0
    numbers = list(sheet.canonicals)
    assert len(set(numbers)) == len(numbers) and not set(numbers) & sheet.barred.keys()
    for row in sheet.stood:
        prices = [step.price for step in row.breaks] + ([] if row.price is None else [row.price])
        assert prices and all(price > 0 for price in prices), "a price of 0"
