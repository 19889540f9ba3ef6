"""The cells of a text file, within limits."""

from __future__ import annotations

import csv
import re

from sourcing.prices.child import MOST_ROWS
from sourcing.prices.grid import Grid, Row
from sourcing.prices.preflight import Unsafe

MOST_TEXT_CELLS = 6_000_000


def text_grid(content: bytes, encoding: str | None = None, separator: str | None = None) -> Grid:
    """The cells of a text file; encoding and separator are told from the content where nobody says them.

    Raises
    ------
    Unsafe
        The text cannot be decoded, or is not made of columns.
    """
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
    return Grid("", rows, text=True, decimal=unquoted_mark(text, separator))


def unquoted_mark(text: str, separator: str) -> str:
    """The decimal mark that a text proves by its separator, or ''.

    Where commas separate, a decimal comma could stand only in quotation marks; so an amount without them, 52.765, is
    written with a point. Where such an amount is quoted, the separator says nothing.

    >>> unquoted_mark("A-1,52.765", ","), unquoted_mark('"A-1","52.765"', ","), unquoted_mark("A-1;52.765", ";")
    ('.', '', '')
    """
    quoted = r'"[^\d",\n]*\d{1,3}\.\d{3}[^\d",\n]*"'
    return "." if separator == "," and not re.search(quoted, text) else ""


def _refuse_open_quotes(text: str, separator: str) -> None:
    """A quotation mark that opens and never closes swallows every row after it."""
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
