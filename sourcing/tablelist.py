"""A list of tables in a TOML text (`[[wanted]]`, `[[supplier.freight]]`) changed table by table, every other line left alone.

What a change comes to is for the caller to check: the text is edited as text, and may be written in a way that this does not know.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from difflib import SequenceMatcher
from typing import Any

from sourcing.faults import OurFault
from sourcing.tomltext import Way, dotted, literal

Row = Mapping[str, Any]
Span = tuple[int, int]
_HEAD = re.compile(r"^(\[\[?)\s*([A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*\]\]?\s*(#.*)?$")


def spans(text: str, way: Way) -> list[Span]:
    """Where each table of a list stands: its first line, and the one after its last that says something."""
    lines = text.splitlines()
    heads = [(number, *head) for number, line in enumerate(lines) if (head := _head_of(line))]
    starts = [number for number, named, listed in heads if listed and named == way]
    found: list[Span] = []
    for start in starts:
        after = [number for number, named, _ in heads
                 if number > start and (number in starts or named[: len(way)] != way)]  # fmt: skip
        end = min(after, default=len(lines))
        while end > start + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        found.append((start, end))
    return found


def _head_of(line: str) -> tuple[Way, bool] | None:
    """The table that a line opens, and whether it is one of a list."""
    head = _HEAD.match(line)
    return (tuple(part.strip() for part in head[2].split(".")), head[1] == "[[") if head else None


def with_rows(text: str, way: Way, rows: Sequence[Row] | None) -> str:
    """A text whose list at `way` says `rows`; None: the text says nothing of it.

    A table that is said as before stays as it was written; one that is changed keeps its place and its comments.
    """
    places, said = spans(text, way), _said(text, way)
    old = said if isinstance(said, list) else None
    if not places and rows and not old:
        cleared = text if said is None else _put(text, way, None)
        return _inserted(cleared, len(cleared.splitlines()), way, rows)
    if not places:
        return _put(text, way, None if rows is None else list(rows))
    if len(places) != len(old or ()):
        raise OurFault(f"the tables of {dotted(way)} were not found where they stand")
    before, after = [_told(row) for row in old or ()], [_told(row) for row in rows or ()]
    for kind, i, j, k, m in reversed(SequenceMatcher(None, before, after, autojunk=False).get_opcodes()):
        if kind == "equal":
            continue
        new = list(rows or ())[k:m]
        pairs = min(j - i, len(new))
        if new[pairs:]:
            at = places[i + pairs - 1][1] if i + pairs else places[0][0]
            text = _inserted(text, at, way, new[pairs:], above=not i + pairs)
        for number in reversed(range(i, j)):
            if number - i < pairs:
                text = _replaced(text, places[number], way, (old or [])[number], new[number - i])
            else:
                text = without_lines(text, places[number])
    return _put(text, way, []) if rows is not None and not rows else text


def without_lines(text: str, place: Span) -> str:
    """A text without some lines, and without the blank one above them where one is below them as well."""
    begin, end = place
    lines = text.splitlines(keepends=True)
    if begin and not lines[begin - 1].strip() and (end == len(lines) or not lines[end].strip()):
        begin -= 1
    return "".join([*lines[:begin], *lines[end:]])


def table_text(way: Way, row: Row, end: str = "\n") -> str:
    """A table of a list as a person writes it."""
    plain = [f"{dotted((key,))} = {literal(value)}" for key, value in row.items() if not _are_tables(value)]
    lists = [table_text((*way, key), one, end) for key, value in row.items() if _are_tables(value) for one in value]
    return end.join([f"[[{dotted(way)}]]", *plain, ""]) + "".join(end + one for one in lists)


def assigned(text: str, way: Way, changed: Row, under_heads: Collection[str] = ()) -> str:
    """The text of one table of a list with values changed in it; None takes a key out.

    Parameters
    ----------
    text : the table's own lines, its head first
    under_heads : keys whose tables stand under a head of their own where they are new
    """
    for key, value in changed.items():
        if _are_tables(value) or spans(text, (*way, key)):
            text = with_rows(text, (*way, key), value)
    rest = {key: value for key, value in changed.items() if not _are_tables(value) and not spans(text, (*way, key))}
    old = _said(text, way)[0]
    rest = {key: value for key, value in rest.items() if old.get(key) != value}
    heads = {key for key in rest if key in under_heads and key not in old and rest[key]}
    text = _by_library(text, way, {key: value for key, value in rest.items() if key not in heads})
    end = "\r\n" if "\r\n" in text else "\n"
    for key in heads:
        told = [f"[{dotted((*way, key))}]", *(f"{dotted((name,))} = {literal(one)}" for name, one in rest[key].items())]
        text = text.rstrip("\r\n") + end + end + end.join(told) + end
    return text


def _told(row: Row) -> str:
    return literal({key: row[key] for key in sorted(row)})


def _are_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _said(text: str, way: Way) -> Any:
    """What stands at a way, through the only table of each list above it; None where nothing does."""
    here: Any = tomllib.loads(text, parse_float=Decimal)
    for step in way:
        here = here[0] if isinstance(here, list) else here
        here = here.get(step) if isinstance(here, dict) else None
    return here


def _inserted(text: str, at: int, way: Way, rows: Sequence[Row], above: bool = False) -> str:
    lines = text.splitlines(keepends=True)
    end = "\r\n" if "\r\n" in text else "\n"
    while not above and 0 < at == len(lines) and not lines[-1].strip():
        lines.pop()
        at -= 1
    if at and not lines[at - 1].endswith("\n"):
        lines[at - 1] += end
    told = [table_text(way, row, end) for row in rows]
    made = [one + end for one in told] if above else [end + one if at else one for one in told]
    return "".join([*lines[:at], *made, *lines[at:]])


def _replaced(text: str, place: Span, way: Way, old: Row, new: Row) -> str:
    begin, end = place
    lines = text.splitlines(keepends=True)
    gone = {key: None for key in old if key not in new}
    told = {key: value for key, value in new.items() if old.get(key) != value}
    return "".join([*lines[:begin], _alone("".join(lines[begin:end]), way, {**gone, **told}), *lines[end:]])


def _alone(text: str, way: Way, changed: Row) -> str:
    made = assigned(text, way, changed)
    return made if made.endswith("\n") or not text.endswith("\n") else made + "\n"


def _put(text: str, way: Way, value: Any) -> str:
    """A key of the text's only table there set as one value, or taken out."""
    return _by_library(text, way[:-1], {way[-1]: value})


