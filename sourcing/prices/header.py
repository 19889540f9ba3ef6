"""A header row understood: its titles and the column of each field; and the columns that their letters name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from sourcing.prices.amounts import number_of
from sourcing.prices.grid import Cell, Grid
from sourcing.prices.layout import Layout


@dataclass(frozen=True, slots=True)
class Header:
    """A header row understood.

    `at` is the index among the grid's rows of the last row of the header (-1 where the sheet has none); `row` its number as
    the spreadsheet shows it, of a header of two rows the first, 0 where there is none; `columns` gives each field's column,
    `breaks` the column of each break quantity; `unclear` names fields that more than one column could be, with those columns'
    header texts; `changed` the declared headers that the sheet lacks, by field. `price_pieces` is the number of pieces for
    which a price holds; `by_description` tells that the description serves as part number.
    """

    at: int
    row: int
    titles: tuple[str, ...]
    columns: dict[str, int]
    breaks: dict[int, int]
    unclear: dict[str, tuple[str, ...]]
    changed: dict[str, str] = field(default_factory=dict)
    confidence: float = 1.0
    price_pieces: int = 1
    by_description: bool = False
    rows: int = 1  # of the header itself

    @property
    def top(self) -> int:
        """The index of its first row."""
        return self.at - self.rows + 1

    @property
    def whole(self) -> bool:
        return "part_number" in self.columns and ("price" in self.columns or bool(self.breaks)) and not self.unclear

    def title(self, column: int) -> str:
        return self.titles[column] if column < len(self.titles) else ""

    def cell(self, cells: Sequence[Cell], name: str) -> Cell:
        """A row's cell of a field; a blank where the table has no such column, or the row ends before it."""
        column = self.columns.get(name)
        return cells[column] if column is not None and column < len(cells) else ""


def titles_of(cells: Sequence[Cell]) -> tuple[str, ...]:
    """A row's cells as header texts."""
    return tuple(
        " ".join(str(cell)[:200].split()) if isinstance(cell, str) or not isinstance(cell, (int, float)) or not abs(cell) < 1e15
        else f"{number_of(cell):f}" for cell in cells
    )  # fmt: skip


def header_by_letters(grid: Grid, layout: Layout) -> Header | None:
    """The columns of a sheet without a header, where the layout names them by their letters; None where it does not."""
    named = {name: title for name, title in layout.columns.items() if title}
    if not named or any(not re.fullmatch(r"[A-Za-z]{1,2}", title) for title in named.values()):
        return None
    columns = {name: letters_to_column(title) for name, title in named.items()}
    width = max(map(len, grid.cells), default=0)
    if "part_number" not in columns or max(columns.values()) >= width:
        return None
    breaks = {int(name[:-1]): columns.pop(name) for name in list(columns) if name.endswith("+")}
    if "price" not in columns and not breaks:
        return None
    titles = tuple(column_letters(column) for column in range(width))
    return Header(-1, 0, titles, columns, dict(sorted(breaks.items())), {}, rows=0)


def column_letters(column: int) -> str:
    """A column's name as the spreadsheet shows it.

    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    first, last = divmod(column, 26)
    return (column_letters(first - 1) if first else "") + chr(65 + last)


def letters_to_column(letters: str) -> int:
    """The column of a name, from 0."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1
