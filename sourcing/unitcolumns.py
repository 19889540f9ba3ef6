"""The columns of a list of units: which keys of a job file their headers name, and what their cells become."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Sequence
from decimal import Decimal
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel

from sourcing.faults import BadValue, Fault, MissingKey, UnknownKey
from sourcing.job import Job

COUNT = "count"
# Columns in which like units may differ: nothing that decides what they get.
OWN = ("job.number", "job.customer", "unit.tag", "labour.base_hours")
# Columns whose text is a number where it looks like one; the rest of the model takes numbers as texts.
NUMERIC = re.compile(r"(?:labour\.base_hours|readings\..+|in_hand\.[^.]+\.cost|quote\.discount)\Z")
NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?\Z")


def header_faults(header: Sequence[str], file: str, row: int) -> Iterable[Fault]:
    """What is wrong with a header: no key of a job file, one that stands twice, one that is not there."""
    for name in dict.fromkeys(header):
        if not name:
            yield UnknownKey(file=file, row=row, place="header", found="a column without a header",
                             expected="a key of a job file in each column")  # fmt: skip
        elif name != COUNT and not _is_key(name.split("."), Job):
            yield UnknownKey(file=file, row=row, place=f"column {name}", found=f'"{name}"',
                             expected='a key of a job file after its table, such as "unit.facts.lever", or "count"')  # fmt: skip
        elif header.count(name) > 1:
            yield BadValue(
                file=file, row=row, place=f"column {name}", found="this header twice", expected="each column once"
            )
    for name in ("job.number", "job.family", "job.date"):
        if name not in header:
            yield MissingKey(file=file, row=row, place=f"column {name}", expected="this column")


def _is_key(names: Sequence[str], kind: Any) -> bool:
    """Whether a value that one cell can hold stands at these keys of a model."""
    name, *rest = names
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        held = kind.model_fields.get(name)
        if held is None:
            return False
        return _is_value(held.annotation) if not rest else any(_is_key(rest, one) for one in _ways(held.annotation))
    if get_origin(kind) is dict and name:
        inner = get_args(kind)[1]
        return _is_value(inner) if not rest else any(_is_key(rest, one) for one in _ways(inner))
    return False


def _ways(kind: Any) -> list[Any]:
    """The kinds of value that an annotation allows."""
    while hasattr(kind, "__metadata__"):
        kind = get_args(kind)[0]
    if get_origin(kind) in (Union, UnionType):
        return [way for one in get_args(kind) for way in _ways(one)]
    return [] if kind is type(None) else [kind]


def _is_value(kind: Any) -> bool:
    """Whether one cell can say it: no table, and no list of tables."""
    return any(not _is_table(way) and not (get_origin(way) is list and any(map(_is_table, _ways(get_args(way)[0]))))
               for way in _ways(kind)) or _is_discount(kind)  # fmt: skip


def _is_table(kind: Any) -> bool:
    return get_origin(kind) is dict or (isinstance(kind, type) and issubclass(kind, BaseModel))


def _is_discount(kind: Any) -> bool:
    """A table that may also be written as one amount or share."""
    return isinstance(kind, type) and kind.__name__ == "Discount"


def _is_list(names: Sequence[str], kind: Any = Job) -> bool:
    """Whether a job file has a list at these keys."""
    for name in names:
        found = [way for way in _ways(kind) if isinstance(way, type) and issubclass(way, BaseModel)]
        if not found or name not in found[0].model_fields:
            return False
        kind = found[0].model_fields[name].annotation
    return any(get_origin(way) is list for way in _ways(kind))


class Columns:
    """What each column's cells become."""

    def __init__(self, header: Sequence[str], separator: str) -> None:
        self.header = header
        self.keys = [name.split(".") for name in header]
        self.lists = [_is_list(keys) for keys in self.keys]
        self.numeric = [bool(NUMERIC.match(name)) for name in header]
        self.comma = separator != ","  # where commas do not part the cells they can be decimal marks
        self.own = [name in OWN or name == COUNT for name in header]

    def tables(self, cells: Sequence[str]) -> dict[str, Any]:
        """A row as the tables of a job file, what is blank left out."""
        tables: dict[str, Any] = {}
        for column, cell in enumerate(cells[: len(self.header)]):
            text = cell.strip()
            if text and self.header[column] != COUNT:
                here = tables
                for key in self.keys[column][:-1]:
                    below = here.setdefault(key, {})
                    if not isinstance(below, dict):  # "found.block" beside "found.block.solenoids": the marks say more
                        below = here[key] = {}
                    here = below
                if not isinstance(here.get(self.keys[column][-1]), dict):
                    here[self.keys[column][-1]] = self._value(column, text)
        return tables

    def _value(self, column: int, text: str) -> Any:
        if self.lists[column]:
            return [piece.strip() for piece in text.split("|") if piece.strip()]
        if self.numeric[column] and NUMBER.match(text) and (self.comma or "," not in text):
            return Decimal(text.replace(",", "."))
        return text

    def alike(self, cells: Sequence[str]) -> Hashable:
        """What of a row decides what its unit gets."""
        return tuple(cell for cell, own in zip(cells, self.own, strict=False) if not own)

    def of(self, place: str) -> str:
        """The column that a fault of a job speaks of: the one whose last keys are its words."""
        words = re.sub(r"\[\d+\]", "", place).split()
        for length in range(len(words), 0, -1):
            for name, keys in zip(self.header, self.keys, strict=True):
                if keys[-length:] == words[:length] or keys[:length] == words[:length] == words:
                    return f"column {name}"
        return place
