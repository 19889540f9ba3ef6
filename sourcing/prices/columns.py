"""Priced rows kept as columns of text: a row is made when somebody asks for it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from itertools import repeat
from typing import Any, overload

from sourcing.partnumber import PartNumber
from sourcing.prices.rows import PriceBreak, PriceRow

COLUMNS = (
    "number", "key", "description", "price", "breaks", "currency", "core_charge", "stock", "pack", "minimum", "lead_days",
    "valid_until", "sheet", "row", "superseded_by", "valid_from", "group", "quantity",
)  # fmt: skip
Column = list[str] | str | bytes


def _amount(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _count(text: str) -> int | None:
    return int(text) if text else None


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _steps(text: str) -> tuple[PriceBreak, ...]:
    pairs = [step.split(":") for step in text.split()]
    return tuple(PriceBreak(int(quantity), Decimal(price)) for quantity, price in pairs)


def steps_text(steps: Sequence[PriceBreak]) -> str:
    """Price breaks as their column keeps them.

    >>> steps_text([PriceBreak(5, Decimal("4.50")), PriceBreak(10, Decimal("4"))])
    '5:4.50 10:4'
    """
    return " ".join(f"{step.quantity}:{step.price}" for step in steps)


# The fields of a PriceRow in their order: the column, and what its text means.
_FIELDS: tuple[tuple[str, Callable[[str], Any]], ...] = (
    ("number", PartNumber), ("description", str), ("price", _amount), ("breaks", _steps), ("currency", str),
    ("core_charge", _amount), ("stock", _count), ("pack", _count), ("minimum", _count), ("lead_days", _count),
    ("valid_until", _day), ("sheet", str), ("row", int), ("superseded_by", str), ("valid_from", _day), ("group", str),
)  # fmt: skip


def texts_of(row: PriceRow, quantity: int | None = None) -> dict[str, str]:
    """A row as the texts of its columns."""

    def text(value: object) -> str:
        return "" if value is None else str(value)

    return {
        "number": row.part_number.spelt, "key": row.part_number.canonical, "description": row.description,
        "price": text(row.price), "breaks": steps_text(row.breaks), "currency": row.currency,
        "core_charge": text(row.core_charge), "stock": text(row.stock), "pack": text(row.pack),
        "minimum": text(row.minimum), "lead_days": text(row.lead_days), "valid_until": text(row.valid_until),
        "sheet": row.sheet, "row": str(row.row), "superseded_by": row.superseded_by, "valid_from": text(row.valid_from),
        "group": row.group, "quantity": text(quantity),
    }  # fmt: skip


class Rows(Sequence[PriceRow]):
    """Priced rows as columns: each a list of texts, one text where all rows share it, or bytes not yet taken apart.

    Equal to any sequence of equal rows, a tuple included.
    """

    __slots__ = ("_columns", "_count", "_places")

    def __init__(self, count: int, columns: Mapping[str, Column]) -> None:
        self._count, self._columns = count, dict(columns)
        self._places: dict[str, int] | None = None

    def column(self, name: str) -> Sequence[str]:
        """The texts of a column, one for each row."""
        column = self._columns.get(name, "")
        if isinstance(column, bytes):
            text = column[1:].decode("utf-8", "surrogatepass")
            column = text.split("\n") if column[:1] == b"\n" else json.loads(text)
            self._columns[name] = column
        return column if isinstance(column, list) else [column] * self._count

    def distinct(self, name: str) -> set[str]:
        """The different texts of a column."""
        column = self._columns.get(name, "")
        if not self._count:
            return set()
        return {column} if isinstance(column, str) else set(self.column(name))

    @property
    def canonicals(self) -> Sequence[str]:
        """The canonical form of each row's number."""
        return self.column("key")

    def place_of(self, canonical: str) -> int | None:
        """Where the row of a number stands, or None."""
        if self._places is None:
            self._places = dict(zip(self.canonicals, range(self._count), strict=True))
        return self._places.get(canonical)

    @overload
    def __getitem__(self, place: int) -> PriceRow: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[PriceRow, ...]: ...
    def __getitem__(self, place: int | slice) -> PriceRow | tuple[PriceRow, ...]:
        if isinstance(place, slice):
            return tuple(self[at] for at in range(*place.indices(self._count)))
        if not -self._count <= place < self._count:
            raise IndexError(place)
        return PriceRow(*(mean(self._text(name, place)) for name, mean in _FIELDS))

    def _text(self, name: str, place: int) -> str:
        column = self._columns.get(name, "")
        return column if isinstance(column, str) else self.column(name)[place]

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[PriceRow]:
        if not self._count:
            return iter(())
        columns = []
        for name, mean in _FIELDS:
            column = self._columns.get(name, "")
            columns.append(
                repeat(mean(column), self._count) if isinstance(column, str) else map(mean, self.column(name))
            )
        return map(PriceRow, *columns)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Sequence) and not isinstance(other, str):
            return len(self) == len(other) and all(mine == its for mine, its in zip(self, other, strict=True))
        return NotImplemented

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Rows({list(self[:3])}{', ...' if self._count > 3 else ''}, {self._count} in all)"

    def chosen(self, places: Sequence[int], changed: Mapping[int, PriceRow]) -> Rows:
        """The rows at some places; of them, those that `changed` names by place are replaced."""
        at = {place: new for new, place in enumerate(places)}
        columns: dict[str, Column] = {}
        for name in COLUMNS:
            column = self._columns.get(name, "")
            if isinstance(column, str) and not changed:
                columns[name] = column
                continue
            texts = self.column(name)
            columns[name] = [texts[place] for place in places]
        for place, row in changed.items():
            for name, text in texts_of(row).items():
                column = columns[name]
                assert isinstance(column, list)
                column[at[place]] = text
        return Rows(len(places), columns)

    def packed(self) -> list[tuple[str, str | int, bytes]]:
        """Each column as its name, the text that all rows share or the length in bytes, and the bytes."""
        pieces: list[tuple[str, str | int, bytes]] = []
        for name in COLUMNS:
            column = self._columns.get(name, "")
            if isinstance(column, list) and (not column or column.count(column[0]) == len(column)):
                column = column[0] if column else ""
            if isinstance(column, str):
                pieces.append((name, column, b""))
                continue
            piece = column if isinstance(column, bytes) else _joined(column)
            pieces.append((name, len(piece), piece))
        return pieces


def _joined(column: list[str]) -> bytes:
    """A column's texts as bytes that begin with the way in which they are joined."""
    text = "\n".join(column)
    if text.count("\n") != len(column) - 1:
        return b"[" + json.dumps(column).encode()
    return b"\n" + text.encode("utf-8", "surrogatepass")
