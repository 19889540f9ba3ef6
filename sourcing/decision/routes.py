"""The best plan for each design of the lead position, or why there is none, and what makes the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.book.fitting import Reason, reasons_against
from sourcing.decision import Answer
from sourcing.money import to_cents
from sourcing.plan import Plan, Status
from sourcing.problem import Problem

CAUSES = {
    "cash": ("parts", "core_charges", "freight"),
    "landed": ("parts", "core_charges", "core_credit", "freight", "core_return"),
    "whole": (
        "parts",
        "core_charges",
        "core_credit",
        "freight",
        "core_return",
        "labour",
        "comebacks",
        "waiting",
        "shelf",
    ),
}
# Totals that are taken off the cost rather than added to it.
TAKEN_OFF = ("core_credit", "shelf")


@dataclass(frozen=True)
class Route:
    """A design of the lead position with its best plan; `exact` where the factory fitted it in this era.

    `reasons` say why there is no plan.
    """

    design: str
    exact: bool
    plan: Plan
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """Routes side by side, cheapest first, those without a plan last; `recommended` is None where there is none."""

    problem: Problem
    routes: tuple[Route, ...]
    recommended: str | None

    @property
    def cheapest(self) -> Route | None:
        return self.routes[0] if self.routes and self.routes[0].plan.choice is not None else None


def routes(problem: Problem, answer: Answer, known: Plan | None = None) -> tuple[Route, ...]:
    """Every design of the lead position, cheapest first; `known` is the problem's own plan, where it was made before."""
    lead = problem.family.lead.code
    found = []
    for design in problem.family.holds[lead]:
        made = problem.family.design.get(design)
        exact = made is not None and problem.setting.era in made.fitted
        held = problem.holding(lead, design)
        if known is not None and known.choice is not None and known.choice.combination[lead] == design:
            plan = known
        else:
            plan = answer(held) if held.fitting is not None else Plan(held, Status.IMPOSSIBLE)
        found.append(Route(design, exact, plan, () if plan.choice else tuple(why_none(problem, design))))
    return tuple(sorted(found, key=lambda route: (route.plan.choice is None, route.plan.cost, route.design)))


def compare(problem: Problem, answer: Answer, known: Plan | None = None) -> Comparison:
    """Routes, and the one to recommend: the cheapest, unless an exact one costs at most `worth_changing` more."""
    found = routes(problem, answer, known)
    possible = [route for route in found if route.plan.choice is not None]
    if not possible:
        return Comparison(problem, found, None)
    allowed = possible[0].plan.cost + to_cents(problem.shop.worth_changing)
    exact = [route for route in possible if route.exact and route.plan.cost <= allowed]
    return Comparison(problem, found, (exact or possible)[0].design)


def causes(dearer: Plan, cheaper: Plan) -> dict[str, int]:
    """What makes a plan dearer than another, by the totals of its cost: cents that add up to the difference."""
    differences = {}
    for name in CAUSES[dearer.problem.minimise]:
        difference = dearer.totals.of(name) - cheaper.totals.of(name)
        differences[name] = -difference if name in TAKEN_OFF else difference
    return differences


def why_none(problem: Problem, design: str) -> Sequence[Reason]:
    """Why no plan holds a design: the book's reasons, the limits', or that it cannot be had."""
    made = problem.family.design.get(design)
    position = made.position if made is not None else problem.family.lead.code
    limits = problem.job.limits
    reasons = list(reasons_against(problem.family, problem.setting, {position: design}))
    name = problem.family.name_of(design)
    if design in limits.exclude:
        reasons.append(Reason("limit", f"the job excludes {name}", design))
    elif any(other != design and problem.family.design[other].position == position for other in limits.require):
        reasons.append(Reason("limit", f"the job requires another in the place of {name}", design))
    if not reasons:
        reasons += [reason for reason in problem.refusals if design in reason.designs]
        reasons += problem.blocked
        reasons.append(
            Reason("part", f"no valid combination with {name} can be had in time and within the limits", design)
        )
    return reasons
