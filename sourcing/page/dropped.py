"""A price sheet that was dropped in, and what was said of it since, as it lies in a folder of its own.

A folder is made under another name and given its own in one step, so that it holds a sheet wholly or is none of ours.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from sourcing.page.safename import safe_name
from sourcing.prices.answers import Answers, NoAnswer, answers_of
from sourcing.prices.placing import settle_folder, written_beside

ABOUT = ".about.json"  # no sheet's name begins with a dot
BEGUN, GONE = ".begun-", ".gone-"  # a folder that is being filled, and one that is being emptied
KEY = re.compile(r"[A-Za-z0-9_-]{16}")
CHUNK = 1 << 20
MOST_SAID = 1_000_000  # bytes of what was said of a sheet


@dataclass
class Dropped:
    """A sheet as it was dropped in, and what was said of it since: whose it is, from which day, what its columns are."""

    key: str
    path: Path
    name: str
    supplier: str
    day: date
    since: datetime
    update: bool | None = None
    answers: Answers = field(default_factory=Answers)
    filed: bool = False
    works: list[str] = field(default_factory=list)  # the keys of what was done with it, the newest last

    @property
    def home(self) -> str:
        return f"/sheet/{self.key}"


def lay_down(tray: Path, name: str, file: IO[bytes], supplier: str, day: date, now: datetime) -> Dropped:
    """Keep a sheet in a folder of its own, under a safe form of its name."""
    key = secrets.token_urlsafe(12)
    begun = tray / f"{BEGUN}{key}"
    begun.mkdir(parents=True)
    try:
        safe = safe_name(name)
        with (begun / safe).open("xb") as target:
            shutil.copyfileobj(file, target, CHUNK)
            target.flush()
            os.fsync(target.fileno())
        dropped = Dropped(key, tray / key / safe, safe, supplier, day, now)
        _write(begun, dropped)
        begun.rename(tray / key)
    except BaseException:
        shutil.rmtree(begun, ignore_errors=True)
        raise
    settle_folder(tray)
    return dropped


def keep_said(dropped: Dropped) -> None:
    """Keep what was said of a sheet, in one step."""
    _write(dropped.path.parent, dropped)


def _write(folder: Path, dropped: Dropped) -> None:
    told = {"name": dropped.name, "supplier": dropped.supplier, "day": dropped.day.isoformat(),
            "since": dropped.since.isoformat(), "update": dropped.update, "answers": asdict(dropped.answers)}  # fmt: skip
    temporary = written_beside(folder / ABOUT, json.dumps(told).encode())
    try:
        temporary.replace(folder / ABOUT)
    finally:
        temporary.unlink(missing_ok=True)
    settle_folder(folder)


def lies_in(folder: Path) -> Dropped | None:
    """The sheet that lies in a folder; None where that is none of ours, or was not finished."""
    if not KEY.fullmatch(folder.name) or folder.is_symlink():
        return None
    try:
        with (folder / ABOUT).open("rb") as file:
            said = json.loads(file.read(MOST_SAID))
        answers = _answers(said["answers"])
        dropped = Dropped(
            folder.name, folder / said["name"], said["name"], str(said["supplier"]), date.fromisoformat(said["day"]),
            datetime.fromisoformat(said["since"]), {True: True, False: False}.get(said["update"]), answers,
        )  # fmt: skip
        ours = safe_name(dropped.name) == dropped.name and dropped.path.is_file() and not dropped.path.is_symlink()
        dropped.since.timestamp()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    return dropped if ours and dropped.since.tzinfo is not None else None


def _answers(said: Mapping[str, Any]) -> Answers:
    """Answers as they were kept. Raises ValueError where they are none."""
    columns = [f"{name}={header}" for name, header in said["columns"].items()]
    row = said["header_row"]
    if row is not None and not (isinstance(row, int) and 0 < row <= 1_048_576):
        raise NoAnswer(str(row))
    texts = {key: said[key] for key in ("sheet", "decimal", "date_order", "encoding")}
    if not all(one is None or isinstance(one, str) for one in texts.values()):
        raise NoAnswer(str(texts))
    return answers_of(columns, header_row=row, **texts)


def take_away(folder: Path) -> None:
    """Take a sheet's folder away: in one step it is none of ours any more."""
    gone = folder.with_name(f"{GONE}{folder.name}")
    try:
        folder.rename(gone)
    except OSError:  # gone already, or a file of it is open in another program
        gone = folder
    shutil.rmtree(gone, ignore_errors=True)
