"""`sourcing receive`: a supplier's sheet filed, its layout kept, and what it changed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import typer

from sourcing.cli.asking import command_line, typed_answers
from sourcing.cli.changed import changes_record, jobs_record, told_changes, told_jobs
from sourcing.cli.ending import Exit
from sourcing.cli.sheets import sheet_record, told_asides, told_faults, told_question, told_tables
from sourcing.faults import shown
from sourcing.folder import Folder
from sourcing.newsheet import (
    IS_UPDATE,
    IS_WHOLE,
    Jobs,
    changes_of,
    filed_told,
    gone_told,
    later_told,
    look_at_jobs,
    since,
)
from sourcing.prices.answers import Answers
from sourcing.prices.asking import asked
from sourcing.prices.cache import Cache
from sourcing.prices.changes import Changes
from sourcing.prices.filing import Looked, Receiving
from sourcing.prices.sheetwords import in_words

MANY_JOBS = 10  # from so many on, the look at them tells how far it is


@dataclass(frozen=True)
class _Counter:
    """How this run speaks: `command` is what was typed, for the answers that are offered."""

    command: str
    as_json: bool
    most: int

    def say(self, lines: Iterator[str]) -> None:
        told = [] if self.as_json else list(lines)
        if told:
            typer.echo("\n".join(told))


def receive(
    source: Path,
    catalogs: Path,
    scenarios: Path,
    code: str,
    day: date,
    update: bool | None,
    answers: Answers,
    as_json: bool,
    most: int,
) -> Exit:
    """Receive one sheet. Exit code 4 where it is refused, or a person must answer first; nothing is filed then."""
    words = ["receive", str(source), "--supplier", code, "--date", day.isoformat()]
    words += ["--update"] if update else ["--whole"] if update is False else []
    words += ["--catalogs", str(catalogs)] if catalogs != Path("catalogs") else []
    words += ["--scenarios", str(scenarios)] if scenarios != Path("scenarios") else []
    counter = _Counter(command_line([*words, *typed_answers(answers)]), as_json, most)
    before = Folder(catalogs, Cache())
    receiving = Receiving(catalogs, before.shop, code, source, day, update, answers, Cache())
    looked = receiving.look()
    since_then = since(before, code, day)
    if looked.asks_update and not as_json and sys.stdin.isatty() and sys.stdout.isatty():
        counter.say(_told_gone(looked, most))
        receiving = replace(receiving, update=_ask_update())
    answered = receiving.update is not None or not looked.asks_update
    if looked.sheet.status == "read" and answered:
        looked = receiving.file()
    if not looked.ready:
        counter.say(_told_unready(looked, counter, receiving))
        if as_json:
            typer.echo(json.dumps(_record(looked), ensure_ascii=False))
        return Exit.SHEET_UNSURE
    counter.say(_told_filed(looked, catalogs, most))
    if looked.on_file is not None:
        if as_json:
            typer.echo(json.dumps(_record(looked), ensure_ascii=False))
        return Exit.PROVEN
    return _tell_changes(counter, looked, before, Folder(catalogs, Cache()), scenarios, since_then)


def _ask_update() -> bool | None:
    said = typer.prompt("Is it an update (u), a whole sheet (w), or shall nothing be filed (n)?", default="n")
    return {"u": True, "w": False}.get(str(said).strip().lower()[:1])


# -- on the screen --


def _told_unready(looked: Looked, counter: _Counter, receiving: Receiving) -> Iterator[str]:
    sheet = looked.sheet
    yield shown(looked.source)
    if sheet.status == "refused":
        yield from ("REFUSED: " + in_words(fault) for fault in sheet.faults)
    elif sheet.status == "unsure":
        yield from told_tables(sheet, looked.supplier.currency or "")
        yield from told_faults(sheet, counter.most)
        question = asked(sheet, looked.supplier.layout("", looked.day).columns, receiving.read_freely)
        if question is not None:
            yield from told_question(question, counter.command)
    else:
        yield from _told_gone(looked, counter.most)
        yield f"To answer, type one of these. {IS_UPDATE}"
        yield f"  {counter.command} --update"
        yield IS_WHOLE
        yield f"  {counter.command} --whole"
    yield ""
    yield "Nothing was filed."


def _told_gone(looked: Looked, most: int) -> Iterator[str]:
    yield ""
    yield "UNSURE: is this an update?"
    yield from (f"  {words}" for words in gone_told(looked, most))


def _told_filed(looked: Looked, catalogs: Path, most: int) -> Iterator[str]:
    yield from filed_told(looked, catalogs)
    if looked.on_file is None:
        yield from told_asides(looked.sheet)
        yield from told_faults(looked.sheet, most)


# -- what changed --


def _tell_changes(
    counter: _Counter, looked: Looked, before: Folder, after: Folder, scenarios: Path, since_then: str
) -> Exit:
    code, day = looked.supplier.code, looked.day
    found, trouble = changes_of(before, after, code, day)
    currency = looked.supplier.currency or after.shop.currency
    if found is not None:
        counter.say(told_changes(found, since_then, currency, counter.most))
    else:
        counter.say(iter(["", f"What changed cannot be told: {trouble}"]))
    later = later_told(after, code, day)
    counter.say(iter(["", later] if later else []))
    jobs = Jobs()
    paths = sorted(scenarios.glob("*.toml")) if scenarios.is_dir() else []
    stopped = not look_at_jobs(before, after, paths, day, jobs, _progress)
    if counter.as_json:
        typer.echo(json.dumps(_record(looked, found, currency, jobs, trouble), ensure_ascii=False))
    elif jobs.seen or jobs.failed:
        counter.say(told_jobs(jobs.seen, shown(scenarios), day, jobs.failed))
    else:
        counter.say(iter(["", "" if stopped else f"No job file in {shown(scenarios)}: no job was looked at."]))
    if stopped:
        typer.echo(f"Stopped: the sheet is filed; {jobs.left} jobs were not looked at.", err=True)
        return Exit.UNPROVEN
    return Exit.PROVEN


def _progress(number: int, of: int) -> bool:
    if of >= MANY_JOBS and sys.stderr.isatty():
        end = "\n" if number == of else ""
        typer.echo(f"\rlooking at the open jobs: {number} of {of}{end}", err=True, nl=False)
    return True


# -- JSON --


def _record(
    looked: Looked, found: Changes | None = None, currency: str = "", jobs: Jobs | None = None, trouble: str = ""
) -> dict[str, Any]:
    status = looked.sheet.status if not looked.ready else "filed already" if looked.on_file else "filed"
    read = sheet_record(looked.sheet)
    if looked.asks_update:
        status = "unsure"
        read["questions"].append({"field": "update", "choices": ["--update", "--whole"]})
    return {
        **read, "status": status, "supplier": looked.supplier.code, "date": looked.day.isoformat(),
        "update": looked.update, "filed": shown(looked.on_file or looked.target) if looked.ready else None,
        "layout": {"columns": dict(looked.declaration.columns), "sheet": dict(looked.declaration.sheet),
                   "earlier": [{"until": day.isoformat(), "columns": dict(columns), "sheet": dict(sheet)}
                               for day, columns, sheet in looked.declaration.earlier]},
        "known": looked.known, "gone": list(looked.gone), "remarks": [*looked.said, *([trouble] if trouble else [])],
        "changes": None if found is None else changes_record(found, currency),
        "jobs": [] if jobs is None else jobs_record(jobs.seen),
        "jobs_not_looked_at": {} if jobs is None else dict(jobs.failed), "jobs_left": 0 if jobs is None else jobs.left,
    }  # fmt: skip
