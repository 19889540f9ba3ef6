"""What the counter asks of a shop's folder: a job quoted, decided, compared, its bench told, its papers filed.

The command line and the page ask the same here, so that they cannot answer differently.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from sourcing.book.bench import Bench
from sourcing.book.family import Family
from sourcing.bookshelf import Bookshelf
from sourcing.decision import Answer
from sourcing.decision.arrived import with_arrived
from sourcing.decision.break_even import BreakEven, around
from sourcing.decision.choices import choices
from sourcing.decision.easing import Freed, freed
from sourcing.decision.frontier import most_durable, soonest
from sourcing.decision.inspections import with_inspections
from sourcing.decision.possibilities import Answered, answer_all
from sourcing.decision.study import Decided, Study, study
from sourcing.decision.trend import Moment, trend
from sourcing.faults import BadInput
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.plan import Plan, Status
from sourcing.pool.buying import Bought
from sourcing.problem import Problem
from sourcing.quote.revisions import Revision
from sourcing.unitlist import Unit

Aim = Literal["cheapest", "soonest", "most-durable"]
AIMS: Mapping[Aim, Callable[[Problem, Answer], Plan]] = {
    "cheapest": lambda problem, answer: answer(problem),
    "soonest": soonest,
    "most-durable": most_durable,
}
BEST_AT: Mapping[str, str] = {
    "cheapest": "choice_cheapest",
    "soonest": "choice_soonest",
    "most-durable": "choice_durable",
}


@dataclass(frozen=True, slots=True)
class Answers:
    """How a question is answered: `settled` always by the same plan among equals, `cost_only` where only the cost is shown."""

    settled: Answer
    cost_only: Answer


def answers(seconds: float | None = None) -> Answers:
    """Answers by the program. `seconds`: the time limit of one solve."""
    from sourcing.program.answer import answer

    return Answers(lambda problem: answer(problem, seconds), lambda problem: answer(problem, seconds, ties=False))


def quoted(folder: Folder, problems: Sequence[Problem], by: Answers, aim: Aim = "cheapest") -> Answered:
    """A job's answer, with what failed inspections cost and what becomes of parts in hand."""
    answered = answer_all(problems, lambda problem: AIMS[aim](problem, by.settled))
    answered = with_inspections(answered, folder.sealed, by.cost_only)
    return with_arrived(answered, folder.sealed, by.settled)


def goes_on(plan: Plan) -> bool:
    """Whether the decision behind a plan can be told: it is proven, and nobody stopped it."""
    return plan.status == Status.PROVEN and not plan.proof.interrupted


def freed_of(folder: Folder, plan: Plan, by: Answers) -> Freed:
    """What stands in the way of an impossible job, and which easings of its limits would free it."""
    return freed(plan.problem, _sealing(folder, plan.problem), by.cost_only)


def studied(
    folder: Folder,
    plan: Plan,
    by: Answers,
    turns: Sequence[BreakEven] | None = None,
    instead: Plan | None = None,
    best: int = 0,
    by_source: bool = False,
) -> Study:
    """A job looked at from every side; without `turns`, at the price of the part that fills the lead position."""
    if turns is None:
        found = around(plan.problem, plan, by.cost_only)
        turns = (found,) if found else ()
    seal = _sealing(folder, plan.problem)
    return study(plan, tuple(turns), instead, best, by_source, seal, by.settled, by.cost_only)


def _sealing(folder: Folder, problem: Problem) -> Callable[[Job, Family], Problem]:
    return lambda job, family: folder.sealed(job, family, problem.setting)


def moments_of(folder: Folder, job: Job, file: str, by: Answers) -> list[Moment]:
    """A job at each date of the record of prices."""
    return trend(replayed(folder, job, folder.prices.days(), file), by.cost_only)


def replayed(folder: Folder, job: Job, days: Sequence[date], file: str) -> Iterator[tuple[date, Problem]]:
    """The job moved to each day, a promise and the days on which parts came moved with it; of possibilities that answer alike
    the first."""
    for day in days:
        later = day - job.job.date
        here = {
            position: hand.model_copy(update={"came": hand.came and hand.came + later})
            for position, hand in job.in_hand.items()
        }
        moved = job.moved_to(day).model_copy(update={"in_hand": here})
        yield day, folder.problems_of(moved, file)[0]


