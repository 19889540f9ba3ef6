"""The child process that parses workbooks (`python -m sourcing.prices.child`): bytes in, JSON of plain values out.

It starts anew for each batch of files, so it imports no more than it needs.
"""

from __future__ import annotations

import io
import json
import struct
import sys
from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, BinaryIO

from sourcing.prices.raw import RawWorkbook

if TYPE_CHECKING:
    from python_calamine import CalamineSheet

MOST_MEMORY = 500_000_000  # bytes of the child
MOST_ROWS = 400_000  # rows that hold something


def _child() -> None:
    _limit_memory()
    out = sys.stdout.buffer
    for content in frames(sys.stdin.buffer):
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
    from python_calamine import CalamineWorkbook, PasswordError, SheetTypeEnum

    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            raw = RawWorkbook(content)
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


def frames(pipe: BinaryIO) -> Iterator[bytes]:
    """Messages, each after its length in eight bytes."""
    while len(head := pipe.read(8)) == 8:
        size = struct.unpack("<Q", head)[0]
        body = pipe.read(size)
        if len(body) < size:
            return
        yield body


if __name__ == "__main__":
    _child()
