"""The files of a shop's book changed entry by entry: every other line left alone, and nobody's change lost in silence.

An entry is a table of a list (`[[era]]`, `[[design]]`, `[[supplier]]`), known by its code; or a row of parts.csv, known by
supplier and number.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import tomllib
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from sourcing.faults import BadInput, ChangedSince, OurFault, shown
from sourcing.jobtext import comments, dotted, literal
from sourcing.prices.placing import alone_in, settle_folder, written_beside
from sourcing.reading import read_text

Entry = Mapping[str, Any]
Change = Callable[[str], str]
_HEADER = re.compile(r"^\[\[?\s*([A-Za-z0-9_-]+)(\s*\.\s*[A-Za-z0-9_-]+)*\s*\]\]?\s*(#.*)?$")


# -- tables of a list --


def entries(text: str, kind: str) -> list[dict[str, Any]]:
    """The entries of a kind, as plain values; numbers are decimals."""
    found = tomllib.loads(text, parse_float=Decimal).get(kind, [])
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def entry_of(text: str, kind: str, code: str) -> dict[str, Any] | None:
    """The entry of a code; None where there is none."""
    return next((one for one in entries(text, kind) if one.get("code") == code), None)


def with_entry(text: str, kind: str, code: str | None, values: Mapping[str, Any]) -> str:
    """A text with an entry changed, or with a new one where `code` is None.

    Parameters
    ----------
    values : by key; None takes the key out, a key that is not named stays as it is
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
    return _checked(text, _changed(text, kind, at, changed), kind, [*listed[:at], wanted, *listed[at + 1 :]])


def without_entry(text: str, kind: str, code: str) -> str:
    """A text without an entry; its comments are put at the end."""
    listed = entries(text, kind)
    at = next(number for number, one in enumerate(listed) if one.get("code") == code)
    begin, end = _blocks(text, kind)[at]
    lines = text.splitlines(keepends=True)
    if begin and not lines[begin - 1].strip() and (end == len(lines) or not lines[end].strip()):
        begin -= 1
    made = "".join([*lines[:begin], *lines[end:]])
    return _checked(text, made, kind, [*listed[:at], *listed[at + 1 :]])


def _blocks(text: str, kind: str) -> list[tuple[int, int]]:
    """Where each entry of a kind stands: its first line, and the one after its last that says something."""
    lines = text.splitlines()
    heads = [
        (number, head[1], line.startswith("[[")) for number, line in enumerate(lines) if (head := _HEADER.match(line))
    ]
    starts = [
        number
        for number, name, _ in heads
        if name == kind and re.match(rf"^\[\[\s*{re.escape(kind)}\s*\]\]", lines[number])
    ]
    found: list[tuple[int, int]] = []
    for start in starts:
        own = [number for number, name, _ in heads if number > start and (name != kind or number in starts)]
        end = min(own, default=len(lines))
        while end > start + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        found.append((start, end))
    return found


def _added(text: str, kind: str, new: Entry) -> str:
    """A text with a new entry behind the last one of its kind, or at the end."""
    lines = text.splitlines(keepends=True)
    blocks = _blocks(text, kind)
    at = blocks[-1][1] if blocks else len(lines)
    end = "\r\n" if "\r\n" in text else "\n"
    if lines and not lines[at - 1].endswith("\n"):
        lines[at - 1] += end
    written = [f"[[{kind}]]", *(f"{dotted((key,))} = {literal(_plain(value))}" for key, value in new.items())]
    return "".join([*lines[:at], end, *(line + end for line in written), *lines[at:]])


def _changed(text: str, kind: str, at: int, changed: Mapping[str, Any]) -> str:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        _assign(document[kind][at], changed)
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, TypeError, ValueError) as error:
        raise OurFault(f"the entry cannot be changed so: {type(error).__name__}: {error}") from error


def _assign(table: Any, changed: Mapping[str, Any]) -> None:
    import tomlkit
    from tomlkit.items import AoT

    for key, value in changed.items():
        if value is None:
            del table[key]
        elif isinstance(table.get(key), AoT) and value:
            rows = table[key]
            while len(rows) > len(value):
                del rows[len(rows) - 1]
            for number, row in enumerate(value):
                if number < len(rows):
                    gone = {name: None for name in rows[number] if name not in row}
                    told = {name: said for name, said in row.items() if rows[number].get(name) != said}
                    _assign(rows[number], {**gone, **told})
                else:
                    made = tomlkit.table()
                    _assign(made, row)
                    rows.append(made)
        else:
            if key in table:
                _keep_comment(table, key, tomlkit.value(literal(_plain(value))))
            else:
                table[key] = tomlkit.value(literal(_plain(value)))


def _keep_comment(table: Any, key: str, value: Any) -> None:
    """A value in another one's place, with the comment that stood behind it."""
    old = table.item(key) if hasattr(table, "item") else table[key]
    trivia = getattr(old, "trivia", None)
    if trivia is not None and trivia.comment:
        value.trivia.comment_ws, value.trivia.comment = trivia.comment_ws, trivia.comment
    table[key] = value


def _plain(value: Any) -> Any:
    """A value of lists and dicts alone, as TOML writes it."""
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def _checked(before: str, after: str, kind: str, listed: Sequence[Entry]) -> str:
    """The text, where it says what it is to say and nothing else has changed; comments that it lost at its end."""
    kept, lost = comments(after), []
    for comment in comments(before):
        if comment in kept:
            kept.remove(comment)
        else:
            lost.append(comment)
    if lost:
        after = after.rstrip("\r\n") + "\n\n" + "".join(f"{comment}\n" for comment in lost)
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
