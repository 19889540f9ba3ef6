"""Cost against the ready day, against expected comebacks, against cash: proven points, dominated ones left out."""

from __future__ import annotations

from datetime import date

from sourcing.decision import Answer
from sourcing.plan import Plan
from sourcing.problem import Problem


def by_ready_day(problem: Problem, answer: Answer, known: Plan | None = None) -> list[tuple[date | None, Plan]]:
    """The cheapest plan for each day from which waiting longer saves something, soonest first.

    A point is the date of the last arrival (None where nothing is bought) and a plan; each costs less than all sooner
    ones. With every wait tried from the shortest on, a cheaper plan needs exactly the wait at which it appears; none is
    cheaper than the best plan without a limit (`known`, where it was made before).
    """
    best = answer(problem) if known is None else known
    if best.choice is None:
        return []
    longest = max((purchase.line.workdays for purchase in best.choice.purchases), default=0)
    points: list[tuple[date | None, Plan]] = []
    for wait in sorted({0, *(line.workdays for line in problem.lines if line.workdays < longest)}):
        plan = answer(problem.within(wait)) if wait < longest else best
        if plan.choice is not None and (not points or plan.cost < points[-1][1].cost):
            points.append((plan.last_arrival, plan))
    if not points or best.cost < points[-1][1].cost:
        points.append((best.last_arrival, best))
    return points


def by_total(problem: Problem, total: str, answer: Answer, known: Plan | None = None) -> list[Plan]:
    """Plans that trade cost for less `total` ("comebacks" or "cash"), from the cheapest plan to the least total.

    Each next plan is the cheapest whose total is at least a cent lower (the epsilon-constraint method: Haimes, Lasdon
    and Wismer, IEEE Transactions on Systems, Man and Cybernetics 1(3), 1971); one that an equally dear plan beats goes.
    """
    points: list[Plan] = []
    plan = answer(problem) if known is None else known
    while plan.choice is not None:
        if points and points[-1].cost == plan.cost:
            points.pop()
        points.append(plan)
        plan = answer(problem.below(total, plan.totals.of(total) - 1))
    return points


def soonest(problem: Problem, answer: Answer) -> Plan:
    """The cheapest of the plans that are here first; the end of the frontier by ready day."""
    for wait in sorted({0, *(line.workdays for line in problem.lines)}):
        plan = answer(problem.within(wait))
        if plan.choice is not None:
            return plan
    return answer(problem)


def most_durable(problem: Problem, answer: Answer) -> Plan:
    """The cheapest of the plans with the least expected comebacks; the end of the frontier by comebacks."""
    points = by_total(problem, "comebacks", answer)
    return points[-1] if points else answer(problem)
