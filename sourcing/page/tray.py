"""Price sheets that were dropped in and are not filed yet: each in a folder of its own, outside the record of prices."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
import unicodedata
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path, PurePosixPath, PureWindowsPath
from threading import Lock
from typing import IO

from sourcing.page.reach import NotThere
from sourcing.prices.answers import Answers

MOST_KEPT = 30  # sheets; the oldest go
CHUNK = 1 << 20


@dataclass
class Dropped:
    """A sheet as it was dropped in, and what was said of it since: whose it is, from which day, what its columns are."""

    key: str
    path: Path
    name: str
    supplier: str
    day: date
    update: bool | None = None
    answers: Answers = field(default_factory=Answers)
    works: list[str] = field(default_factory=list)  # the keys of what was done with it, the newest last

    @property
    def home(self) -> str:
        return f"/sheet/{self.key}"


class Tray:
    """The sheets of a running page; they go when it ends."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._known: OrderedDict[str, Dropped] = OrderedDict()
        self._folder: Path | None = None

    def put(self, name: str, file: IO[bytes], supplier: str, day: date) -> Dropped:
        """Take a sheet in under a safe form of its name."""
        key = secrets.token_urlsafe(12)
        with self._lock:
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="sheets-"))
            own = self._folder / key
        own.mkdir()
        path = own / safe_name(name)
        with path.open("xb") as target:
            shutil.copyfileobj(file, target, CHUNK)
        dropped = Dropped(key, path, path.name, supplier, day)
        with self._lock:
            self._known[key] = dropped
            while len(self._known) > MOST_KEPT:
                _, old = self._known.popitem(last=False)
                shutil.rmtree(old.path.parent, ignore_errors=True)
        return dropped

    def of(self, key: str) -> Dropped:
        """A sheet. Raises NotThere."""
        with self._lock:
            if key not in self._known:
                raise NotThere("This sheet is no longer here: the page was started again since. Drop it in once more.")
            return self._known[key]

    def waiting(self) -> list[Dropped]:
        """The sheets, the newest first."""
        with self._lock:
            return list(reversed(self._known.values()))

    def take_out(self, key: str) -> None:
        """Throw a sheet away."""
        with self._lock:
            dropped = self._known.pop(key, None)
        if dropped is not None:
            shutil.rmtree(dropped.path.parent, ignore_errors=True)

    def close(self) -> None:
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)


def safe_name(name: str) -> str:
    """The last part of a name, with nothing in it that could lead elsewhere or that a file system does not take.

    >>> safe_name("../../etc/list: March?.XLSX"), safe_name("C:\\\\prices\\\\net.csv"), safe_name("..")
    ('list March.XLSX', 'net.csv', 'sheet')
    """
    last = PureWindowsPath(PurePosixPath(name).name).name
    plain = re.sub(r"[^\w .,()&+-]", " ", unicodedata.normalize("NFC", last))
    stem, dot, ending = plain.rpartition(".")
    stem, ending = (" ".join(stem.split()), ending) if dot else (" ".join(plain.split()), "")
    ending = re.sub(r"\W", "", ending)[:8]
    stem = stem[:100].lstrip(".") or "sheet"
    if re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", stem.strip()):
        stem = f"sheet {stem}"
    return f"{stem}.{ending}" if ending else stem
