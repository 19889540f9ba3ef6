"""What the parser does not tell of an .ods, read from its XML: hidden rows, error cells, zeros that a format shows."""

from __future__ import annotations

import re
import zipfile

from sourcing.prices.grid import CellError
from sourcing.prices.raw import RawSheet

_MOST_TEXT = 100_000_000
_MOST_HIDDEN = 500_000
_TOLD = re.compile(
    rb"<table:table\s[^>]*>|<table:table-row\b[^>]*>|<table:(?:covered-)?table-cell\b[^>]*>|"
    rb"(?<=<text:p>)(?:#[A-Z/0!?]+|Err:\d+|0[0-9-]*[0-9])(?=</text:p>)"
)
_WORTH_A_LOOK = re.compile(rb'table:visibility="|<text:p>(?:#|Err:|0[0-9])')


def ods_sheets(archive: zipfile.ZipFile) -> dict[int, RawSheet]:
    """Every sheet's hidden rows and error cells and shown zeros; a text that has none is not looked through."""
    if archive.getinfo("content.xml").file_size > _MOST_TEXT:
        return {}
    text = archive.read("content.xml")
    if not _WORTH_A_LOOK.search(text):
        return {}
    found: dict[int, RawSheet] = {}
    row = column = 0
    rows = columns = 1  # how often the present row and cell are repeated
    number = False  # whether the present cell holds one
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
            number = b'office:value-type="float"' in tag
        elif row and column and rows == columns == 1:
            text_shown = tag.decode("ascii", "replace")
            if text_shown[0] != "0":
                found[len(found) - 1].amend(row, column - 1, CellError(text_shown))
            elif number:
                found[len(found) - 1].amend(row, column - 1, text_shown)
    return found


def _repeated(tag: bytes, what: bytes) -> int:
    told = re.search(rb"table:number-" + what + rb'-repeated="(\d{1,7})"', tag)
    return max(1, int(told[1])) if told else 1
