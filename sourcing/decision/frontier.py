"""Cost against the day on which everything is here: every point proven, dominated points left out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from sourcing.plan import Plan
from sourcing.problem import Problem

Answer = Callable[[Problem], Plan]


def by_ready_day(problem: Problem, answer: Answer) -> list[tuple[date | None, Plan]]:
    """The cheapest plan for each day from which waiting longer saves something, soonest first.

    A point is the date of the last arrival (None where nothing is bought) and a plan; each costs less than all sooner
    ones. With every wait tried from the shortest on, a cheaper plan needs exactly the wait at which it appears.
    """
    points: list[tuple[date | None, Plan]] = []
    for wait in sorted({0, *(line.workdays for line in problem.lines)}):
        plan = answer(problem.within(wait))
        if plan.choice is not None and (not points or plan.cost < points[-1][1].cost):
            points.append((plan.last_arrival, plan))
    return points
