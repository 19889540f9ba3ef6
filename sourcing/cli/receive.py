"""`sourcing receive`: a supplier's sheet filed, its layout kept, and what it changed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import typer

from sourcing.cli import Exit
from sourcing.cli.asking import asked, command_line, typed_answers
from sourcing.cli.changed import changes_record, jobs_record, told_changes, told_jobs
from sourcing.cli.sheets import in_words, money, sheet_record, told_asides, told_faults, told_question, told_tables
from sourcing.decision.rebuying import Rebought, rebought
from sourcing.faults import BadInput, shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.prices.answers import Answers
from sourcing.prices.cache import Cache
from sourcing.prices.changes import Changes, changes
from sourcing.prices.dated import sheets_in_force
from sourcing.prices.filing import Looked, Receiving
from sourcing.prices.parts import Part
from sourcing.program.answer import answer

MANY_JOBS = 10  # from so many on, the look at them tells how far it is


@dataclass
class _Jobs:
    """What the look at the open jobs has found so far."""

    seen: list[Rebought] = field(default_factory=list)
    failed: dict[str, str] = field(default_factory=dict)
    left: int = 0


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
    since = _since(before, code, day, looked)
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
    return _tell_changes(counter, looked, before, Folder(catalogs, Cache()), scenarios, since)


def _since(folder: Folder, code: str, day: date, looked: Looked) -> str:
    """Against what a new sheet is compared; reads the list of sheets on file before there is one more."""
    in_force = sheets_in_force(folder.prices.sheets.get(code, []), day)
    return " and ".join(sheet.path.name for sheet in in_force)


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
        yield "To answer, type one of these. It is an update: the numbers that it does not name stay as they are"
        yield f"  {counter.command} --update"
        yield "It is the whole list: the numbers that it lacks are no longer sold"
        yield f"  {counter.command} --whole"
    yield ""
    yield "Nothing was filed."


def _told_gone(looked: Looked, most: int) -> Iterator[str]:
    share = 100 * len(looked.gone) // max(1, looked.known)
    yield ""
    yield "UNSURE: is this an update?"
    yield (f"  Of the {looked.known} numbers that {looked.supplier.name} has had until now, {len(looked.gone)} ({share} percent)"
           " are missing here.")  # fmt: skip
    listed = ", ".join(looked.gone[:most])
    yield f"  Missing: {listed}" + (f" and {len(looked.gone) - most} more" if len(looked.gone) > most else "")


def _told_filed(looked: Looked, catalogs: Path, most: int) -> Iterator[str]:
    if looked.on_file is not None:
        yield f"Filed already, byte for byte: {shown(looked.on_file)}"
        yield "No sheet was filed." if looked.declaration else "Nothing was changed."
    else:
        rows = sum(table.rows for table in looked.sheet.tables)
        total = sum(table.price_sum for table in looked.sheet.tables)
        kind = "an update" if looked.update else "a whole sheet"
        yield f"Filed: {shown(looked.target)}"
        yield f"  {kind} of {looked.supplier.name}: {rows} priced rows, their prices add up to {money(total)}"  # type: ignore[arg-type]
    yield from (f"  {remark}" for remark in looked.said)
    if looked.declaration:
        yield f"Its layout is kept in {shown(catalogs / 'suppliers.toml')}, under {looked.supplier.code}:"
        yield from (f"  {line}" for line in looked.declaration.lines())
    if looked.on_file is None:
        yield from told_asides(looked.sheet)
        yield from told_faults(looked.sheet, most)


# -- what changed --


def _tell_changes(
    counter: _Counter, looked: Looked, before: Folder, after: Folder, scenarios: Path, since: str
) -> Exit:
    code, day = looked.supplier.code, looked.day
    found, trouble = _changes(before, after, code, day)
    currency = looked.supplier.currency or after.shop.currency
    if found is not None:
        counter.say(told_changes(found, since, currency, counter.most))
    else:
        counter.say(iter(["", f"What changed cannot be told: {trouble}"]))
    counter.say(_told_later(after, code, day))
    jobs = _Jobs()
    stopped = not _look_at_jobs(before, after, scenarios, day, jobs)
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


def _changes(before: Folder, after: Folder, code: str, day: date) -> tuple[Changes | None, str]:
    """What changed, or why that cannot be told."""
    try:
        parts: dict[str, Sequence[Part]] = {family: after.family(family)[1] for family in after.families}
        return changes(before.prices.standing(code, day), after.prices.standing(code, day), parts, code), ""
    except BadInput as error:
        return None, str(error.faults[0])


def _told_later(folder: Folder, code: str, day: date) -> Iterator[str]:
    """Said where the sheet does not change today's prices."""
    sheets = folder.prices.sheets.get(code, [])
    later = [sheet for sheet in sheets if sheet.day > day and not sheet.update]
    if later:
        yield ""
        yield f"A later whole sheet is on file, {later[0].path.name}: from its date on this one has no more say."
    elif not sheets_in_force(sheets, day):
        yield ""
        yield "No whole sheet of this supplier is on file up to that day: an update alone gives no prices."


# -- open jobs --


def _look_at_jobs(before: Folder, after: Folder, scenarios: Path, day: date, jobs: _Jobs) -> bool:
    """Quote every job from both records; False where a person stopped it."""
    paths = sorted(scenarios.glob("*.toml")) if scenarios.is_dir() else []
    jobs.left = len(paths)
    try:
        for number, path in enumerate(paths, 1):
            _progress(number, len(paths))
            try:
                item = _rebought(before, after, path, day)
            except BadInput as error:
                jobs.failed[path.name] = str(error.faults[0])
            else:
                if item.interrupted:
                    return False
                jobs.seen.append(item)
            jobs.left -= 1
    except KeyboardInterrupt:
        return False
    return True


def _rebought(before: Folder, after: Folder, path: Path, day: date) -> Rebought:
    job = _moved(after.read_job(path), day)
    new = after.problems_of(job, shown(path))
    try:
        old = before.problems_of(job, shown(path))
    except BadInput:  # nothing could be quoted before: there was no sheet, or none that could be read
        old = []
    return rebought(job, old, new, answer)


def _moved(job: Job, day: date) -> Job:
    """A job that is still to be bought on a day: moved to it, its promise with it; one of a later date stays."""
    return job if job.job.date >= day else job.moved_to(day)


def _progress(number: int, of: int) -> None:
    if of < MANY_JOBS or not sys.stderr.isatty():
        return
    end = "\n" if number == of else ""
    typer.echo(f"\rlooking at the open jobs: {number} of {of}{end}", err=True, nl=False)


# -- JSON --


def _record(
    looked: Looked, found: Changes | None = None, currency: str = "", jobs: _Jobs | None = None, trouble: str = ""
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
