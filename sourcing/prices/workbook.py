"""The cells of a workbook: what the parser gives, put right by what stands in the file itself."""

from __future__ import annotations

import io
import threading
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from itertools import islice, zip_longest

from python_calamine import CalamineSheet, CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum

from sourcing.prices.grid import Cell, CellError, Grid
from sourcing.prices.lines import AT_A_TIME, Lines
from sourcing.prices.preflight import Unsafe
from sourcing.prices.raw import RawSheet, raw_sheets

MOST_ROWS = 400_000  # rows that hold something


SMALL = 1_000_000  # bytes of a file whose own text is read before the parser begins


def workbook_grids(content: bytes, alarm: Callable[[Unsafe], None] | None = None) -> list[Grid]:
    """The sheets of a workbook.

    `alarm` is called, from another thread, as soon as a file turns out to be unsafe: a cell far out can end the whole process
    while the parser reserves room for all between.

    Raises
    ------
    Unsafe
        It is locked, damaged, or reaches farther than any list.
    """
    raw = Scan(content, alarm)
    raw.start()
    if len(content) < SMALL:
        raw.sheets()
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            listed = [
                (index, about)
                for index, about in enumerate(book.sheets_metadata)
                if about.typ == SheetTypeEnum.WorkSheet
            ]
            sheets = [(index, about, book.get_sheet_by_index(index)) for index, about in listed]
            told = raw.sheets()
            return [_grid(sheet, told.get(index, RawSheet()), about.visible != SheetVisibleEnum.Visible)
                    for index, about, sheet in sheets]  # fmt: skip
    except (MemoryError, Unsafe):
        raise
    except BaseException as error:  # a panic of the parser is no Exception
        raw.sheets()  # its reason, where it has one, is the better one
        if isinstance(error, PasswordError):
            raise Unsafe("a sheet locked with a password", "Save it again without a password.") from None
        raise Unsafe(f"a damaged or cut-off file ({str(error)[:120]})", "Ask for the file again.") from None


class Scan(threading.Thread):
    """The file's own text, read while the parser is at work on another processor."""

    def __init__(self, content: bytes, alarm: Callable[[Unsafe], None] | None) -> None:
        super().__init__(daemon=True)
        self._content, self._alarm = content, alarm
        self._told: dict[int, RawSheet] | Exception = {}

    def run(self) -> None:
        try:
            self._told = raw_sheets(self._content)
        except Unsafe as error:
            self._told = error
            if self._alarm and len(self._content) >= SMALL:
                self._alarm(error)
        except Exception as error:
            self._told = error

    def sheets(self) -> dict[int, RawSheet]:
        """What the text tells; raises Unsafe where it is refused or cannot be read."""
        self.join()
        if isinstance(self._told, Unsafe):
            raise self._told
        if isinstance(self._told, Exception):
            raise Unsafe(f"a damaged or cut-off file ({str(self._told)[:120]})", "Ask for the file again.") from None
        return self._told


def _grid(sheet: CalamineSheet, raw: RawSheet, hidden: bool) -> Grid:
    """The rows that hold something, numbered as the spreadsheet shows them."""
    top, left = sheet.start or (0, 0)
    rows = _amended(_numbered(sheet, top + 1, left), raw.amended) if raw.amended else _numbered(sheet, top + 1, left)
    numbers: list[int] = []
    cells: list[list[Cell]] = []
    lines = Lines()
    for begin, some in rows:
        held = [at for at, row in enumerate(some) if any(row) or row.count("") < len(row)]
        kept = some if len(held) == len(some) else [some[at] for at in held]
        if kept:
            _make_plain(kept)
            numbers += [begin + at for at in held]
            cells += kept
            lines.take(kept)
            if len(cells) > MOST_ROWS:
                raise MemoryError
    return Grid(sheet.name, numbers, cells, hidden_rows=frozenset(raw.hidden_rows), hidden=hidden, lines=lines)


Block = tuple[int, list[list[Cell]]]  # the number of its first row, and consecutive rows


def _numbered(sheet: CalamineSheet, first: int, left: int) -> Iterator[Block]:
    """Some rows at a time; the parser begins at the first filled column, we at the first."""
    rows = sheet.iter_rows() if sheet.start else iter(())
    margin: list[Cell] = [""] * left
    while some := list(islice(rows, AT_A_TIME)):
        yield first, [margin + row for row in some] if left else some  # type: ignore[operator, misc]
        first += len(some)


def _amended(blocks: Iterator[Block], amended: Mapping[int, Mapping[int, Cell]]) -> Iterator[Block]:
    """The rows with some cells put in place of the parser's; those outside of what the parser gives come in their place."""
    left = sorted(amended, reverse=True)
    for begin, rows in blocks:
        while left and left[-1] < begin:
            yield left[-1], [_put([], amended[left.pop()])]
        while left and left[-1] < begin + len(rows):
            number = left.pop()
            rows[number - begin] = _put(rows[number - begin], amended[number])
        yield begin, rows
    while left:
        yield left[-1], [_put([], amended[left.pop()])]


def _put(row: list[Cell], changes: Mapping[int, Cell]) -> list[Cell]:
    row = row + [""] * (max(changes) + 1 - len(row))
    for column, cell in changes.items():
        row[column] = cell
    return row


def _make_plain(rows: list[list[Cell]]) -> None:
    """Dates without their clock, and what is neither text, number nor date as the text that it shows."""
    for column, part in enumerate(zip_longest(*rows, fillvalue="")):
        if not _PLAIN.issuperset(map(type, part)):
            for row in rows:
                if column < len(row) and type(row[column]) not in _PLAIN:
                    row[column] = _plain(row[column])


_PLAIN = {str, float, int, CellError}


def _plain(cell: object) -> Cell:
    return date(cell.year, cell.month, cell.day) if isinstance(cell, date) else str(cell).upper()
