"""`sourcing quote`: jobs in, plans on the screen, workbooks in reports/."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

import typer

from sourcing.cli.ending import Exit, say_faults
from sourcing.cli.screen import told, told_easings, told_papers
from sourcing.counter import Aim, Answers, answers, file_quote, freed_of, goes_on, moments_of, quoted, ways
from sourcing.decision.possibilities import Answered
from sourcing.decision.study import decide, too_large
from sourcing.decision.trend import Moment
from sourcing.faults import BadInput, OurFault, shown
from sourcing.folder import Folder
from sourcing.plan import Status
from sourcing.prices.cache import Cache
from sourcing.quote.record import record

CODES = {
    Status.PROVEN: Exit.PROVEN,
    Status.IMPOSSIBLE: Exit.IMPOSSIBLE,
    Status.BEST_FOUND: Exit.UNPROVEN,
    Status.NOTHING_FOUND: Exit.UNPROVEN,
    Status.OPEN: Exit.UNPROVEN,
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a quote: which plan, how long it may take, and which papers beside the usual ones."""

    aim: Aim
    seconds: float | None
    with_trend: bool
    copy: bool
    several: bool


def quote_jobs(
    jobs: Sequence[Path],
    catalogs: Path,
    out: Path | None,
    as_json: bool,
    seconds: float | None,
    aim: Aim,
    with_trend: bool = False,
    copy: bool = False,
    several: bool = False,
) -> Exit:
    """Quote each job by itself; the first exit code of 1, 2, 3, 5 that applies.

    `copy` writes the customer's sheet as a file of its own too; `several` lets the customer choose between up to three plans.
    """
    asked = Asked(aim, seconds, with_trend, copy, several)
    Thread(target=_load_what_comes_later, daemon=True).start()
    folder = Folder(catalogs, Cache())
    codes = []
    for number, job in enumerate(jobs, 1):
        code, interrupted = _quote_one(folder, job, out, as_json, asked)
        codes.append(code)
        if interrupted and number < len(jobs):
            typer.echo(f"Stopped; not quoted: {', '.join(shown(left) for left in jobs[number:])}", err=True)
            codes.append(Exit.UNPROVEN)
            break
    ranked = (Exit.OUR_FAULT, Exit.BAD_INPUT, Exit.IMPOSSIBLE, Exit.UNPROVEN)
    return next((code for code in ranked if code in codes), Exit.PROVEN)


def _load_what_comes_later() -> None:
    """Import the program and the workbook's writer while the price sheets are read: a third of a quote's start-up."""
    import sourcing.program.answer
    import sourcing.quote.papers  # noqa: F401


def _quote_one(folder: Folder, job: Path, out: Path | None, as_json: bool, asked: Asked) -> tuple[Exit, bool]:
    """Quote one job; its exit code, and whether a person stopped it."""
    by = answers(asked.seconds)
    try:
        problems = folder.problems(job)
        answered = quoted(folder, problems, by, asked.aim)
        if as_json:
            typer.echo(json.dumps(record(answered), ensure_ascii=False))
        papers = out or (None if as_json else Path("reports"))
        studied = papers and goes_on(answered.plan) and (asked.with_trend or not too_large(answered.plan))
        decided = decide(answered.plan, by.cost_only, asked.with_trend) if studied else None
        moments = _moments(folder, answered, job, by) if asked.with_trend and decided else None
        written = ""
        if papers and answered.plan.choice is not None:
            several = ways(asked.aim, answered.plan, problems, by) if asked.several else []
            filed = file_quote(answered.plan, papers / job.stem, decided, moments, several, asked.copy)
            written = told_papers(papers / job.stem, filed)
        if not as_json:
            typer.echo(told(answered, decided, written))
            if answered.plan.status == Status.IMPOSSIBLE and not answered.plan.proof.interrupted:
                typer.echo(told_easings(freed_of(folder, answered.plan, by), answered.plan.problem) + "\n")
    except BadInput as error:
        say_faults(error)
        return Exit.BAD_INPUT, False
    except OSError:
        raise
    except Exception as error:
        kind = "" if isinstance(error, OurFault) else f"{type(error).__name__}: "
        typer.echo(f"{shown(job)}: a defect of the tool, and no quote was made: {kind}{error}", err=True)
        return Exit.OUR_FAULT, False
    return CODES[answered.plan.status], answered.plan.proof.interrupted


def _moments(folder: Folder, answered: Answered, job: Path, by: Answers) -> list[Moment]:
    return moments_of(folder, answered.plan.problem.job, shown(job), by)
