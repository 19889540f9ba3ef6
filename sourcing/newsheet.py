"""A supplier's new sheet: what is said of it before and after it is filed, what it changed, which open jobs it touches.

The command line and the page receive a sheet alike, by what stands here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from sourcing.decision.rebuying import Rebought, rebought
from sourcing.faults import BadInput, shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.prices.changes import Changes, changes
from sourcing.prices.dated import sheets_in_force
from sourcing.prices.filing import Looked
from sourcing.prices.parts import Part
from sourcing.prices.sheetwords import money

IS_UPDATE = "It is an update: the numbers that it does not name stay as they are"
IS_WHOLE = "It is the whole list: the numbers that it lacks are no longer sold"


@dataclass
class Jobs:
    """What the look at the open jobs has found so far; `left` were not looked at."""

    seen: list[Rebought] = field(default_factory=list)
    failed: dict[str, str] = field(default_factory=dict)
    left: int = 0


def since(folder: Folder, code: str, day: date) -> str:
    """Against what a new sheet is compared; to be asked before there is one more on file."""
    in_force = sheets_in_force(folder.prices.sheets.get(code, []), day)
    return " and ".join(sheet.path.name for sheet in in_force)


def gone_told(looked: Looked, most: int) -> tuple[str, str]:
    """How many of a supplier's known numbers a sheet lacks, and which."""
    share = 100 * len(looked.gone) // max(1, looked.known)
    listed = ", ".join(looked.gone[:most])
    more = f" and {len(looked.gone) - most} more" if len(looked.gone) > most else ""
    return (
        f"Of the {looked.known} numbers that {looked.supplier.name} has had until now, {len(looked.gone)} ({share} percent)"
        " are missing here.",
        f"Missing: {listed}{more}",
    )


def filed_told(looked: Looked, catalogs: Path) -> Iterator[str]:
    """Where a sheet was filed, as what, and what of its layout is kept; what belongs to a line before is indented."""
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


def later_told(folder: Folder, code: str, day: date) -> str:
    """Said where the sheet does not change today's prices; "" where it does."""
    sheets = folder.prices.sheets.get(code, [])
    later = [sheet for sheet in sheets if sheet.day > day and not sheet.update]
    if later:
        return f"A later whole sheet is on file, {later[0].path.name}: from its date on this one has no more say."
    if not sheets_in_force(sheets, day):
        return "No whole sheet of this supplier is on file up to that day: an update alone gives no prices."
    return ""


def changes_of(before: Folder, after: Folder, code: str, day: date) -> tuple[Changes | None, str]:
    """What a sheet changed, or why that cannot be told."""
    try:
        parts: dict[str, Sequence[Part]] = {family: after.family(family)[1] for family in after.families}
        return changes(before.prices.standing(code, day), after.prices.standing(code, day), parts, code), ""
    except BadInput as error:
        return None, str(error.faults[0])


# -- open jobs --


def look_at_jobs(
    before: Folder, after: Folder, paths: Sequence[Path], day: date, jobs: Jobs, told: Callable[[int, int], bool]
) -> bool:
    """Quote every job from both records; False where a person stopped it.

    Parameters
    ----------
    told : hears before each job its number and how many there are; False stops
    """
    jobs.left = len(paths)
    try:
        for number, path in enumerate(paths, 1):
            if not told(number, len(paths)):
                return False
            try:
                item = rebought_in(before, after, path, day)
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


def rebought_in(before: Folder, after: Folder, path: Path, day: date) -> Rebought:
    """A job from both records, on a day or its own later one."""
    from sourcing.program.answer import answer

    job = moved(after.read_job(path), day)
    new = after.problems_of(job, shown(path))
    try:
        old = before.problems_of(job, shown(path))
    except BadInput:  # nothing could be quoted before: there was no sheet, or none that could be read
        old = []
    return rebought(job, old, new, answer)


def moved(job: Job, day: date) -> Job:
    """A job that is still to be bought on a day: moved to it, its promise with it; one of a later date stays."""
    return job if job.job.date >= day else job.moved_to(day)
