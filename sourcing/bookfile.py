"""The files of a shop's book changed entry by entry: every other line left alone, and nobody's change lost in silence.

An entry is a table of a list (`[[era]]`, `[[design]]`, `[[supplier]]`), known by its code; or a row of parts.csv, known by
supplier and number.
"""

from __future__ import annotations

import csv
import io
import shutil
import tomllib
from collections.abc import Callable, Collection, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from sourcing.faults import BadInput, ChangedSince, OurFault, shown
from sourcing.prices.placing import alone_in, settle_folder, written_beside
from sourcing.reading import read_text
from sourcing.tablelist import assigned, spans, table_text, without_lines
from sourcing.tomltext import with_comments

Entry = Mapping[str, Any]
Change = Callable[[str], str]


# -- tables of a list --


def entries(text: str, kind: str) -> list[dict[str, Any]]:
    """The entries of a kind, as plain values; numbers are decimals."""
    found = tomllib.loads(text, parse_float=Decimal).get(kind, [])
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def entry_of(text: str, kind: str, code: str) -> dict[str, Any] | None:
    """The entry of a code; None where there is none."""
    return next((one for one in entries(text, kind) if one.get("code") == code), None)


def with_entry(
    text: str, kind: str, code: str | None, values: Mapping[str, Any], under_heads: Collection[str] = ()
) -> str:
    """A text with an entry changed, or with a new one where `code` is None.

    Parameters
    ----------
    values : by key; None takes the key out, a key that is not named stays as it is
    under_heads : keys whose tables stand under a head of their own ([supplier.columns]) where they are new
    """
    listed = entries(text, kind)
    if code is None:
        new = {key: value for key, value in values.items() if value is not None}
        return _checked(text, _added(text, kind, new), kind, [*listed, new])
    at = next(number for number, one in enumerate(listed) if one.get("code") == code)
    old = listed[at]
    changed = {key: value for key, value in values.items() if old.get(key) != value}
    kept = {key: value for key, value in old.items() if key not in changed}
    wanted = kept | {key: value for key, value in changed.items() if value is not None}
    if wanted == old:
        return text
    return _checked(
        text, _changed(text, kind, at, changed, under_heads), kind, [*listed[:at], wanted, *listed[at + 1 :]]
    )


def without_entry(text: str, kind: str, code: str) -> str:
    """A text without an entry; its comments are put at the end."""
    listed = entries(text, kind)
    at = next(number for number, one in enumerate(listed) if one.get("code") == code)
    made = without_lines(text, spans(text, (kind,))[at])
    return _checked(text, made, kind, [*listed[:at], *listed[at + 1 :]])


def _added(text: str, kind: str, new: Entry) -> str:
    """A text with a new entry behind the last one of its kind, or at the end."""
    lines = text.splitlines(keepends=True)
    blocks = spans(text, (kind,))
    at = blocks[-1][1] if blocks else len(lines)
    end = "\r\n" if "\r\n" in text else "\n"
    if lines and not lines[at - 1].endswith("\n"):
        lines[at - 1] += end
    return "".join([*lines[:at], end, table_text((kind,), new, end), *lines[at:]])


def _changed(text: str, kind: str, at: int, changed: Mapping[str, Any], under_heads: Collection[str]) -> str:
    lines = text.splitlines(keepends=True)
    begin, end = spans(text, (kind,))[at]
    own = assigned("".join(lines[begin:end]), (kind,), changed, under_heads)
    return "".join([*lines[:begin], own, *lines[end:]])


def _checked(before: str, after: str, kind: str, listed: Sequence[Entry]) -> str:
    """The text, where it says what it is to say and nothing else has changed; comments that it lost at its end."""
    after = with_comments(before, after)
    wanted = tomllib.loads(before, parse_float=Decimal)
    wanted[kind] = list(listed)
    found = tomllib.loads(after, parse_float=Decimal)
    found.setdefault(kind, [])
    if found != wanted:
        raise OurFault("the file, changed, does not say what was asked")
    return after


