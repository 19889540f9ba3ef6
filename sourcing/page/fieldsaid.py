"""What a form says of a field, as the value that the file gets.

Whether a value will do is for the file's own model to say: a text that is no number is passed on as a text, and comes back as a
fault with its place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from sourcing.book.family import Family
from sourcing.page.fields import Field, Said
from sourcing.page.fieldshown import is_of, shown_in
from sourcing.prices.layout import is_field

_ALIKE = ("number", "list", "readings", "days", "lines", "headers", "table", "named", "group", "date")


def value_in(field: Field, said: Said, family: Family | None = None) -> Any:
    """What a form says of a field; None where it says nothing, or what holds anyway."""
    match field.kind:
        case "flag":
            ticked = bool(said.get(field.name))
            return None if ticked == field.default else ticked
        case "ticks":
            chosen = [code for code, _ in field.options if code in said.all(field.name)]
            return None if chosen == (field.default or []) else chosen
        case "marks":
            return _marks(said, family) or None
        case "table":
            return _table(field, said) or None
        case "named":
            first, second = field.columns
            rows = [(str(row.get(first.key, "")), row.get(second.key, "")) for row in _table(field, said)]
            return _each_once(rows) or None
        case "group":
            return _row(field, said) or None
        case "number":
            number = number_in(said.get(field.name))
            return None if field.default is not None and number == field.default else number
        case kind if kind in _OF_TEXT:
            return _OF_TEXT[kind](said.get(field.name).replace("\r\n", "\n"))
        case _:
            told = "\n".join(line.strip() for line in said.get(field.name).replace("\r\n", "\n").split("\n"))
            return told if told and told != field.default else None


def kept_as_it_is(field: Field, old: Any, new: Any) -> bool:
    """Whether a form leaves a value as the file has it: what the file says without need stays said."""
    if new is None:
        return old in (None, "", [], {}) or bool(old == field.default) or not is_of(field, old)
    if field.kind in _ALIKE and old is not None and not (field.kind in ("number", "list") and isinstance(old, dict)):
        return bool(shown_in(field, old) == shown_in(field, new))
    return bool(old == new)


def beside(field: Field, old: Any, new: Any) -> Any:
    """What a form says of a field, written as the file has it wherever that is the same: cell by cell in a table."""
    match field.kind:
        case "table" if isinstance(old, list) and isinstance(new, list):
            told = [_row_told(field, row) for row in old]
            return [_beside_row(field, old, told, at, row) for at, row in enumerate(new)]
        case "group" | "named" | "headers" if isinstance(old, dict) and isinstance(new, dict):
            cells = {cell.key: cell for cell in field.columns} if field.kind == "group" else {}
            return {
                key: old[key] if key in old and _same(cells.get(key), old[key], value) else value
                for key, value in new.items()
            } | _unsaid(cells, old, new)
    return new


def _beside_row(field: Field, old: list[Any], told: list[Any], at: int, row: dict[str, Any]) -> Any:
    mine = _row_told(field, row)
    if mine in told:
        return old[told.index(mine)]
    if at >= len(old):
        return row
    cells = replace(field, kind="group")
    return beside(cells, old[at], row)


def _unsaid(cells: Mapping[str, Field], old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """What the file says without need, and the form does not."""
    return {key: old[key] for key, cell in cells.items() if key in old and key not in new and old[key] == cell.default}


def _row_told(field: Field, row: Any) -> Any:
    return {cell.key: shown_in(cell, row.get(cell.key)) for cell in field.columns} if isinstance(row, dict) else row


def _same(cell: Field | None, old: Any, new: Any) -> bool:
    return str(old) == str(new) if cell is None else kept_as_it_is(cell, old, new)


# -- rows --


def _table(field: Field, said: Said) -> list[dict[str, Any]]:
    told = said.get(f"{field.name}-rows")
    count = int(told) if re.fullmatch(r"\d{1,4}", told) else 0
    kept = (number for number in range(count) if not said.get(f"{field.name}-out-{number}"))
    rows = (_row(field, said, f"-{number}") for number in kept)
    return [row for row in rows if row]


def _row(field: Field, said: Said, number: str = "") -> dict[str, Any]:
    cells = {cell.key: value_in(replace(cell, key=f"{field.name}-{cell.key}{number}"), said) for cell in field.columns}
    return {key: value for key, value in cells.items() if value is not None}


# -- texts --


def number_in(said: str) -> Any:
    """A number as such; anything else as a text, for the model to speak of.

    >>> number_in("12"), number_in("0.50"), number_in("3/41"), number_in("")
    (12, Decimal('0.50'), '3/41', None)
    """
    if re.fullmatch(r"0|[1-9]\d{0,14}", said):
        return int(said)
    return Decimal(said) if re.fullmatch(r"\d{1,12}\.\d{1,9}", said) else said or None


def reading_in(said: str) -> Any:
    """A reading: a number, below zero too, or a word.

    >>> reading_in("-0.5"), reading_in("12"), reading_in("tight"), reading_in("")
    (Decimal('-0.5'), 12, 'tight', None)
    """
    number = number_in(said.removeprefix("-"))
    if isinstance(number, str) or number is None:
        return said or None
    return -number if said.startswith("-") else number


def years_in(said: str) -> Any:
    """Model years, stretches of them taken apart; what is none stays a text.

    >>> years_in("1998-2000, 2003"), years_in("soon")
    ([1998, 1999, 2000, 2003], ['soon'])
    """
    found: list[Any] = []
    for part in texts_in(said):
        span = re.fullmatch(r"(\d{4})\s*-\s*(\d{4})", part)
        if span and 0 <= int(span[2]) - int(span[1]) < 200:
            found += range(int(span[1]), int(span[2]) + 1)
        else:
            found.append(int(part) if re.fullmatch(r"\d{1,9}", part) else part)
    return found or None


def day_in(said: str) -> Any:
    """A day; what is none stays a text.

    >>> day_in("2026-05-25"), day_in("May")
    (datetime.date(2026, 5, 25), 'May')
    """
    try:
        return date.fromisoformat(said) if re.fullmatch(r"\d{4}-\d{2}-\d{2}", said) else said or None
    except ValueError:
        return said


def pairs_in(said: str) -> Any:
    """Lines of `key = value, value`; a line that is none stands as a key without values.

    >>> pairs_in("plate = plate-3, plate-4")
    {'plate': ['plate-3', 'plate-4']}
    """
    lines = [line.partition("=") for line in said.replace("\r\n", "\n").split("\n")]
    return _each_once([(key.strip(), texts_in(values)) for key, _, values in lines if key.strip()]) or None


def headers_in(said: str) -> Any:
    """Lines of `column = header`, the column in the words of a person; without a header the sheets have no such column.

    >>> headers_in("Part number = Artikelnummer\\n10+ = ab 10\\nstock =")
    {'part_number': 'Artikelnummer', '10+': 'ab 10', 'stock': ''}
    """
    found = []
    for line in said.split("\n"):
        column, _, header = (part.strip() for part in line.partition("="))
        spelt = "_".join(re.split(r"[\s_-]+", column.casefold()))
        if column:
            found.append((spelt if is_field(spelt) else column, header))
    return _each_once(found) or None


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Values by key. A key that is said again stands there as one that nobody knows: the file's model speaks of it.

    >>> _each_once([("EUR", 1), ("EUR", 2)])
    {'EUR': 1, 'EUR twice': 2}
    """
    found: dict[str, Any] = {}
    for key, value in pairs:
        while key in found:
            key += " twice"
        found[key] = value
    return found


