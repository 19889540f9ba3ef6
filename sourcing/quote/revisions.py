"""A job's papers filed as revisions: a set that says nothing new is not written, a former one stays as it was.

A job's folder holds the newest set, and revisions/1, revisions/2, .. every set as it was given out, each with what it came to
(revision.json). A set becomes a revision in one step of the file system, the renaming of its folder; only then the files of
the newest set are put in place, one by one. Whoever ends the program at any line finds every revision whole or not there at
all, and the next run puts the newest set in place where that was cut short. A lock keeps two people apart, so that no number
is given twice.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from filelock import FileLock

from sourcing.quote.placed import put_in_place

QUOTE = "quote.xlsx"
RECORD = "revision.json"
LOCK = ".quote.lock"
SETS = "revisions"
ASIDE = "found-before-"
WAITING = ".part-"
PATIENCE = 60  # seconds that somebody else may take to write
LAST = "last-number"
Papers = Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Facts:
    """What a set of papers comes to, for the next one to be compared with: money as text, dates ISO 8601."""

    date: str
    total: str
    parts: tuple[str, ...]
    arrival: str


@dataclass(frozen=True, slots=True)
class Revision:
    """A set of papers on file: its number, what it comes to, and what changed since the one before ("" for the first).

    `written` is whether this run wrote anything; `aside` names papers that stood in the folder, changed by hand, and were kept
    beside the revisions; `edited` those that stand there still.
    """

    number: int
    facts: Facts
    papers: tuple[str, ...]
    changes: tuple[str, ...]
    written: bool
    aside: tuple[str, ...] = ()
    edited: tuple[str, ...] = ()


def file_papers(
    folder: Path, facts: Facts, make: Callable[[int], Papers], copies: Callable[[int], Papers] | None = None
) -> Revision:
    """File a job's papers as its next revision, unless they are those of the newest one.

    Parameters
    ----------
    folder : the job's folder, made where there is none
    facts : what the papers come to
    make : the papers, printed with a revision's number; asked for the newest number first, to see whether anything changed
    copies : further papers that go with a revision but make none (a customer's copy)

    Raises
    ------
    OSError
        A file cannot be written (open in another program, say). Every revision is whole or not there; what is left to be put
        in place the next run does.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with FileLock(folder / LOCK, timeout=PATIENCE):
        _clear_what_was_cut_short(folder)
        newest = max(_numbers(folder), default=0)
        if newest and _core(folder, newest) == make(newest):
            extra = copies(newest) if copies else {}
            added = {name: content for name, content in extra.items() if _read(_set(folder, newest) / name) != content}
            for name, content in added.items():
                put_in_place(content, _set(folder, newest) / name)
            edited = _put(folder, newest)
            return Revision(newest, facts, _on_file(folder, newest), (), written=bool(added), edited=edited)
        number = max(newest, _last_given(folder)) + 1
        core = make(number)
        changes = _changes(_facts(folder, newest), facts) if newest else ()
        _check_that_it_can_be_replaced(folder, core)
        _write_set(folder, number, core, copies(number) if copies else {}, facts, changes)
        aside = _keep_what_is_not_ours(folder, number)
        _put(folder, number)
        return Revision(number, facts, _on_file(folder, number), changes, written=True, aside=aside)


def revisions_of(folder: Path) -> tuple[Revision, ...]:
    """Every revision of a job's folder that is on file, as it was given out; changes nothing."""
    found = []
    for number in _numbers(folder):
        facts = _facts(folder, number) or Facts("", "", (), "")
        changes = tuple(_record(folder, number).get("changes", ()))
        found.append(Revision(number, facts, _on_file(folder, number), changes, written=False))
    return tuple(found)


def _set(folder: Path, number: int) -> Path:
    return folder / SETS / str(number)


def _numbers(folder: Path) -> list[int]:
    """The revisions on file: their folders are made whole, so that a folder is a revision."""
    sets = folder / SETS
    return sorted(int(path.name) for path in sets.iterdir() if path.name.isdecimal()) if sets.is_dir() else []


def _last_given(folder: Path) -> int:
    """The last number that was given, though its folder may have been taken away since."""
    given = _read(folder / SETS / LAST) or b"0"
    return int(given) if given.strip().isdigit() else 0


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return None


def _record(folder: Path, number: int) -> dict[str, Any]:
    content = _read(_set(folder, number) / RECORD)
    return dict(json.loads(content)) if content else {"papers": [], "facts": {}}


def _core(folder: Path, number: int) -> dict[str, bytes]:
    """The papers that make a revision, as they stand on file."""
    read = {name: _read(_set(folder, number) / name) for name in _record(folder, number)["papers"]}
    return {name: content for name, content in read.items() if content is not None}


def _facts(folder: Path, number: int) -> Facts | None:
    told = _record(folder, number)["facts"]
    return Facts(told["date"], told["total"], tuple(told["parts"]), told["arrival"]) if told else None


def _changes(before: Facts | None, now: Facts) -> tuple[str, ...]:
    """What is new, in words."""
    if before is None:
        return ("the former revision has no record to compare with",)
    said = []
    if before.total != now.total:
        said.append(f"the total was {before.total} and is {now.total}")
    said += [f"no longer bought: {part}" for part in before.parts if part not in now.parts]
    said += [f"now bought: {part}" for part in now.parts if part not in before.parts]
    if before.arrival != now.arrival:
        said.append(f"the last part was to be here {before.arrival} and now is {now.arrival}")
    if before.date != now.date:
        said.append(f"prices were of {before.date} and are of {now.date}")
    return tuple(said) or ("total, parts and arrival are as before: only words or sheets changed",)


def _check_that_it_can_be_replaced(folder: Path, papers: Papers) -> None:
    """Open what will be replaced: another program that holds it is found before anything is written."""
    for name in papers:
        path = folder / name
        if path.exists():
            with path.open("r+b"):
                pass


def _write_set(folder: Path, number: int, core: Papers, extra: Papers, facts: Facts, changes: tuple[str, ...]) -> None:
    """Make a revision's folder aside, then let it appear in one step."""
    waiting = folder / SETS / f"{WAITING}{os.getpid()}"
    told = {"number": number, "papers": sorted(core), "facts": asdict(facts), "changes": list(changes)}
    try:
        waiting.mkdir(parents=True)
        for name, content in {**core, **extra}.items():
            (waiting / name).write_bytes(content)
        (waiting / RECORD).write_bytes((json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode("utf-8"))
        waiting.replace(_set(folder, number))
        put_in_place(str(number).encode(), folder / SETS / LAST)
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
        with suppress(OSError):
            (folder / SETS).rmdir()  # where nothing is in it


def _clear_what_was_cut_short(folder: Path) -> None:
    """Take away sets that were being made when a run ended; nobody else makes one while we hold the lock."""
    for left in (folder / SETS).glob(f"{WAITING}*"):
        shutil.rmtree(left, ignore_errors=True)


def _on_file(folder: Path, number: int) -> tuple[str, ...]:
    return tuple(sorted(path.name for path in _set(folder, number).iterdir() if path.name != RECORD))


def _is_on_file(folder: Path, name: str, content: bytes) -> bool:
    """Whether a paper of this content was given out, or was kept, under its name."""
    places = [_set(folder, number) for number in _numbers(folder)]
    places += (folder / SETS).glob(f"{ASIDE}*")
    return any(_read(place / name) == content for place in places)


def _ever_given(folder: Path) -> list[str]:
    return sorted({name for number in _numbers(folder) for name in _on_file(folder, number)})


def _keep_what_is_not_ours(folder: Path, number: int) -> tuple[str, ...]:
    """Copy papers that somebody changed, or that stood there before, out of the way of the new ones."""
    kept = []
    for name in _ever_given(folder):
        content = _read(folder / name)
        if content is not None and not _is_on_file(folder, name, content):
            put_in_place(content, folder / SETS / f"{ASIDE}{number}" / name)
            kept.append(name)
    return tuple(kept)


def _put(folder: Path, number: int) -> tuple[str, ...]:
    """Let the job's folder hold the papers of a revision, and no older ones; papers changed by hand stay, and are named."""
    edited = []
    newest = _on_file(folder, number)
    for name in _ever_given(folder):
        there, wanted = _read(folder / name), _read(_set(folder, number) / name) if name in newest else None
        if there == wanted:
            continue
        if there is not None and not _is_on_file(folder, name, there):
            edited.append(name)
        elif wanted is None:
            (folder / name).unlink()
        else:
            put_in_place(wanted, folder / name)
    return tuple(edited)
