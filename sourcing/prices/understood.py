"""What the sheets of a file say: their tables read, or why there is none."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.faults import RefusedSheet
from sourcing.prices.encoding import Undecided
from sourcing.prices.grid import Grid
from sourcing.prices.header import Header, header_by_letters
from sourcing.prices.headerrow import find_header
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe
from sourcing.prices.rows import PriceSheet, Question
from sourcing.prices.settled import Found, settled
from sourcing.prices.shapes import asked_without_header, beside, no_list, no_prices
from sourcing.prices.table import read_tables
from sourcing.prices.text import text_grid


def refused(error: Unsafe, sheet: str = "", row: int | None = None) -> PriceSheet:
    """A file that is not read, and why."""
    return PriceSheet(
        "", "refused", faults=(RefusedSheet(sheet=sheet, row=row, found=error.found, remedy=error.remedy),)
    )


def understood_text(content: bytes, layout: Layout) -> PriceSheet:
    """What a text file says. Raises Unsafe where it is none in columns."""
    try:
        grid = text_grid(content, layout.encoding, layout.separator)
    except Undecided as error:
        question = Question("encoding", error.choices)
        return PriceSheet("", "unsure", faults=(question.fault(),), questions=(question,))
    return understood([grid], layout)


def understood(grids: Sequence[Grid], layout: Layout, careful: bool = False) -> PriceSheet:
    """What a file's sheets say, read in a layout."""
    found = Found()
    wanted = [grid for grid in grids if layout.sheet is None or grid.sheet == layout.sheet or grid.text]
    headers = [(grid, find_header(grid, layout) or header_by_letters(grid, layout)) for grid in wanted]
    for grid, header in headers:
        reason = beside(grid, header, layout)
        if reason is not None:
            return refused(reason, grid.sheet, header.row if header else None)
    for grid, header in headers:
        if header is not None and header.whole:
            read_tables(grid, header, layout, found, careful)
            _note_hidden(grid, header, found)
    doubtful = [(grid, header) for grid, header in headers if header is not None and not header.whole]
    reasons = [_asked(grid, header, layout, found) for grid, header in doubtful]
    if layout.sheet is not None and not wanted:
        found.ask("", 0, "sheet", tuple(grid.sheet for grid in grids))
    if not found.tables and not found.questions:
        for grid, header in headers:
            if header is None:
                for name, choices in asked_without_header(grid):
                    found.ask(grid.sheet, 0, name, choices)
    if found.tables:
        _note_passed_over(headers, found)
    notes = (*dict.fromkeys(note for grid in wanted for note in grid.notes), *dict.fromkeys(found.notes))
    encoding = next((grid.encoding for grid in wanted), "")
    if found.questions:
        return PriceSheet("", "unsure", tuple(found.tables), faults=tuple(found.faults),
                          questions=tuple(dict.fromkeys(found.questions)), notes=notes, encoding=encoding)  # fmt: skip
    if not found.tables:
        return refused(next(filter(None, reasons), None) or no_list(wanted))
    stood = found.stood()
    rows = settled(found, stood)
    return PriceSheet(
        "", "read", tuple(found.tables), rows, tuple(found.faults), (), found.barred, stood, notes, encoding
    )


def _note_passed_over(headers: Sequence[tuple[Grid, Header | None]], found: Found) -> None:
    """Say which sheets hold something and no table of prices."""
    read = {table.sheet for table in found.tables}
    for grid, _ in headers:
        if grid.sheet not in read and grid.cells:
            found.notes.append(
                f"sheet {grid.sheet}: no table of prices in its {len(grid.cells)} rows; it was passed over"
            )


def _note_hidden(grid: Grid, header: Header, found: Found) -> None:
    """Say what is out of sight, and what serves as part number."""
    table = found.tables[-1]
    where = f"sheet {grid.sheet}: " if grid.sheet else ""
    if grid.hidden:
        found.notes.append(f"{where}the sheet is hidden, and was read")
    if table.hidden_rows:
        found.notes.append(f"{where}{table.hidden_rows} hidden rows were read like the others")
    if header.by_description:
        found.notes.append(f"{where}there is no column of part numbers: the description serves as part number")
    if header.price_pieces != 1:
        found.notes.append(f"{where}prices hold for {header.price_pieces} pieces, and were divided")
    if "valid_from" in header.columns:
        found.notes.append(
            f"{where}the dates from which prices hold were kept; the date of the file decides what is in force"
        )


def _asked(grid: Grid, header: Header, layout: Layout, found: Found) -> Unsafe | None:
    """Ask what a header leaves open, where it matters; or why the sheet under it is no price list."""
    several = "part_number" in header.columns and bool(header.unclear.get("price"))
    if found.tables and not (several and not layout.columns):
        return None
    reason = no_prices(grid, header, layout)
    if reason is not None:
        return reason
    for name, choices in header.unclear.items():
        found.ask(grid.sheet, header.row, name, choices, header.changed.get(name, ""))
    return None
