"""The cells of one sheet of a file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from sourcing.prices.lines import Lines


class CellError(str):
    """The name of an error that a cell shows in place of a value: #N/A, #REF!, or a formula never worked out."""

    __slots__ = ()


Cell = str | float | int | bool | date | CellError


def _nothing_proven() -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet: its rows that hold something, each with its number as the spreadsheet shows it; blanks are ''.

    Rows need not be equally long. `hidden_rows` are the numbers of rows that the spreadsheet does not show; `hidden` tells
    that it does not show the sheet. `proof` tells the decimal mark that the file's form proves, where it does:
    `unquoted_mark` says when. `doubtful` names rows whose text could not be decoded with certainty. `lines` are its
    columns as they were gathered on the way.
    """

    sheet: str
    numbers: Sequence[int]
    cells: list[list[Cell]]
    text: bool = False
    proof: Callable[[], str] = _nothing_proven
    hidden_rows: frozenset[int] = field(default_factory=frozenset)
    hidden: bool = False
    doubtful: frozenset[int] = field(default_factory=frozenset)
    encoding: str = ""
    notes: tuple[str, ...] = ()
    lines: Lines | None = None

    def column(self, column: int, start: int = 0) -> list[Cell]:
        """A column's cells from a row's index on; a row that ends before it gives a blank."""
        return [cells[column] if column < len(cells) else "" for cells in self.cells[start:]]