# -- rows of parts.csv --


def rows(text: str) -> list[dict[str, str]]:
    """The rows of a CSV text with a header, each by its columns; blank ones left out."""
    return [row for _, _, row in _lines(text)]


def _lines(text: str) -> list[tuple[int, int, dict[str, str]]]:
    """Each row with the lines that it takes."""
    reader = csv.reader(io.StringIO(text))
    found, header, before = [], None, 0
    for cells in reader:
        begin, before = before, reader.line_num
        if header is None:
            header = [cell.strip() for cell in cells]
        elif any(cell.strip() for cell in cells):
            named = {name: cell.strip() for name, cell in zip(header, cells, strict=False)}
            found.append((begin, reader.line_num, named))
    return found


def row_of(text: str, key: tuple[str, str]) -> dict[str, str] | None:
    """The row of a supplier's number, as it is spelt; None where there is none."""
    return next((row for row in rows(text) if (row.get("supplier"), row.get("part_number")) == key), None)


def with_row(text: str, key: tuple[str, str] | None, values: Mapping[str, str], columns: Sequence[str]) -> str:
    """A CSV text with a row changed, or added where `key` is None; a column that it lacks is added where it is needed."""
    header = [cell.strip() for cell in next(csv.reader(io.StringIO(text)), [])]
    if not header:
        header, text = list(columns), ",".join(columns) + "\n"
    missing = [name for name in columns if values.get(name) and name not in header]
    if missing:
        return with_row(_widened(text, header, missing), key, values, columns)
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    if lines and not lines[-1].endswith("\n"):
        lines[-1] += end
    places = [
        (begin, stop)
        for begin, stop, row in _lines(text)
        if key and (row.get("supplier"), row.get("part_number")) == key
    ]
    old = row_of(text, key) if key else {}
    line = _written([{**(old or {}), **values}.get(name, "") for name in header], end)
    begin, stop = places[0] if places else (len(lines), len(lines))
    return "".join([*lines[:begin], line, *lines[stop:]])


def without_row(text: str, key: tuple[str, str]) -> str:
    """A CSV text without a row."""
    lines = text.splitlines(keepends=True)
    for begin, stop, row in _lines(text):
        if (row.get("supplier"), row.get("part_number")) == key:
            return "".join([*lines[:begin], *lines[stop:]])
    return text


def _widened(text: str, header: Sequence[str], missing: Sequence[str]) -> str:
    end = "\r\n" if "\r\n" in text else "\n"
    names = [*header, *missing]
    told = [_written([row.get(name, "") for name in names], end) for row in rows(text)]
    return "".join([_written(names, end), *told])


def _written(cells: Sequence[str], end: str) -> str:
    made = io.StringIO()
    csv.writer(made, lineterminator=end).writerow(cells)
    return made.getvalue()


# -- saved --


def save(
    catalogs: Path,
    path: Path,
    change: Change,
    check: Callable[[str], object],
    standing: Callable[[str], object],
    opened: object,
) -> None:
    """Change a file in one step; alone in the shop's files while it does.

    Parameters
    ----------
    check : raises BadInput where a text will not do; asked before anything is written
    standing : the entry that is changed, as it stands in a text; `opened` is what it said when the form was opened

    Raises
    ------
    BadInput
        from `check`; ChangedSince where somebody changed the entry meanwhile; nothing is written then
    """
    record = catalogs / "price-sheets"
    record.mkdir(parents=True, exist_ok=True)
    with alone_in(record):
        text = read_text(path)
        if standing(text) != opened:
            raise BadInput([ChangedSince(file=shown(path))])
        made = change(text)
        check(made)
        if made == text:
            return
        temporary = written_beside(path, made.encode("utf-8"))
        try:
            shutil.copymode(path, temporary)
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
        settle_folder(path.parent)
