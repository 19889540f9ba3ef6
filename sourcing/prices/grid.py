"""The cells of a file, read where they can do no harm.

Text is read here, within limits. A workbook is parsed by a child process (`python -m sourcing.prices.grid`) whose memory
and time the parent watches, for a crafted file of a few kilobytes can take down the process that parses it. The child
gets bytes and answers with JSON: plain values, never objects.
"""

from __future__ import annotations

import json
import os
import re
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from queue import Empty, Queue
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from python_calamine import CalamineSheet

from sourcing.prices.preflight import Unsafe

MOST_MEMORY = 500_000_000  # bytes of the child
MOST_SECONDS = 10.0  # for one file
MOST_TEXT_CELLS = 6_000_000
MOST_ROWS = 400_000  # rows that hold something
_WATCH_SECONDS = 0.02


class CellError(str):
    """The name of an error that a cell shows in place of a value: #N/A, #REF!, or a formula never worked out."""

    __slots__ = ()


Cell = str | float | int | bool | date | CellError
Row = tuple[int, list[Cell]]


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet: its rows that hold something, each with its number as the spreadsheet shows it; blanks are ''."""

    sheet: str
    rows: list[Row]
    text: bool = False


# ---- text ---------------------------------------------------------------------------------------------------------


def text_grid(content: bytes, encoding: str | None = None, separator: str | None = None) -> Grid:
    """The cells of a text file; encoding and separator are told from the content where nobody says them.

    Raises
    ------
    Unsafe
        The text cannot be decoded, or is not made of columns.
    """
    import csv

    text = _decoded(content, encoding)
    if "\x00" in text:
        raise Unsafe("a binary file", "Open it in a spreadsheet program and save it as .xlsx or .csv.")
    said = text[:6].lower().startswith("sep=") and text[4:5]
    separator = separator or said or _separator(text)
    rows: list[Row] = []
    room = MOST_TEXT_CELLS
    broken_lines = False
    try:
        for number, cells in enumerate(csv.reader(text.splitlines(keepends=True), delimiter=separator), 1):
            room -= len(cells)
            if room < 0 or len(rows) > MOST_ROWS:
                raise Unsafe("a text of more cells than any price list has", "Split it.")
            if any(cells):
                rows.append((number, cells))  # type: ignore[arg-type]
                broken_lines = broken_lines or "\n" in "".join(cells)
        if broken_lines:
            _refuse_open_quotes(text, separator)
    except csv.Error as error:
        raise Unsafe(f"text that is not in columns ({error})") from None
    if said and rows and rows[0][0] == 1:
        del rows[0]
    return Grid("", rows, text=True)


def _refuse_open_quotes(text: str, separator: str) -> None:
    """A quotation mark that opens and never closes swallows every row after it."""
    import csv

    try:
        for _ in csv.reader(text.splitlines(keepends=True), delimiter=separator, strict=True):
            pass
    except csv.Error as error:
        if "end of data" in str(error):
            raise Unsafe("a quotation mark that opens and never closes",
                         'Find the single " and take it out, or save the sheet as .xlsx.') from None  # fmt: skip


def _decoded(content: bytes, encoding: str | None) -> str:
    tried = [encoding] if encoding else _likely_encodings(content)
    for name in tried:
        try:
            return content.decode(name)
        except UnicodeDecodeError:
            continue
        except LookupError:
            raise Unsafe(f'text in "{name}", an encoding that nobody knows',
                         "Correct [supplier.sheet] encoding: utf-8, windows-1252 or utf-16, say.") from None  # fmt: skip
    spelt = " or ".join(name.removesuffix("-sig").upper() for name in tried)
    raise Unsafe(f"text that is not in {spelt}",
                 "Save the sheet again as UTF-8, or say its encoding in suppliers.toml under [supplier.sheet].")  # fmt: skip


def _likely_encodings(content: bytes) -> list[str]:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ["utf-16"]
    head = content[:2000]
    if head.count(0) > len(head) // 4:
        return ["utf-16-le" if head[1::2].count(0) > head[::2].count(0) else "utf-16-be"]
    return ["utf-8-sig", "windows-1252"]


def _separator(text: str) -> str:
    """The character that cuts most of the first rows into equally many cells."""
    import csv

    lines = text[:60_000].splitlines(keepends=True)[:300]
    best, most = ",", (0, 0)
    for candidate in ";\t|,":
        try:
            widths = [len(cells) for cells in csv.reader(lines, delimiter=candidate) if len(cells) > 1]
        except csv.Error:
            continue
        common = max(set(widths), key=lambda width: (widths.count(width), width), default=0)
        if (widths.count(common), common) > most:
            best, most = candidate, (widths.count(common), common)
    return best


# ---- workbooks: the parent ------------------------------------------------------------------------------------------


def workbook_grids(contents: Sequence[bytes]) -> list[list[Grid] | Unsafe]:
    """The sheets of each workbook; one child reads them all, and a new one goes on after it had to be ended."""
    results: list[list[Grid] | Unsafe] = []
    while len(results) < len(contents):
        results += _one_child(contents[len(results) :])
    return results


def _one_child(contents: Sequence[bytes]) -> list[list[Grid] | Unsafe]:
    """Results up to the first file that the child did not survive; at least one."""
    environment = dict(os.environ, PYTHONIOENCODING="utf-8")
    root = str(Path(__file__).resolve().parents[2])
    environment["PYTHONPATH"] = os.pathsep.join(filter(None, [root, os.environ.get("PYTHONPATH")]))
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", "sourcing.prices.grid"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
    assert child.stdin is not None and child.stdout is not None
    answers: Queue[bytes | None] = Queue()
    threading.Thread(target=_send, args=(child.stdin, contents), daemon=True).start()
    threading.Thread(target=_receive, args=(child.stdout, answers), daemon=True).start()
    results: list[list[Grid] | Unsafe] = []
    try:
        while len(results) < len(contents):
            result = _watched(child, answers)
            results.append(_grids(result) if isinstance(result, bytes) else result)
            if not isinstance(result, bytes):
                break
    finally:
        child.kill()
        child.wait()
    return results


def _watched(child: subprocess.Popen[bytes], answers: Queue[bytes | None]) -> bytes | Unsafe:
    """The next answer, or why the child was ended."""
    import psutil  # type: ignore[import-untyped, unused-ignore]

    deadline = time.monotonic() + MOST_SECONDS
    while time.monotonic() < deadline:
        try:
            answer = answers.get(timeout=_WATCH_SECONDS)
        except Empty:
            try:
                if psutil.Process(child.pid).memory_info().rss > MOST_MEMORY:
                    return Unsafe(f"a sheet that takes more than {MOST_MEMORY // 1_000_000} MB of memory to read")
            except psutil.Error:
                continue  # it has ended: the queue says so next
        else:
            return Unsafe("a sheet that the reader did not survive") if answer is None else answer
    return Unsafe(f"a sheet that takes more than {MOST_SECONDS:g} s to read")


def _send(pipe: BinaryIO, contents: Sequence[bytes]) -> None:
    try:
        for content in contents:
            pipe.write(struct.pack("<Q", len(content)))
            pipe.write(content)
            pipe.flush()
        pipe.close()
    except OSError:
        pass  # the child has ended; the reading side reports it


def _receive(pipe: BinaryIO, answers: Queue[bytes | None]) -> None:
    for answer in _frames(pipe):
        answers.put(answer)
    answers.put(None)


def _frames(pipe: BinaryIO) -> Iterator[bytes]:
    """Messages, each after its length in eight bytes."""
    while len(head := pipe.read(8)) == 8:
        size = struct.unpack("<Q", head)[0]
        body = pipe.read(size)
        if len(body) < size:
            return
        yield body


def _grids(answer: bytes) -> list[Grid] | Unsafe:
    said = json.loads(answer)
    if "refused" in said:
        return Unsafe(said["refused"], said.get("remedy", ""))
    return [Grid(sheet, [(number, _plain(cells)) for number, cells in rows]) for sheet, rows in said["sheets"]]


def _plain(cells: list[Any]) -> list[Cell]:
    """What JSON cannot carry comes as a list of a letter and a text: d a date, e an error."""
    return [
        cell if type(cell) is not list else CellError(cell[1]) if cell[0] == "e" else date.fromisoformat(cell[1])
        for cell in cells
    ]


# ---- workbooks: the child -------------------------------------------------------------------------------------------


def _child() -> None:
    _limit_memory()
    out = sys.stdout.buffer
    for content in _frames(sys.stdin.buffer):
        answer = json.dumps(_answer(content)).encode()
        out.write(struct.pack("<Q", len(answer)))
        out.write(answer)
        out.flush()


def _limit_memory() -> None:
    """Where the system can, let an absurd reservation fail at once instead of filling the machine."""
    try:
        import resource
    except ImportError:
        return
    try:
        resource.setrlimit(resource.RLIMIT_AS, (4 * MOST_MEMORY, 4 * MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ValueError, OSError):
        pass


def _answer(content: bytes) -> dict[str, object]:
    import io

    from python_calamine import CalamineWorkbook, PasswordError, SheetTypeEnum

    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            raw = _RawWorkbook(content)
            sheets = [
                (about.name, _sheet_rows(book.get_sheet_by_index(index), raw.amendments(index)))
                for index, about in enumerate(book.sheets_metadata)
                if about.typ == SheetTypeEnum.WorkSheet
            ]
            return {"sheets": sheets}
    except PasswordError:
        return {"refused": "a sheet locked with a password", "remedy": "Save it again without a password."}
    except MemoryError:
        return {"refused": f"a sheet that takes more than {MOST_MEMORY // 1_000_000} MB of memory to read"}
    except BaseException as error:  # a panic of the parser is no Exception
        return {"refused": f"a damaged or cut-off file ({str(error)[:120]})", "remedy": "Ask for the file again."}


def _sheet_rows(sheet: CalamineSheet, amended: dict[int, dict[int, object]]) -> list[tuple[int, list[object]]]:
    """The rows that hold something, numbered as the spreadsheet shows them, with blanks at the end cut off."""
    top, left = sheet.start or (0, 0)
    rows: dict[int, list[object]] = {}
    margin: list[object] = [""] * left
    for number, cells in enumerate(sheet.iter_rows() if sheet.start else (), top + 1):
        end = len(cells)
        while end and cells[end - 1] == "":
            end -= 1
        if end:
            rows[number] = margin + [cell if type(cell) in (str, float, int) else _sent(cell) for cell in cells[:end]]
            if len(rows) > MOST_ROWS:
                raise MemoryError
    for number, changes in amended.items():
        row = rows.setdefault(number, [])
        row += [""] * (max(changes) + 1 - len(row))
        for column, cell in changes.items():
            row[column] = cell
    return sorted(rows.items()) if amended else list(rows.items())


def _sent(cell: object) -> object:
    """A cell as JSON can carry it."""
    if isinstance(cell, date):
        return ["d", cell.isoformat()[:10]]
    return str(cell).upper()


class _RawWorkbook:
    """What the parser does not tell of an .xlsx: error cells, formulas without a value, zeros that a format shows."""

    def __init__(self, content: bytes) -> None:
        import io
        import zipfile

        self._paths: list[str] = []
        self._masks: dict[bytes, str] = {}
        if not content.startswith(b"PK"):
            return
        self._archive = zipfile.ZipFile(io.BytesIO(content))
        names = set(self._archive.namelist())
        if "xl/workbook.xml" not in names:
            return
        links = self._archive.read("xl/_rels/workbook.xml.rels") if "xl/_rels/workbook.xml.rels" in names else b""
        linked = re.findall(rb"<(?:\w+:)?Relationship\s[^>]*>", links)
        targets = {_attribute(link, b"Id"): _attribute(link, b"Target") for link in linked}
        for sheet in re.findall(rb"<(?:\w+:)?sheet\s[^>]*>", self._archive.read("xl/workbook.xml")):
            target = targets.get(_attribute(sheet, rb"\w+:id"), b"").decode()
            path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            self._paths.append(path if path in names else "")
        if "xl/styles.xml" in names:
            self._masks = _zero_masks(self._archive.read("xl/styles.xml"))

    def amendments(self, index: int) -> dict[int, dict[int, object]]:
        """Cells to put in place of the parser's, by row as shown and column from 0."""
        found: dict[int, dict[int, object]] = {}
        if index >= len(self._paths) or not self._paths[index]:
            return found
        xml = self._archive.read(self._paths[index])
        for head, cell in self._cells(xml):
            address = re.fullmatch(rb"([A-Z]{1,3})(\d{1,7})", _attribute(head, b"r"))
            if address:
                column = 0
                for letter in address[1]:
                    column = column * 26 + letter - 64
                found.setdefault(int(address[2]), {})[column - 1] = cell
        return found

    def _cells(self, xml: bytes) -> Iterator[tuple[bytes, object]]:
        if b't="e"' in xml:
            for head, name in re.findall(rb'<c\b([^>]*\bt="e"[^>]*)>(?:(?!</c>).)*?<v>([^<]*)</v>', xml, re.DOTALL):
                yield head, ["e", name.decode("utf-8", "replace")]
        if b"<f" in xml:
            empty = rb"<c\b([^>]*)>\s*<f\b[^>]*(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>"
            for head in re.findall(empty, xml):
                if _attribute(head, b"t") != b"str":
                    yield head, ["e", "a formula without a stored value"]
        if self._masks:
            styled = rb'<c\b([^>]*\bs="(?:' + b"|".join(self._masks) + rb')"[^>]*)>\s*<v>(\d{1,15})</v>'
            for head, digits in re.findall(styled, xml):
                if _attribute(head, b"t") in (b"", b"n"):
                    yield head, _masked(digits.decode(), self._masks[_attribute(head, b"s")])


