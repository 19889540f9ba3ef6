"""What a form asks: its fields, and the kind of entry that they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

Fields = dict[str, str | None]  # what a form of a job says, by the keys of its file
Options = tuple[tuple[str, str], ...]
CONDITIONS = (("new", "new"), ("reman", "rebuilt"), ("used", "used"))


class Said(Protocol):
    """A form as it came: `asked.Form`, or a mapping in a test."""

    def get(self, name: str, /) -> str: ...

    def all(self, name: str, /) -> list[str]: ...


@dataclass(frozen=True)
class Field:
    """One field of a form.

    kind: text, long (several lines), number, date, flag, list (texts between commas), readings (numbers or texts between commas),
    years, days, lines (a text a line), pick (one of `options`), ticks (some of them), pairs (a line for each key:
    `key = value, value`), headers (a line for each column: `price = Net price`), rows (a line for each row: values between
    commas), marks, table (rows of `columns`), named (the same where the first column names the row), group (`columns` once).
    `default` is what holds where the file says nothing; `blank` is what a pick says where nothing is picked, `least` for how
    many rows a table has room; `spare`: rows can be added to it. A `broad` cell of a row takes the room of two.
    """

    key: str
    label: str
    kind: str = "text"
    hint: str = ""
    options: Options = ()
    default: Any = None
    needed: bool = False
    mode: str = ""
    columns: tuple[Field, ...] = ()
    blank: str = "choose"
    least: int = 2
    one: str = "Row"
    broad: bool = False
    spare: bool = True

    @property
    def name(self) -> str:
        """What it is called in a form that is sent."""
        return self.key.replace(".", "-")


@dataclass(frozen=True)
class Kind:
    """A kind of entry: its list in the file, and how it is called.

    `alone`: there is one of it, which is neither added nor taken out; `fixed`: there are several, entered elsewhere.
    """

    name: str
    one: str
    many: str
    says: str
    alone: bool = False
    fixed: bool = False


def options_of(named: Mapping[str, Any]) -> Options:
    """Codes with their names, to choose from."""
    return tuple((code, one.name) for code, one in named.items())
