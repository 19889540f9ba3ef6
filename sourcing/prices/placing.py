"""A file put into a folder under a name of its own: whole or not at all, and never over another one."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import sys
import unicodedata
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from sourcing.faults import BadInput, RecordInUse, TwoSheetsOneDay, shown
from sourcing.prices.dated import ENDINGS
from sourcing.prices.preflight import Unsafe, kind_of

PATIENCE = 30.0  # seconds for another receive to end
TEMPORARY = ".receiving-"
UPDATE = re.compile(r"(?<![^\W_])update(?![^\W_])", re.IGNORECASE)
_LONGEST = 100  # characters of the original name that are kept


def filed_name(original: str, day: date, update: bool, ending: str) -> str:
    """The name under which a sheet is filed: its date, whether it is an update, and what is safe of its own name.

    >>> filed_name("2026-04-13 list: March?.XLSX", date(2026, 4, 13), True, ".xlsx")
    '2026-04-13 update list March.xlsx'
    """
    stem = unicodedata.normalize("NFC", Path(original).stem).removeprefix(day.isoformat())
    stem = re.sub(r"[^\w .,()&+-]", " ", UPDATE.sub(" ", stem))
    stem = " ".join(stem.split())[:_LONGEST].strip(" .-_,")
    return " ".join(part for part in (day.isoformat(), "update" if update else "", stem) if part) + ending


def ending_of(source: Path, content: bytes) -> str:
    """The ending under which a file is filed: its own where sheets end so, otherwise that of what it is."""
    if source.suffix.lower() in ENDINGS:
        return source.suffix.lower()
    with contextlib.suppress(Unsafe):
        kind = kind_of(content)
        return ".csv" if kind == "text" else f".{kind}"
    return ".csv"


@contextlib.contextmanager
def alone_in(record: Path) -> Iterator[None]:
    """Nobody else files in the record meanwhile; the system lets go of the lock when a process ends, however it ends."""
    from filelock import FileLock, Timeout

    lock = FileLock(record / ".receive.lock", timeout=PATIENCE)
    try:
        lock.acquire()
    except Timeout:
        raise BadInput([RecordInUse(file=shown(record))]) from None
    try:
        yield
    finally:
        lock.release()


def written_beside(target: Path, content: bytes) -> Path:
    """A temporary file in the folder of `target`, wholly on the disk."""
    temporary = target.parent / f"{TEMPORARY}{secrets.token_hex(6)}"
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def put_in_place(temporary: Path, target: Path) -> None:
    """Give a temporary file its name in one step, never over another file; the temporary name may stay behind."""
    try:
        try:
            os.link(temporary, target)
        except FileExistsError:
            raise
        except OSError:  # a file system without links: we are alone in the record, and nothing has this name
            if target.exists():
                raise FileExistsError(target) from None
            temporary.rename(target)
    except FileExistsError:
        raise BadInput([TwoSheetsOneDay(file=shown(target.parent), found=f"{target.name} on file already")]) from None
    settle_folder(target.parent)


def settle_folder(folder: Path) -> None:
    """Have a folder's names written to the disk, where the system knows such a thing."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
