"""A job's file read and saved: in one step, by one person at a time, and nobody's change lost in silence.

A form saves only what was changed in it, on top of what the file says by then; whoever saves second is told, line by line, what
the first one changed.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from sourcing.faults import BadInput, JobOnFile, JobsInUse, shown
from sourcing.jobtext import Edits, Lines, changed, difference, lines_of, new_text
from sourcing.prices.placing import settle_folder, written_beside
from sourcing.reading import read_text, tables_of

LOCK = ".jobs.lock"
PATIENCE = 20.0  # seconds that somebody else may take to save


@dataclass(frozen=True)
class JobFile:
    """A job's file as it was read."""

    path: Path
    text: str

    @property
    def version(self) -> str:
        """A digest of what the file says, to tell whether somebody has saved it since."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()[:32]

    @cached_property
    def lines(self) -> dict[str, str]:
        """What the file says, line by line. Raises BadInput where it is no TOML."""
        return dict(lines_of(tables_of(self.text, self.path)))


class ChangedMeanwhile(Exception):
    """Somebody else saved the job since it was opened: `now` is what stands there, `theirs` what they changed of it."""

    def __init__(self, now: JobFile, theirs: Edits) -> None:
        super().__init__(f"{now.path.name} was changed meanwhile")
        self.now, self.theirs = now, theirs


def opened(path: Path) -> JobFile:
    """Read a job's file. Raises BadInput where it cannot be read."""
    return JobFile(path, read_text(path))


def save(file: JobFile, version: str, edits: Edits, base: Lines, check: Callable[[str], object]) -> JobFile:
    """Change a job's file, in one step; alone in its folder while it does.

    Parameters
    ----------
    version : that of the file when it was opened
    base : what it said then
    check : raises BadInput where a text is no job; asked before anything is written

    Raises
    ------
    ChangedMeanwhile
        somebody saved since; nothing is written
    BadInput
        from `check`, or where the file cannot be read
    """
    with _alone_in(file.path.parent):
        now = opened(file.path)
        if now.version != version:
            raise ChangedMeanwhile(now, difference(base, now.lines))
        text = changed(now.text, edits)
        check(text)
        if text != now.text:
            _replace(file.path, text)
        return JobFile(file.path, text)


def put_new(path: Path, lines: Lines, check: Callable[[str], object], heading: str = "") -> JobFile:
    """Write a job of its own; never over another file.

    Raises BadInput from `check`, or where a job of this name is on file.
    """
    text = new_text(lines, heading)
    check(text)
    path.parent.mkdir(parents=True, exist_ok=True)
    with _alone_in(path.parent):
        if path.exists() or path.is_symlink():
            raise BadInput([JobOnFile(file=shown(path), found=path.name)])
        _replace(path, text)
    return JobFile(path, text)


def _replace(path: Path, text: str) -> None:
    temporary = written_beside(path, text.encode("utf-8"))
    try:
        if path.exists():
            shutil.copymode(path, temporary)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
    settle_folder(path.parent)


class _alone_in:
    """Nobody else saves a job in the folder meanwhile."""

    def __init__(self, folder: Path) -> None:
        from filelock import FileLock

        self._folder, self._lock = folder, FileLock(folder / LOCK, timeout=PATIENCE)

    def __enter__(self) -> None:
        from filelock import Timeout

        try:
            self._lock.acquire()
        except Timeout:
            raise BadInput([JobsInUse(file=shown(self._folder))]) from None

    def __exit__(self, *_: object) -> None:
        self._lock.release()