def _by_library(text: str, way: Way, changed: Row) -> str:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    if not changed:
        return text
    try:
        document = tomlkit.parse(text)
        table: Any = document
        for step in way:
            table = table[step]
            table = table[0] if isinstance(table, list) else table
        _assign(table, changed)
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, IndexError, TypeError, ValueError) as error:
        raise OurFault(f"the table cannot be changed so: {type(error).__name__}: {error}") from error


def _assign(table: Any, changed: Row) -> None:
    import tomlkit
    from tomlkit.items import Table

    for key, value in changed.items():
        if value is None:
            table.pop(key, None)
        elif isinstance(table.get(key), Table) and isinstance(value, Mapping):
            gone = {name: None for name in table[key] if name not in value}
            _assign(table[key], {**gone, **{n: one for n, one in value.items() if table[key].get(n) != one}})
        elif key in table:
            _keep_comment(table, key, tomlkit.value(literal(value)))
        else:
            table[key] = tomlkit.value(literal(value))


def _keep_comment(table: Any, key: str, value: Any) -> None:
    """A value in another one's place, with the comment that stood behind it."""
    old = table.item(key) if hasattr(table, "item") else table[key]
    trivia = getattr(old, "trivia", None)
    if trivia is not None and trivia.comment:
        value.trivia.comment_ws, value.trivia.comment = trivia.comment_ws, trivia.comment
    table[key] = value
