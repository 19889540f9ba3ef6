"""Everything that is asked of one job side by side: routes, turns, asks, frontiers, another plan, the next best."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import islice

from sourcing.decision import Answer
from sourcing.decision.break_even import BreakEven
from sourcing.decision.frontier import by_ready_day, by_total
from sourcing.decision.others import Ask, asks, best
from sourcing.decision.routes import Comparison, compare
from sourcing.plan import Plan


@dataclass(frozen=True)
class Study:
    """A job looked at from every side. `instead` is the best plan that uses what somebody asked for."""

    plan: Plan
    comparison: Comparison
    turns: tuple[BreakEven, ...]
    asks: tuple[Ask, ...]
    by_day: tuple[tuple[date | None, Plan], ...]
    by_comebacks: tuple[Plan, ...]
    by_cash: tuple[Plan, ...]
    best: tuple[Plan, ...] = ()
    instead: Plan | None = None


def study(
    plan: Plan, turns: tuple[BreakEven, ...], instead: Plan | None, wanted: int, answer: Answer, cost_only: Answer
) -> Study:
    """Look at the job of a plan from every side.

    Parameters
    ----------
    wanted : how many of the best plans to tell, each another combination
    answer : settles ties, so that the plans shown are always the same
    cost_only : leaves them, where only the cost is shown
    """
    problem = plan.problem
    return Study(
        plan=plan,
        comparison=compare(problem, answer),
        turns=turns,
        asks=tuple(asks(problem, plan, cost_only)) if plan.choice else (),
        by_day=tuple(by_ready_day(problem, cost_only)),
        by_comebacks=tuple(by_total(problem, "comebacks", cost_only)),
        by_cash=tuple(by_total(problem, "cash", cost_only)),
        best=tuple(islice(best(problem, answer), wanted)),
        instead=instead,
    )
