"""What the parser does not tell of an .ods, read from its XML: hidden rows, error cells."""

from __future__ import annotations

import re
import zipfile

from sourcing.prices.grid import CellError
from sourcing.prices.raw import RawSheet

_MOST_TEXT = 100_000_000
_MOST_HIDDEN = 500_000
_TOLD = re.compile(
    rb"<table:table\s[^>]*>|<table:table-row\b[^>]*>|<table:(?:covered-)?table-cell\b[^>]*>|(?<=<text:p>)(?:#[A-Z/0!?]+|Err:\d+)(?=</text:p>)"
)


def ods_sheets(archive: zipfile.ZipFile) -> dict[int, RawSheet]:
    """Every sheet's hidden rows and error cells; a text that has neither is not looked through."""
    if archive.getinfo("content.xml").file_size > _MOST_TEXT:
        return {}
    text = archive.read("content.xml")
    if b'table:visibility="' not in text and b">#" not in text and b">Err:" not in text:
        return {}
    found: dict[int, RawSheet] = {}
    row = column = 0
    rows = columns = 1  # how often the present row and cell are repeated
    for tag in _TOLD.findall(text):
        if tag.startswith(b"<table:table "):
            found[len(found)] = RawSheet()
            row, rows = 0, 1
        elif not found:
            continue
        elif tag.startswith(b"<table:table-row"):
            row, rows, column, columns = row + (rows if row else 1), _repeated(tag, b"rows"), 0, 1
            if b'table:visibility="collapse"' in tag or b'table:visibility="filter"' in tag:
                hidden = range(row, row + min(rows, _MOST_HIDDEN))
                found[len(found) - 1].hidden_rows.update(hidden)
        elif tag.startswith(b"<"):
            column, columns = column + (columns if column else 1), _repeated(tag, b"columns")
        elif row and column and rows == columns == 1:
            found[len(found) - 1].amend(row, column - 1, CellError(tag.decode("ascii", "replace")))
    return found


def _repeated(tag: bytes, what: bytes) -> int:
    told = re.search(rb"table:number-" + what + rb'-repeated="(\d{1,7})"', tag)
    return max(1, int(told[1])) if told else 1