def rows_in(said: str) -> Any:
    """The first line as positions, each further one as a row.

    >>> rows_in("block, plate\\nblock-a, plate-1")
    {'positions': ['block', 'plate'], 'rows': [['block-a', 'plate-1']]}
    """
    lines = [texts_in(line) for line in said.replace("\r\n", "\n").split("\n") if line.strip()]
    return {"positions": lines[0], "rows": lines[1:]} if lines else None


def texts_in(said: str) -> list[str]:
    """Texts between commas."""
    return [part.strip() for part in said.split(",") if part.strip()]


_OF_TEXT: Mapping[str, Callable[[str], Any]] = {
    "list": lambda said: texts_in(said) or None,
    "readings": lambda said: [reading_in(one) for one in texts_in(said)] or None,
    "years": years_in,
    "days": lambda said: [day_in(one) for one in re.split(r"[,;\s]+", said) if one] or None,
    "date": day_in,
    "lines": lambda said: [line.strip() for line in said.split("\n") if line.strip()] or None,
    "pairs": pairs_in,
    "headers": headers_in,
    "rows": rows_in,
}


def _marks(said: Said, family: Family | None) -> dict[str, Any]:
    """The marks of the chosen position, each as the book writes it."""
    found: dict[str, Any] = {}
    for mark in family.marks if family else ():
        value = said.get(f"mark-{mark.code}")
        if value and mark.position == said.get("position"):
            listed = next((one for one in mark.values or () if str(one) == value), None)
            found[mark.code] = (
                listed if listed is not None else int(value) if re.fullmatch(r"-?\d{1,15}", value) else value
            )
    return found
