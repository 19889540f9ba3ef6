"""A layout written into suppliers.toml, every other line of the file left as the shop wrote it.

The file is edited as text, and the result is parsed before it is used: it must say exactly what it said before and the
new declarations, or nothing is written.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date
from typing import Any

Values = Mapping[str, str | int]
_TABLE = re.compile(r"^\s*\[\s*([^\[\]]+?)\s*\]")
_TABLES = re.compile(r"^\s*\[\[\s*([^\[\]]+?)\s*\]\]")
_VALUE = r"""(\s*=\s*)("(?:[^"\\]|\\.)*"|'[^']*'|[^\s#]+)"""


class NotWritten(Exception):
    """suppliers.toml is written in a way that we do not change; carries the lines to write by hand."""


@dataclass(frozen=True, slots=True)
class Declaration:
    """What is to be declared of a supplier's layout.

    `columns` and `sheet` are set in [supplier.columns] and [supplier.sheet]; `earlier` are layouts that held until a day, each
    added as [[supplier.earlier]].
    """

    columns: Values = field(default_factory=dict)
    sheet: Values = field(default_factory=dict)
    earlier: tuple[tuple[date, Values, Values], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.columns or self.sheet or self.earlier)

    def lines(self) -> list[str]:
        """The declaration as it is written."""
        now = [*_table("supplier.columns", self.columns), *_table("supplier.sheet", self.sheet)]
        return [*now, *(line for period in self.earlier for line in _earlier(*period))]


def declared(text: str, supplier: str, new: Declaration) -> str:
    """suppliers.toml with a supplier's layout declared.

    Raises NotWritten where the file is valid, but is written in a way that this cannot change safely.
    """
    before = tomllib.loads(text.lstrip("\ufeff"))
    number = next((at for at, table in enumerate(before.get("supplier", [])) if table.get("code") == supplier), None)
    lines = text.split("\n")  # a carriage return stays at the end of its own line
    end = "\r" if "\r\n" in text else ""
    if number is not None and len(_heads(lines)) > number:
        for name, values in (("columns", new.columns), ("sheet", new.sheet)):
            lines = _set(lines, number, name, values, end)
        for period in new.earlier:
            lines = _added(lines, _block(lines, number), ["", *_earlier(*period)], end)
    result = "\n".join(lines)
    if number is None or not _says(result, _expected(before, number, new)):
        raise NotWritten("\n".join(new.lines()))
    return result


def _says(text: str, expected: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text.lstrip("\ufeff")) == expected
    except tomllib.TOMLDecodeError:
        return False


def _expected(before: dict[str, Any], number: int, new: Declaration) -> dict[str, Any]:
    after = deepcopy(before)
    table = after["supplier"][number]
    for name, values in (("columns", new.columns), ("sheet", new.sheet)):
        if values:
            table.setdefault(name, {}).update(values)
    for day, columns, sheet in new.earlier:
        period = (
            {"until": day} | ({"columns": dict(columns)} if columns else {}) | ({"sheet": dict(sheet)} if sheet else {})
        )
        table.setdefault("earlier", []).append(period)
    return after


def _heads(lines: Sequence[str]) -> list[int]:
    return [at for at, line in enumerate(lines) if (found := _TABLES.match(line)) and found[1] == "supplier"]


def _block(lines: Sequence[str], number: int) -> range:
    """The lines of the [[supplier]] of a number, from its head to the next one's."""
    start = _heads(lines)[number]
    for at in range(start + 1, len(lines)):
        named = _TABLES.match(lines[at]) or _TABLE.match(lines[at])
        if named and not named[1].startswith("supplier."):
            return range(start, at)
    return range(start, len(lines))


def _set(lines: list[str], number: int, name: str, values: Values, end: str) -> list[str]:
    """Keys of a supplier's table `name` set: each in its own line, where it has one, or below the table's last."""
    if not values:
        return lines
    block = _block(lines, number)
    heads = [at for at in block if (found := _TABLE.match(lines[at])) and found[1] == f"supplier.{name}"]
    if not heads:
        return _added(lines, block, ["", *_table(f"supplier.{name}", values)], end)
    section = _section(lines, range(heads[0], block.stop))
    new = []
    for key, value in values.items():
        own = re.compile(rf"""^(\s*(?:{re.escape(key)}|"{re.escape(key)}")){_VALUE}""")
        at = next((at for at in section if own.match(lines[at])), None)
        if at is None:
            new.append(f"{_key(key)} = {_value(value)}")
        else:
            told = _value(value)
            lines[at] = own.sub(lambda found, told=told: f"{found[1]}{found[2]}{told}", lines[at])  # type: ignore[misc]
    return _added(lines, section, new, end)


def _section(lines: Sequence[str], rest: range) -> range:
    """The lines of one table, from its head to the next head."""
    end = next((at for at in rest[1:] if _TABLE.match(lines[at]) or _TABLES.match(lines[at])), rest.stop)
    return range(rest.start, end)


def _added(lines: list[str], place: range, new: list[str], end: str) -> list[str]:
    """Lines added below the last one of a place that says something: what follows it may be a comment on what comes next."""
    says = [at for at in place if lines[at].strip() and not lines[at].lstrip().startswith("#")]
    if not new:
        return lines
    above, below = lines[: says[-1] + 1], lines[says[-1] + 1 :]
    if not below:  # the file's last line, without a line's end
        above[-1] += end
        return [*above, *(line + end for line in new[:-1]), *new[-1:]]
    return [*above, *(line + end for line in new), *below]


def _table(name: str, values: Values) -> list[str]:
    return [f"[{name}]", *(f"{_key(key)} = {_value(value)}" for key, value in values.items())] if values else []


def _earlier(day: date, columns: Values, sheet: Values) -> Iterator[str]:
    yield "[[supplier.earlier]]"
    yield f"until = {day.isoformat()}"
    yield from _table("supplier.earlier.columns", columns)
    yield from _table("supplier.earlier.sheet", sheet)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _value(value: str | int) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