def _attribute(tag: bytes, name: bytes) -> bytes:
    found = re.search(rb"(?:^|\s)" + name + rb"""\s*=\s*["']([^"']*)["']""", tag)
    return found[1] if found else b""


def _zero_masks(styles: bytes) -> dict[bytes, str]:
    """Styles that show a number with leading zeros, by number: the mask is zeros and the characters between them."""
    codes = {}
    for tag in re.findall(rb"<numFmt\s[^>]*>", styles):
        code = _attribute(tag, b"formatCode").decode("utf-8", "replace").replace("&quot;", "").replace("\\", "")
        if re.fullmatch(r"[A-Za-z0 \-]*0[0 \-]*0", code) and not re.search(r"General|[dmyhsE]{2}", code):
            codes[_attribute(tag, b"numFmtId")] = code
    used = re.search(rb"<cellXfs\b.*?</cellXfs>", styles, re.DOTALL)
    styled = re.findall(rb"<xf\s[^>]*>", used[0]) if used and codes else []
    kinds = [_attribute(tag, b"numFmtId") for tag in styled]
    return {str(number).encode(): codes[kind] for number, kind in enumerate(kinds) if kind in codes}


def _masked(digits: str, mask: str) -> str:
    """The text that a number format of zeros shows.

    >>> _masked("123", "00000"), _masked("71002", "000-0000")
    ('00123', '007-1002')
    """
    shown, left = [], list(digits.lstrip("0"))
    for mark in reversed(mask):
        shown.append(mark if mark != "0" else left.pop() if left else "0")
    first = len(shown) - mask.index("0")
    return "".join(reversed(shown[:first] + left[::-1] + shown[first:]))


if __name__ == "__main__":
    _child()
