"""What a job's file says, line by line, and a job's text changed so that it says something else.

A line is a dotted key and a value as TOML writes it (`limits.keep` and `["plate", "body"]`). A change is a line with another
value, or with None where it goes. Every other line of a text stays as it was written, and no comment is lost.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from sourcing.faults import OurFault
from sourcing.tablelist import with_rows
from sourcing.tomltext import Way, dotted, literal, with_comments

if TYPE_CHECKING:
    from tomlkit.container import Container
    from tomlkit.items import Item

Lines = Mapping[str, str]
Edits = Mapping[str, str | None]


def lines_of(tables: Mapping[str, Any], above: Way = ()) -> Iterator[tuple[str, str]]:
    """Plain values as lines; a list is one value, and so is an empty table below the first level.

    >>> from decimal import Decimal
    >>> dict(lines_of({"job": {"number": "1"}, "found": {"plate": {"tracks": 6}}, "labour": {"base_hours": Decimal("13.5")}}))
    {'job.number': '"1"', 'found.plate.tracks': '6', 'labour.base_hours': '13.5'}
    """
    for key, value in tables.items():
        way = (*above, key)
        if isinstance(value, dict) and (value or not above):
            yield from lines_of(value, way)
        else:
            yield dotted(way), literal(value)


def difference(before: Lines, after: Lines) -> dict[str, str | None]:
    """The changes that make `after` of `before`."""
    gone: dict[str, str | None] = {key: None for key in before if key not in after}
    return gone | {key: value for key, value in after.items() if before.get(key) != value}


def clashing(mine: Edits, theirs: Edits) -> list[str]:
    """Keys of `mine` that say something else of the same place, or of one within or around it, than `theirs`."""

    def within(one: str, other: str) -> bool:
        return one == other or one.startswith(other + ".")

    return [
        key
        for key, value in mine.items()
        if any(
            (within(key, other) or within(other, key)) and (key, value) != (other, theirs[other]) for other in theirs
        )
    ]


def text_of(lines: Lines) -> str:
    """Lines as one text, the form in which a page carries them. `lines_in` reads it again."""
    return "\n".join(f"{key} = {value}" for key, value in lines.items())


def lines_in(text: str) -> dict[str, str]:
    """Lines out of such a text. Raises ValueError where it is none."""
    return dict(lines_of(tomllib.loads(text, parse_float=Decimal)))


# -- changing a text --


def changed(text: str, edits: Edits) -> str:
    """A job's text with changes made in it; every other line stays as it was written, and no comment is lost.

    A comment that stood on or within what goes is put at the end of the text.
    """
    before = dict(lines_of(tomllib.loads(text, parse_float=Decimal)))
    expected = laid_over(before, edits)
    lists = {key: value for key, value in edits.items() if _is_list(value) or _is_list(before.get(key))}
    rest = {key: value for key, value in edits.items() if key not in lists}
    listed = _with_lists(text, lists)
    stands = dict(lines_of(tomllib.loads(listed, parse_float=Decimal))) if lists else before
    for by in (_line_by_line, _by_tables):
        made = with_comments(text, by(listed, stands, rest) if rest else listed)
        if _says(made, expected):
            return made
    raise OurFault("the job's file, changed, does not say what was asked")


def _is_list(value: str | None) -> bool:
    """Whether a line says a list of tables, such as [[wanted]]."""
    return value is not None and re.match(r"\[\s*\{", value) is not None


def _with_lists(text: str, edits: Edits) -> str:
    for key, value in edits.items():
        text = with_rows(text, _way(key), None if value is None else _value(value))
    return text


def laid_over(lines: Lines, edits: Edits) -> dict[str, str]:
    """Lines with changes made in them."""
    kept = {key: value for key, value in lines.items() if edits.get(key, value) is not None}
    return kept | {key: value for key, value in edits.items() if value is not None}


def _says(text: str, expected: Lines) -> bool:
    try:
        found = dict(lines_of(tomllib.loads(text, parse_float=Decimal)))
    except tomllib.TOMLDecodeError:
        return False
    return found.keys() == expected.keys() and all(_same(found[key], expected[key]) for key in found)


def _same(one: str, other: str) -> bool:
    """Whether two lines say the same: the keys of a table in a list stand in any order."""
    return one == other or (_is_list(one) and _value(one) == _value(other))


def _value(line: str) -> Any:
    return tomllib.loads(f"x = {line}", parse_float=Decimal)["x"]


def _line_by_line(text: str, before: Lines, edits: Edits) -> str:
    """What is new in a table stands below its last line that says something: what follows may be a comment on what comes next."""
    new = {key: value for key, value in edits.items() if value is not None and key not in before}
    rest = {key: value for key, value in edits.items() if key not in new}
    lines = _by_tables(text, before, rest).split("\n")
    left: dict[str, str | None] = {}
    for way, told in _lines_by_table(new, before).items():
        head = next((at for at, line in enumerate(lines) if _head_of(line) == way), None)
        if head is None:
            left |= {key: value for key, value in new.items() if _table_of(_way(key), before) == way}
            continue
        end = next((at for at in range(head + 1, len(lines)) if _head_of(lines[at]) is not None), len(lines))
        says = [at for at in range(head, end) if lines[at].strip() and not lines[at].lstrip().startswith("#")]
        tail = "\r" if lines[head].endswith("\r") else ""
        if says[-1] == len(lines) - 1:
            lines.append("")
            lines[says[-1]] = lines[says[-1]].rstrip("\r") + tail
        lines[says[-1] + 1 : says[-1] + 1] = [line + tail for line in told]
    return _by_tables("\n".join(lines), before, left)


def _lines_by_table(new: Lines, before: Lines) -> dict[Way, list[str]]:
    """New keys as they are written in their tables, the marks of a part in one line."""
    told: dict[Way, list[str]] = {}
    marks: dict[Way, list[str]] = {}
    for key, value in new.items():
        way = _way(key)
        table = _table_of(way, before)
        if len(table) < len(way) - 1:
            marks.setdefault(way[:-1], []).append(f"{dotted(way[-1:])} = {value}")
        else:
            told.setdefault(table, []).append(f"{dotted(way[-1:])} = {value}")
    for way, listed in marks.items():
        told.setdefault(way[:-1], []).append(f"{dotted(way[-1:])} = {{{', '.join(listed)}}}")
    return told


def _table_of(way: Way, before: Lines) -> Way:
    """The table that a new key is written in: marks stand in a line of [found], unless the part has a table of its own."""
    own = dotted(way[:-1])
    is_a_mark = len(way) == 3 and way[1] != "facts" and not any(key.startswith(f"{own}.") for key in before)
    return way[:-2] if is_a_mark else way[:-1]


def _head_of(line: str) -> Way | None:
    """The table that a line opens; None where it opens none."""
    found = re.fullmatch(r"\s*\[+\s*([^\[\]#]+?)\s*\]+\s*(#.*)?", line)
    if found is None:
        return None
    try:
        return _way(found[1])
    except (tomllib.TOMLDecodeError, ValueError):
        return None


def _by_tables(text: str, before: Lines, edits: Edits) -> str:
    """Changes made by the library that keeps a file's style; what is new stands at the end of its table."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for key, value in edits.items():
            if value is None:
                _take_out(document, _way(key))
        for key, value in edits.items():
            if value is not None:
                _put_in(document, _way(key), tomlkit.value(value))
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, TypeError, ValueError) as error:
        raise OurFault(f"the job's file cannot be changed so: {type(error).__name__}: {error}") from error


