"""Columns gathered as lines of text while their rows are read.

A million cells are looked at while they are still at hand for the processor; after that a column is one text, and what holds
for all of it can be asked of that text.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import Any, Literal

MOST_COLUMNS = 80  # what lies farther out is read cell by cell
AT_A_TIME = 500  # rows
Kind = Literal["", "written", "typed", "mixed"]


class Lines:
    """Each column as lines: of texts as they are written, or of a spreadsheet's numbers as they are typed."""

    def __init__(self, text: bool = False) -> None:
        self.count = 0
        self._text = text  # every cell is a text: nobody need look
        self._pieces: list[list[str]] = []
        self._covered: list[int] = []
        self._kinds: list[Kind] = []

    def take(self, rows: Sequence[Sequence[Any]]) -> None:
        """More rows, in their order."""
        for column, part in enumerate(zip_longest(*rows, fillvalue="")):
            if column == MOST_COLUMNS:
                break
            if column == len(self._pieces):
                self._pieces.append([])
                self._covered.append(0)
                self._kinds.append("")
            kind, piece = _piece(part, self._text)
            before = self._kinds[column]
            if kind and kind != before:
                self._kinds[column] = "mixed" if before else kind
            if self._kinds[column] == "mixed":
                continue
            self._fill_up(column)
            self._pieces[column].append(piece)
            self._covered[column] = self.count + len(rows)
        self.count += len(rows)

    def _fill_up(self, column: int) -> None:
        """Blank lines for the rows that ended before a column."""
        missing = self.count - self._covered[column]
        if missing:
            self._pieces[column].append("\n" * (missing - 1))
            self._covered[column] = self.count

    def of(self, column: int, start: int) -> tuple[str, bool] | None:
        """A column's lines from a row on, and whether they are written; None where it must be read cell by cell."""
        if column >= len(self._pieces) or self._kinds[column] == "mixed" or start >= self.count:
            return None
        self._fill_up(column)
        if len(self._pieces[column]) > 1:
            self._pieces[column] = ["\n".join(self._pieces[column])]
        text = self._pieces[column][0]
        cut = 0
        for _ in range(start):
            cut = text.index("\n", cut) + 1
        return text[cut:], self._kinds[column] != "typed"


def _piece(part: tuple[Any, ...], text_only: bool) -> tuple[Kind, str]:
    """Some cells of a column as lines, and of what kind they are; '' where they are all blank."""
    kinds = {str} if text_only else set(map(type, part))
    if kinds == {str}:
        text = "\n".join(part)
        if text.count("\n") != len(part) - 1:
            return "mixed", ""
        return ("written", text) if text.strip("\n") else ("", text)
    if not kinds <= {float, int, str}:
        return "mixed", ""
    text = f"{repr([*part])[1:-1]}, ".replace("''", "").replace(", ", "\n")
    if "'" in text or '"' in text:  # a text among the numbers, its header say: marked, and for a closer look
        text = "".join(f"{_marked(cell) if type(cell) is str else cell!r}\n" for cell in part)
    return "typed", text.replace(".0\n", "\n")[:-1]


def _marked(text: str) -> str:
    return "'" + " ".join(text.split()) if text else ""