def ways(aim: Aim, plan: Plan, problems: Sequence[Problem], by: Answers) -> list[tuple[tuple[str, ...], Plan]]:
    """The plans that the customer may choose between, the quoted one in front."""

    def way(other: Aim) -> Callable[[], Answered]:
        return lambda: answer_all(problems, lambda problem: AIMS[other](problem, by.settled))

    return choices(aim, plan, {other: way(other) for other in AIMS})


def file_quote(
    plan: Plan,
    folder: Path,
    decided: Decided | None,
    moments: Sequence[Moment] | None = None,
    several: Sequence[tuple[tuple[str, ...], Plan]] = (),
    copy: bool = False,
) -> Revision:
    """File the papers of a plan as its job's next revision.

    Parameters
    ----------
    folder : the job's folder under reports/
    several : plans that the customer may choose between
    copy : the customer's sheet as a file of its own too
    """
    from sourcing.quote.charging import charge
    from sourcing.quote.papers import CUSTOMER, facts_of, papers_of
    from sourcing.quote.revisions import file_papers
    from sourcing.quote.sheets.choices import Choice
    from sourcing.quote.workbook import customer_bytes

    listed = [Choice(tuple(BEST_AT[name] for name in names), one, charge(one)) for names, one in several]
    return file_papers(
        folder,
        facts_of(plan),
        lambda number: papers_of(plan, decided, moments, listed, number),
        (lambda number: {CUSTOMER: customer_bytes(plan, listed, number)}) if copy else None,
    )


def worths_of(shelf: Bookshelf, job: Job, file: str, bench: Bench) -> tuple[dict[tuple[str, str], str], str]:
    """What the most telling looks are worth in money, by position and mark; and why that is not told where it is not."""
    if not bench.looks or not shelf.priced:
        return {}, ""
    from sourcing.decision.looks import MOST_LOOKS, worths
    from sourcing.money import text
    from sourcing.prices.cache import Cache

    try:
        folder = Folder(shelf.path, Cache())
        found = worths(job, bench.looks, lambda changed: folder.problems_of(changed, file), answers().cost_only)
    except BadInput as error:
        return {}, f"What a look is worth cannot be told: {error.faults[0]}"
    if found is None:
        return {}, "What a look is worth cannot be told: by what is known now there is no plan, or it is open."
    said = f"Money: the plan made now less what plans made after the look cost on average; the first {MOST_LOOKS} looks only."
    return {(one.look.mark.position, one.look.mark.code): text(one.cents) for one in found}, said


def pooled(
    folder: Folder,
    units: Sequence[Unit],
    told: Callable[[str, int, int], object],
    plans: Callable[[float | None, float | None], object],
    stop: Callable[[], bool],
) -> Bought:
    """Jobs planned together, as `sourcing buy` plans them.

    Parameters
    ----------
    told : hears of each step, how much of it is done and of how much
    plans : hears of the best plan and the bound, in cents, while the solver is at work
    stop : whether a person wants the best plan so far; what it saves and who pays what is told all the same

    Raises
    ------
    BadInput
        where a job cannot be read, or the jobs cannot stand in one order
    """
    from sourcing.intake import sealed_all
    from sourcing.pool.buying import buy
    from sourcing.program.answer import Watch, answer
    from sourcing.program.together import answer_together

    def joining(done: int, of: int) -> None:
        told("joining jobs, books and prices", done, of)

    problems = sealed_all(folder, units, joining)

    def heard(best: float | None, bound: float | None) -> None:
        plans(best, bound)

    def steps(step: str, done: int, of: int) -> None:
        told(step, done, of)

    return buy(
        problems,
        lambda problem: answer(problem, ties=False),
        lambda pool: answer_together(pool, Watch(None, told=heard, stop=stop)),
        steps,
    )


def pool_papers_filed(bought: Bought, folder: Path, name: str) -> Revision:
    """File the papers of a pool as its next revision."""
    from sourcing.quote.poolpapers import pool_facts, pool_papers
    from sourcing.quote.revisions import file_papers

    return file_papers(folder, pool_facts(bought), lambda number: pool_papers(bought, name, number))