def _way(key: str) -> Way:
    """A dotted key taken apart."""
    table: Any = tomllib.loads(f"{key} = 0")
    way: list[str] = []
    while isinstance(table, dict):
        ((name, table),) = table.items()
        way.append(name)
    return tuple(way)


def _take_out(table: Any, way: Way, depth: int = 0) -> None:
    """Take a value out, and with it the tables that it leaves empty below the first level."""
    key, *rest = way
    if rest:
        _take_out(table[key], tuple(rest), depth + 1)
        if table[key] or not depth:
            return
    del table[key]


def _put_in(table: Container | Any, way: Way, value: Item) -> None:
    import tomlkit

    key, *rest = way
    if not rest:
        table[key] = value
        return
    if not isinstance(table.get(key), dict):
        in_a_line = _is_inline(table) or (len(rest) == 1 and _nests(key, table))
        table[key] = tomlkit.inline_table() if in_a_line else tomlkit.table()
    _put_in(table[key], tuple(rest), value)


def _is_inline(table: Any) -> bool:
    from tomlkit.items import InlineTable

    return isinstance(table, InlineTable)


def _nests(key: str, table: Any) -> bool:
    """Whether a new table stands within another: the marks of a part do, in one line."""
    from tomlkit.toml_document import TOMLDocument

    return not isinstance(table, TOMLDocument) and key != "facts"


def new_text(lines: Lines, heading: str = "") -> str:
    """Lines as a job's text, in tables as a person writes them."""
    tables: dict[Way, list[str]] = {}
    marks: dict[Way, list[str]] = {}
    for key, value in lines.items():
        way = _way(key)
        if len(way) == 3 and way[1] != "facts":
            marks.setdefault(way[:2], []).append(f"{dotted(way[2:])} = {value}")
        else:
            tables.setdefault(way[:-1], []).append(f"{dotted(way[-1:])} = {value}")
    for way, told in marks.items():
        tables.setdefault(way[:1], []).append(f"{dotted(way[1:])} = {{{', '.join(told)}}}")
    parts = [f"# {line}" for line in heading.splitlines() if line]
    for way in sorted(tables, key=lambda way: (_ORDER.index(way[0]) if way[0] in _ORDER else len(_ORDER), way)):
        parts += ["", f"[{dotted(way)}]", *tables[way]] if parts else [f"[{dotted(way)}]", *tables[way]]
    return "\n".join(parts) + "\n"


_ORDER = ("job", "vehicle", "unit", "found", "readings", "limits", "labour", "in_hand", "quote")
