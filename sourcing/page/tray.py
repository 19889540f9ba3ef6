"""Price sheets that were dropped in and are not filed yet: they wait in the shop's folder, also while no page runs.

They lie outside the record of prices, in a folder whose name begins with a dot: nothing that reads the shop's folder looks into
it. It is bounded in number, size and age.
"""

from __future__ import annotations

import os
import shutil
import time
from collections import OrderedDict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from threading import Lock
from typing import IO

from sourcing.page.dropped import Dropped, keep_said, lay_down, lies_in, take_away
from sourcing.page.reach import NotThere

MOST_KEPT = 30  # sheets; the oldest go
MOST_BYTES = 500_000_000  # of all of them; the oldest go
LONGEST = timedelta(days=30)
MOST_TOLD = 20  # of those that were thrown away
_LEFT_OVER = 3600.0  # seconds after which what somebody began and did not end is taken away
NO_LONGER = (
    "This sheet is no longer here: it was filed or thrown away, or it waited too long. Look on the page of price sheets, "
    "and drop it in once more where it is not on file."
)


class Tray:
    """The sheets that wait in a shop's folder. `gone` says which were thrown away unasked, the newest last."""

    def __init__(self, folder: Path) -> None:
        self._lock, self._folder = Lock(), folder
        self._known: OrderedDict[str, Dropped] = OrderedDict()
        self.gone: list[str] = []

    def put(self, name: str, file: IO[bytes], supplier: str, day: date) -> Dropped:
        """Take a sheet in under a safe form of its name."""
        dropped = lay_down(self._folder, name, file, supplier, day, datetime.now(UTC))
        with self._lock:
            self._known[dropped.key] = dropped
        self._bound()
        return dropped

    def of(self, key: str) -> Dropped:
        """A sheet. Raises NotThere."""
        with self._lock:
            known = self._known.get(key)
            if known is None and key in self._names():
                known = lies_in(self._folder / key)
                if known is not None:
                    self._known[key] = known
            if known is None or not (known.filed or known.path.is_file()):
                self._known.pop(key, None)
                raise NotThere(NO_LONGER)
            return known

    def keep(self, dropped: Dropped) -> None:
        """Keep what was said of a sheet since."""
        with self._lock:
            if dropped.path.is_file():
                keep_said(dropped)

    def waiting(self) -> list[Dropped]:
        """The sheets, the newest first; those that were filed since the page was started are among them, and say so."""
        self._bound()
        with self._lock:
            filed = [one for one in self._known.values() if one.filed]
        return sorted([*filed, *self._lying()], key=lambda one: one.since, reverse=True)

    def filed(self, dropped: Dropped) -> None:
        """A sheet is in the record now: it waits no more, and what it changed can still be looked at."""
        with self._lock:  # nobody sees it gone and not yet filed
            dropped.filed = True
            take_away(dropped.path.parent)
            ended = [one.key for one in self._known.values() if one.filed]
            for key in ended[: max(0, len(ended) - MOST_KEPT)]:
                del self._known[key]

    def take_out(self, key: str) -> None:
        """Throw a sheet away."""
        with self._lock:
            self._known.pop(key, None)
            known = key in self._names()
        if known:
            take_away(self._folder / key)

    # -- what lies in the folder --

    def _names(self) -> list[str]:
        return os.listdir(self._folder) if self._folder.is_dir() else []  # noqa: PTH208 - names only

    def _lying(self) -> list[Dropped]:
        """Every sheet that lies there, each as it is known."""
        found = []
        with self._lock:
            for name in self._names():
                known = self._known.get(name)
                lying = known if known is not None and known.path.is_file() else lies_in(self._folder / name)
                if lying is not None and not lying.filed:
                    found.append(self._known.setdefault(name, lying))
        return found

    def _bound(self) -> None:
        """Take away what waited too long, what is too much beside the newest, and what was left half-way."""
        now, size = datetime.now(UTC), 0
        lying = sorted(self._lying(), key=lambda one: one.since, reverse=True)
        for number, one in enumerate(lying):
            size += _bytes_of(one.path)
            old = now - one.since > LONGEST
            if old or number >= MOST_KEPT or (number and size > MOST_BYTES):
                why = f"nobody filed it for {LONGEST.days} days" if old else "too many were waiting"
                self.gone = [*self.gone, f"{one.name}, dropped in on {one.since.astimezone().date()}: {why}"][
                    -MOST_TOLD:
                ]
                self.take_out(one.key)
        ours = {one.key for one in lying}
        for name in self._names():
            path = self._folder / name
            if name not in ours and path.is_dir() and not path.is_symlink() and _age(path) > _LEFT_OVER:
                shutil.rmtree(path, ignore_errors=True)


def _bytes_of(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _age(path: Path) -> float:
    try:
        return time.time() - path.stat().st_mtime
    except OSError:
        return 0.0
