"""Parsed sheets by content: derived, can be deleted at any time, and never in the way."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

    from sourcing.prices.layout import Layout

READER = 8  # of what reading gives; a new number lets older parsed sheets lie
_MOST_SHEETS = 5_000
_MOST_BYTES = 1_000_000_000  # of what is kept in all
_PATIENCE = 5.0  # seconds for another process to finish writing


def sheet_key(content: bytes, layout: Layout) -> str:
    """The key of a file read in a layout: equal where the reading must be equal."""
    said = [layout.said(), READER]
    return hashlib.sha256(hashlib.sha256(content).digest() + json.dumps(said).encode()).hexdigest()


def _own_folder() -> Path:
    named = os.environ.get("SOURCING_CACHE")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("sourcing", appauthor=False)


class Cache:
    """Parsed sheets in an SQLite file, shared by any number of processes.

    A file that is damaged, locked or cannot be written is quietly no cache: reading then parses the sheet again.

    Parameters
    ----------
    path : the file; made, with its folder, when something is first kept. Left out: in the folder that the variable
        SOURCING_CACHE names, or in the user's own folder of caches
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or _own_folder() / "sheets.sqlite3"

    def get(self, key: str) -> bytes | None:
        """What was kept under a key, or None."""
        if not self.path.is_file():
            return None
        with self._open() as database:
            if database is not None:
                found = database.execute("SELECT parsed FROM parsed WHERE key = ?", (key,)).fetchone()
                if found and isinstance(found[0], bytes):
                    return found[0]
        return None

    def put(self, key: str, parsed: bytes) -> None:
        """Keep a parsed sheet; of very many, the oldest go."""
        with contextlib.suppress(OSError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
        with self._open() as database:
            if database is not None:
                with database:
                    database.execute("BEGIN IMMEDIATE")
                    database.execute("DROP TABLE IF EXISTS sheet")  # as readers before this one kept them
                    database.execute(
                        "CREATE TABLE IF NOT EXISTS parsed (key TEXT PRIMARY KEY, size INTEGER NOT NULL, parsed BLOB NOT NULL)"
                    )
                    database.execute("INSERT OR REPLACE INTO parsed VALUES (?, ?, ?)", (key, len(parsed), parsed))
                    self._forget_oldest(database)

    def _forget_oldest(self, database: sqlite3.Connection) -> None:
        newest = database.execute("SELECT rowid, size FROM parsed ORDER BY rowid DESC").fetchall()
        room = _MOST_BYTES
        for place, (row, size) in enumerate(newest):
            room -= size
            if place >= _MOST_SHEETS or (room < 0 and place):
                database.execute("DELETE FROM parsed WHERE rowid <= ?", (row,))
                return

    @contextlib.contextmanager
    def _open(self) -> Iterator[sqlite3.Connection | None]:
        """A connection, or None where there can be none; what fails while it is used is passed over."""
        import sqlite3

        database = None
        with contextlib.suppress(sqlite3.Error, OSError):
            database = sqlite3.connect(self.path, timeout=_PATIENCE)
        try:
            with contextlib.suppress(sqlite3.Error, OSError):
                yield database
        finally:
            if database is not None:
                database.close()
