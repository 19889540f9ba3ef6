"""`sourcing quote`: jobs in, plans on the screen, workbooks in reports/."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Thread
from typing import Literal

import typer

from sourcing.book.family import Family
from sourcing.cli import Exit, say_faults
from sourcing.cli.screen import told, told_easings, told_papers
from sourcing.decision import Answer
from sourcing.decision.arrived import with_arrived
from sourcing.decision.choices import choices
from sourcing.decision.easing import freed
from sourcing.decision.frontier import most_durable, soonest
from sourcing.decision.inspections import with_inspections
from sourcing.decision.possibilities import Answered, answer_all
from sourcing.decision.study import Decided, decide
from sourcing.decision.trend import Moment
from sourcing.faults import BadInput, OurFault, shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.plan import Plan, Status
from sourcing.prices.cache import Cache
from sourcing.problem import Problem
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


Aim = Literal["cheapest", "soonest", "most-durable"]
AIMS: dict[Aim, Callable[[Problem, Answer], Plan]] = {
    "cheapest": lambda problem, answer: answer(problem),
    "soonest": soonest,
    "most-durable": most_durable,
}

BEST_AT = {"cheapest": "choice_cheapest", "soonest": "choice_soonest", "most-durable": "choice_durable"}


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

    from sourcing.program.answer import answer

    def settled(problem: Problem) -> Plan:
        return answer(problem, asked.seconds)

    def cost_only(problem: Problem) -> Plan:
        return answer(problem, asked.seconds, ties=False)

    try:
        problems = folder.problems(job)
        answered = answer_all(problems, lambda problem: AIMS[asked.aim](problem, settled))
        answered = with_inspections(answered, folder.sealed, cost_only)
        answered = with_arrived(answered, folder.sealed, settled)
        if as_json:
            typer.echo(json.dumps(record(answered), ensure_ascii=False))
        papers = out or (None if as_json else Path("reports"))
        decided = decide(answered.plan, cost_only, asked.with_trend) if papers and _goes_on(answered.plan) else None
        moments = _moments(folder, answered, job) if asked.with_trend and decided else None
        written = ""
        if papers and answered.plan.choice is not None:
            choices = _choices(asked, answered.plan, problems, settled) if asked.several else []
            written = _write(answered.plan, papers / job.stem, decided, moments, choices, asked.copy)
        if not as_json:
            typer.echo(told(answered, decided, written))
            if answered.plan.status == Status.IMPOSSIBLE and not answered.plan.proof.interrupted:
                typer.echo(_how_to_free(folder, answered.plan, cost_only))
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


def _goes_on(plan: Plan) -> bool:
    """Whether the decision behind a plan can be told: it is proven, and nobody stopped it."""
    return plan.status == Status.PROVEN and not plan.proof.interrupted


def _how_to_free(folder: Folder, plan: Plan, cost_only: Answer) -> str:
    """What stands in the way of an impossible job, and which easings of its limits would free it."""
    problem = plan.problem

    def seal(job: Job, family: Family) -> Problem:
        return folder.sealed(job, family, problem.setting)

    return told_easings(freed(problem, seal, cost_only), problem) + "\n"


def _moments(folder: Folder, answered: Answered, job: Path) -> list[Moment]:
    from sourcing.cli.trend import moments_of

    return moments_of(folder, answered.plan.problem.job, shown(job))


def _choices(
    asked: Asked, plan: Plan, problems: Sequence[Problem], settled: Answer
) -> list[tuple[tuple[str, ...], Plan]]:
    """The plans that the customer may choose between, the quoted one in front."""

    def way(aim: Aim) -> Callable[[], Answered]:
        return lambda: answer_all(problems, lambda problem: AIMS[aim](problem, settled))

    return choices(asked.aim, plan, {aim: way(aim) for aim in AIMS})


def _write(
    plan: Plan,
    folder: Path,
    decided: Decided | None,
    moments: list[Moment] | None,
    several: list[tuple[tuple[str, ...], Plan]],
    copy: bool,
) -> str:
    """File the papers of a plan as its job's next revision; what was written, in words."""
    from sourcing.quote.charge import charge
    from sourcing.quote.papers import CUSTOMER, facts_of, papers_of
    from sourcing.quote.revisions import file_papers
    from sourcing.quote.sheets.choices import Choice
    from sourcing.quote.workbook import customer_bytes

    listed = [Choice(tuple(BEST_AT[name] for name in names), one, charge(one)) for names, one in several]
    filed = file_papers(
        folder,
        facts_of(plan),
        lambda number: papers_of(plan, decided, moments, listed, number),
        (lambda number: {CUSTOMER: customer_bytes(plan, listed, number)}) if copy else None,
    )
    return told_papers(folder, filed)
