"""The best plan for each design of the lead position, or why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sourcing.plan import Plan
from sourcing.problem import Problem

Answer = Callable[[Problem], Plan]


@dataclass(frozen=True)
class Route:
    """A design of the lead position with its best plan; `exact` where the factory fitted it in this era."""

    design: str
    exact: bool
    plan: Plan


def routes(problem: Problem, answer: Answer) -> list[Route]:
    """Every design that the lead position may still hold, cheapest first."""
    lead = problem.family.lead.code
    found = []
    for design in problem.domains.get(lead, ()):
        made = problem.family.design.get(design)
        exact = made is not None and problem.setting.era in made.fitted
        found.append(Route(design, exact, answer(problem.holding(lead, design))))
    return sorted(found, key=lambda route: (route.plan.choice is None, route.plan.cost, route.design))
