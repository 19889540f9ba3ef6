"""How a field shows a value of a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sourcing.page.fields import Field


def shown_in(field: Field, value: Any) -> Any:
    """A value as its field shows it: a text; for ticks a list, for a flag a bool, for a table its rows, for a group its cells."""
    if value is None or not is_of(field, value):
        value = field.default
    match field.kind:
        case "flag":
            return bool(value)
        case "ticks":
            return [str(one) for one in value or []]
        case "marks":
            return {key: str(one) for key, one in (value or {}).items()}
        case "table":
            return [_cells(field, row) for row in value or []]
        case "named":
            first, second = (cell.key for cell in field.columns)
            return [_cells(field, {first: key, second: one}) for key, one in (value or {}).items()]
        case "group":
            return _cells(field, value or {})
        case kind if kind in _AS_TEXT:
            return _AS_TEXT[kind](value or ())
        case _:
            return "" if value is None else str(value)


def is_of(field: Field, value: Any) -> bool:
    """Whether a value is of the sort that a field of this kind can show: a file may say anything."""
    if field.kind in _OF_KEYS:
        return isinstance(value, Mapping)
    if field.kind == "table":
        return isinstance(value, list) and all(isinstance(row, Mapping) for row in value)
    return isinstance(value, list) if field.kind in _OF_MANY else True


def told_in(field: Field, value: Any) -> str:
    """A value in one line, to be told of."""
    if value is None:
        return "not said"
    match shown_in(field, value):
        case str() as text:
            return text
        case bool() as ticked:
            return "yes" if ticked else "no"
        case dict() as cells:
            return ", ".join(f"{key}: {one}" for key, one in cells.items() if one)
        case [*rows]:
            told = [
                ", ".join(one for one in row.values() if one) if isinstance(row, dict) else str(row) for row in rows
            ]
            return ("; " if rows and isinstance(rows[0], dict) else ", ").join(told)
    return str(value)


def _cells(field: Field, row: Mapping[str, Any]) -> dict[str, Any]:
    return {cell.key: shown_in(cell, row.get(cell.key)) for cell in field.columns}


def _pairs(value: Mapping[str, Any]) -> str:
    return "\n".join(f"{key} = {', '.join(map(str, told))}" for key, told in dict(value).items())


def _headers(value: Mapping[str, Any]) -> str:
    """A header that stands in several lines of its cell is told in one."""
    lines = (f"{key.replace('_', ' ')} = {' '.join(str(told).split())}" for key, told in dict(value).items())
    return "\n".join(line.rstrip() for line in lines)


def _rows(value: Any) -> str:
    told = isinstance(value, Mapping) and {"positions", "rows"} <= value.keys()
    lines = [value["positions"], *value["rows"]] if told else []
    return "\n".join(", ".join(map(str, line)) for line in lines)


def _years(years: Sequence[Any]) -> str:
    told: list[str] = []
    run: list[int] = []
    for year in [*years, None]:
        if run and year == run[-1] + 1:
            run.append(year)
            continue
        if run:
            told.append(str(run[0]) if len(run) < 3 else f"{run[0]}-{run[-1]}")
            told += [str(run[1])] if len(run) == 2 else []
        run = [year] if isinstance(year, int) else []
        if year is not None and not run:
            told.append(str(year))
    return ", ".join(told)


def _between_commas(value: Sequence[Any]) -> str:
    return ", ".join(map(str, value))


_OF_KEYS = ("marks", "named", "group", "pairs", "headers", "rows")
_OF_MANY = ("ticks", "list", "readings", "days", "lines", "years")
_AS_TEXT: Mapping[str, Callable[[Any], str]] = {
    "list": _between_commas,
    "readings": _between_commas,
    "days": _between_commas,
    "lines": lambda value: "\n".join(map(str, value)),
    "years": _years,
    "pairs": _pairs,
    "headers": _headers,
    "rows": _rows,
}
