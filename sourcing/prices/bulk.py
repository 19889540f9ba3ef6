"""Whole columns read at once: each cell as the text that a column of rows keeps, or None where it needs a closer look.

What is read here is read as `amounts` and `cells` read it, only sooner; a test compares both ways.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any, overload

from sourcing.partnumber import canonical
from sourcing.prices.amounts import Unread, amount_of, decided_mark
from sourcing.prices.asides import TOTAL
from sourcing.prices.cells import spelt_of
from sourcing.prices.grid import Cell, CellError, Grid

Texts = list[str] | list[str | None]
Told = Texts | str  # a column of texts, or the lines that say the same and leave nothing open

# Lines that are all plain: possessive, so that a column is gone through once.
_AMOUNTS = re.compile(r"(?:(?:[0-9]{1,7}+(?:[.,][0-9][0-9]?+)?+)?+\n)*+")
_TYPED_AMOUNTS = re.compile(r"(?:(?:[0-9]{1,7}+(?:\.[0-9]{1,6}+)?+)?+\n)*+")
_COUNTS = re.compile(r"(?:(?:0|[1-9][0-9]{0,7}+)?+\n)*+")
_NUMBERS = re.compile(r"(?:(?:\w[\w./()#&, -]*+(?<! ))?+\n)*+")
_TYPED_NUMBERS = re.compile(r"(?:(?:[1-9][0-9]{0,14}+)?+\n)*+")
_TOTALS = ("tota", "summe", "gesamt", "somme", "suma", "razem", "toplam", "итого", "всего", "всього")
_ODD_BLANKS = "\t\r\x0b\x0c\x1c\x1d\x1e\x1f"


def _all(plain: re.Pattern[str], text: str) -> bool:
    """Whether every line of a text is plain."""
    found = plain.match(text + "\n")
    return found is not None and found.end() == len(text) + 1


def _has_zero(text: str) -> bool:
    """Whether a line of plain amounts is nothing but zeros."""
    return (text[:1] == "0" or "\n0" in text) and re.search(r"^0[0.,]*$", text, re.MULTILINE) is not None


class Whole:
    """A column below its header, as lines where it can be and as cells where it must."""

    def __init__(self, grid: Grid, column: int, start: int) -> None:
        self._grid, self._column, self._start = grid, column, start
        self._cells: list[Cell] | None = None
        lines = grid.lines.of(column, start) if grid.lines is not None else None
        self.text: str | None = None
        self.written = False
        if lines is not None:
            self.text, self.written = lines

    @property
    def cells(self) -> list[Cell]:
        if self._cells is None:
            self._cells = self._grid.column(self._column, self._start)
        return self._cells

    @property
    def values(self) -> Sequence[Cell]:
        """Its cells, or the lines that say the same."""
        if self.text is not None and (self.written or "'" not in self.text):
            return self.text.split("\n")
        return self.cells


class Below:
    """The columns below a header, each gathered once."""

    def __init__(self, grid: Grid, start: int) -> None:
        self.grid, self.start = grid, start
        self.count = len(grid.cells) - start
        self._wholes: dict[int, Whole] = {}

    def __getitem__(self, column: int) -> Whole:
        if column not in self._wholes:
            self._wholes[column] = Whole(self.grid, column, self.start)
        return self._wholes[column]


class Money:
    """A column of money, with what is plain in it told once.

    `text` are its amounts as lines where each is a blank or a plain number that needs no closer look, otherwise None.
    """

    def __init__(self, whole: Whole) -> None:
        self.whole = whole
        plain = _AMOUNTS if whole.written else _TYPED_AMOUNTS
        self.text = whole.text if whole.text is not None and _all(plain, whole.text) else None

    def mark(self) -> str:
        """The decimal mark, as `decided_mark` tells it."""
        text = self.text
        if text is None:
            return decided_mark(self.whole.cells)
        if not self.whole.written:
            return ""
        return "!" if "." in text and "," in text else "." if "." in text else "," if "," in text else ""

    def amounts(self, mark: str, zero: bool = False) -> Told:
        """Each amount; '' for a blank, and for a dash where nothing may stand."""
        if self.text is not None and (zero or not _has_zero(self.text)):
            return self.text.replace(",", ".")

        def parse(cell: Cell) -> str | Unread | None:
            value = amount_of(cell, mark, zero)
            return str(value) if isinstance(value, Decimal) else value

        return by_value(self.whole.cells, parse)


def by_value(column: Sequence[Cell], parse: Callable[[Cell], Any]) -> Texts:
    """Each cell parsed, equal ones once; a blank, and what says nothing, is ''."""
    known: dict[Cell, str | None] = {}
    distinct = set(column)
    for cell in distinct:
        value = "" if cell == "" else parse(cell)
        known[cell] = None if isinstance(value, Unread) else "" if value is None else str(value)
    if len(distinct) == 1 and type(column[0]) is str:
        return [known[column[0]]] * len(column)
    texts = list(map(known.__getitem__, column))
    if CellError in set(map(type, column)):  # equal to a text of the same letters, and not the same
        return [text if type(cell) is not CellError else None for cell, text in zip(column, texts, strict=True)]
    return texts


@overload
def texts(told: list[str] | str) -> list[str]: ...


@overload
def texts(told: Told) -> Texts: ...


def texts(told: Told) -> Texts:
    """A column of texts."""
    return told.split("\n") if isinstance(told, str) else told


def told(column: Sequence[Cell], tell: Callable[[Cell], str]) -> list[str]:
    """What each cell tells, equal ones asked once."""
    known = {cell: tell(cell) for cell in set(column)}
    return [known[column[0]]] * len(column) if len(known) == 1 else list(map(known.__getitem__, column))


def counts(whole: Whole, parse: Callable[[Cell], Any], least: int) -> Told:
    """A column of whole numbers."""
    text = whole.text
    if text is not None and _all(_COUNTS, text) and not (least and _has_zero(text)):
        return text
    return by_value(whole.values, parse)


def numbers(whole: Whole) -> tuple[Told, list[str] | str]:
    """A column of part numbers as they are spelt, and in their canonical form."""
    text = whole.text
    if text is not None and _all(_NUMBERS if whole.written else _TYPED_NUMBERS, text):
        folded = text.casefold()
        if not any(word in folded for word in _TOTALS):
            if text.isascii():
                return text, text.upper().replace("-", "").replace(" ", "")
            return text, list(map(canonical, text.split("\n")))

    def parse(cell: Cell) -> str | Unread:
        number = spelt_of(cell)
        return Unread("") if TOTAL.fullmatch(number) else number

    careful = by_value(whole.cells, parse)
    return careful, [canonical(number) if number else "" for number in careful]


def descriptions(whole: Whole) -> Told:
    """A column of words, with single blanks between them."""
    text = whole.text
    if text is not None and whole.written and _single_blanks(text):
        return text
    return [description(cell) for cell in whole.cells]


def _single_blanks(text: str) -> bool:
    if text[:1] == " " or text[-1:] == " " or any(pair in text for pair in ("  ", "\n ", " \n")):
        return False
    if text.isascii():
        return not any(mark in text for mark in _ODD_BLANKS)
    return re.search(r"[^\S \n]", text) is None


def description(cell: Cell) -> str:
    """A cell as a description; an error says nothing."""
    return "" if isinstance(cell, CellError) else " ".join(str(cell).split())
