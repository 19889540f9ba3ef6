"""The cells of a text file, within limits."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from functools import partial
from itertools import islice

from sourcing.prices.encoding import DAMAGED, decoded
from sourcing.prices.grid import Grid
from sourcing.prices.lines import AT_A_TIME, Lines
from sourcing.prices.preflight import Unsafe

MOST_TEXT_CELLS = 6_000_000
MOST_TEXT_ROWS = 400_000


def text_grid(content: bytes, encoding: str | None = None, separator: str | None = None) -> Grid:
    """The cells of a text file; encoding and separator are told from the content where nobody says them.

    Raises
    ------
    Unsafe
        The text cannot be decoded, or is not made of columns.
    Undecided
        Its encoding cannot be told.
    """
    told = decoded(content, encoding)
    text = told.text
    if "\x00" in text:
        raise Unsafe("a binary file", "Open it in a spreadsheet program and save it as .xlsx or .csv.")
    said = text[:6].lower().startswith("sep=") and text[4:5]
    separator = separator or said or _separator(text)
    numbers, cells, lines = _rows(text, separator, bool(said))
    doubtful = (
        [number for number, row in zip(numbers, cells, strict=True) if DAMAGED in "".join(row)]
        if DAMAGED in text
        else []
    )
    return Grid("", numbers, cells, text=True, proof=partial(unquoted_mark, text, separator),  # type: ignore[arg-type]
                doubtful=frozenset(doubtful), encoding=told.encoding, notes=told.notes, lines=lines)  # fmt: skip


def _rows(text: str, separator: str, headed: bool) -> tuple[Sequence[int], list[list[str]], Lines]:
    """The rows that hold something, with their numbers; of a text `headed` by a line that says its separator, without that."""
    numbers: list[int] = []
    cells: list[list[str]] = []
    lines = Lines(text=True)
    room, count = MOST_TEXT_CELLS, 0
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        while some := list(islice(reader, AT_A_TIME)):
            room -= sum(map(len, some))
            if room < 0 or len(cells) > MOST_TEXT_ROWS:
                raise Unsafe("a text of more cells than any price list has", "Split it.")
            held = [at for at, row in enumerate(some) if any(row) and not (headed and at == count == 0)]
            numbers += [count + at + 1 for at in held]
            count += len(some)
            if held:
                kept = some if len(held) == len(some) else [some[at] for at in held]
                cells += kept
                lines.take(kept)
        if reader.line_num > count:  # a cell goes over several lines
            _refuse_open_quotes(text, separator)
    except csv.Error as error:
        raise Unsafe(f"text that is not in columns ({error})") from None
    return numbers, cells, lines


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
        for _ in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            pass
    except csv.Error as error:
        if "end of data" in str(error):
            raise Unsafe("a quotation mark that opens and never closes",
                         'Find the single " and take it out, or save the sheet as .xlsx.') from None  # fmt: skip


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
