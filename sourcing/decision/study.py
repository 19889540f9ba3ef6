"""What is asked of one job side by side: the decision that a quote tells, and the whole study of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import islice

from sourcing.decision import Answer
from sourcing.decision.assumptions import Carried, assumptions, carried_by
from sourcing.decision.break_even import BreakEven, around
from sourcing.decision.easing import Freed, Seal, freed
from sourcing.decision.frontier import by_ready_day, by_total
from sourcing.decision.others import Ask, asks, best
from sourcing.decision.routes import Comparison, compare
from sourcing.plan import Plan, Status

# Lines of a job beyond which a quote does not study its decision.
MOST_LINES = 5_000


@dataclass(frozen=True)
class Decided:
    """The decision in short: routes, the price at which the choice turns, what an earlier day costs; what it hangs on."""

    plan: Plan
    comparison: Comparison
    turns: tuple[BreakEven, ...]
    by_day: tuple[tuple[date | None, Plan], ...]
    assumptions: tuple[Carried, ...] = ()


@dataclass(frozen=True)
class Study(Decided):
    """A job looked at from every side. `instead` is the best plan that uses what somebody asked for."""

    asks: tuple[Ask, ...] = ()
    by_comebacks: tuple[Plan, ...] = ()
    by_cash: tuple[Plan, ...] = ()
    best: tuple[Plan, ...] = ()
    instead: Plan | None = None
    freed: Freed | None = None


def decide(plan: Plan, answer: Answer, thoroughly: bool = False) -> Decided:
    """The decision behind a plan; `thoroughly`: also which assumptions carry it, which takes as long again."""
    problem = plan.problem
    turn = around(problem, plan, answer)
    comparison = compare(problem, answer, plan)
    return Decided(
        plan=plan,
        comparison=comparison,
        turns=(turn,) if turn else (),
        by_day=tuple(by_ready_day(problem, answer, plan)),
        assumptions=_carrying(plan, comparison, answer) if thoroughly else (),
    )


def too_large(plan: Plan) -> bool:
    """Whether a job is so large that deciding, some ten solves more, would take minutes: by its lines, so always the same."""
    return len(plan.problem.lines) > MOST_LINES


def _carrying(plan: Plan, comparison: Comparison, answer: Answer) -> tuple[Carried, ...]:
    """Each assumption that enters a route's plan, with where it turns the choice."""
    weighed = tuple(route.plan for route in comparison.routes if route.plan.choice is not None)
    return tuple(carried_by(one, plan, answer) for one in assumptions(plan.problem, weighed)) if weighed else ()


def study(
    plan: Plan,
    turns: tuple[BreakEven, ...],
    instead: Plan | None,
    wanted: int,
    by_source: bool,
    seal: Seal,
    answer: Answer,
    cost_only: Answer,
) -> Study:
    """Look at the job of a plan from every side.

    Parameters
    ----------
    wanted : how many of the best plans to tell, each another combination; with `by_source` also the same from other parts
    seal : seals the job anew with other limits, where it is impossible
    answer : settles ties, so that the plans shown are always the same
    cost_only : leaves them, where only the cost is shown
    """
    problem = plan.problem
    comparison = compare(problem, answer, plan)
    return Study(
        plan=plan,
        comparison=comparison,
        turns=turns,
        by_day=tuple(by_ready_day(problem, cost_only, plan)),
        asks=tuple(asks(problem, plan, cost_only)) if plan.choice else (),
        by_comebacks=tuple(by_total(problem, "comebacks", cost_only, plan)),
        by_cash=tuple(by_total(problem, "cash", cost_only, plan)),
        assumptions=_carrying(plan, comparison, cost_only),
        best=tuple(islice(best(problem, answer, by_source, plan), wanted)),
        instead=instead,
        freed=freed(problem, seal, cost_only) if plan.status == Status.IMPOSSIBLE else None,
    )
