"""A decision in the trade's words: what makes the difference, where the choice turns, what an earlier day costs."""

from __future__ import annotations

from datetime import date
from typing import Protocol

from sourcing.decision.break_even import BreakEven
from sourcing.decision.routes import Comparison, Route, causes
from sourcing.money import text
from sourcing.plan import Plan, Status
from sourcing.quote.comparison import own

WORDS = {
    Status.PROVEN: "proven: no valid plan is cheaper by a cent",
    Status.BEST_FOUND: "NOT PROVEN: the best plan found when the time was up",
    Status.IMPOSSIBLE: "IMPOSSIBLE: no valid plan",
    Status.NOTHING_FOUND: "NOTHING FOUND before the time was up",
    Status.OPEN: "OPEN: the answer hangs on what was not said",
}
CAUSE_WORDS = {
    "parts": "parts",
    "core_charges": "core charges",
    "core_credit": "cores that do not come back",
    "freight": "freight",
    "core_return": "returning cores",
    "labour": "labour",
    "comebacks": "expected comebacks",
    "waiting": "waiting",
    "shelf": "what is left for the shelf",
}


class Decided(Protocol):
    """What a picture and a sheet need of a decision."""

    @property
    def plan(self) -> Plan: ...
    @property
    def comparison(self) -> Comparison: ...
    @property
    def turns(self) -> tuple[BreakEven, ...]: ...
    @property
    def by_day(self) -> tuple[tuple[date | None, Plan], ...]: ...


def kind_of(route: Route) -> str:
    return "exact" if route.exact else "substitute"


def told_causes(dearer: Plan, cheaper: Plan) -> str:
    """What makes a plan cost more than another, the greatest cause first; amounts that add up to the difference."""
    named = sorted(((name, c) for name, c in causes(dearer, cheaper).items() if c), key=lambda item: -abs(item[1]))
    return ", ".join(f"{text(abs(c))} {'more' if c > 0 else 'less'} for {CAUSE_WORDS[name]}" for name, c in named)


def in_short(decided: Decided) -> list[str]:
    """The decision in three lines: the routes, until which price it holds, what an earlier day costs."""
    return [line for line in (_routes_told(decided), _turn_told(decided), _sooner_told(decided)) if line]


def _routes_told(decided: Decided) -> str:
    able = [route for route in decided.comparison.routes if route.plan.choice is not None]
    name = decided.comparison.problem.family.name_of
    return "; ".join(f"{name(route.design)} ({kind_of(route)}) {text(route.plan.cost)}" for route in able)


def _turn_told(decided: Decided) -> str:
    if not decided.turns:
        return ""
    found = decided.turns[0]
    terms = found.problem.terms[found.offer.supplier]
    now = own(found.offer.steps[0].minor, terms.currency)
    until = ", ".join(own(turn, terms.currency) for turn in found.turns) or "nowhere"
    return f"{terms.name} {found.offer.part.number} costs {now} {terms.currency}; another plan begins at: {until}."


def _sooner_told(decided: Decided) -> str:
    days = [f"{day.isoformat() if day else 'at once'} for {text(plan.cost)}" for day, plan in decided.by_day]
    return f"All can be here: {'; '.join(days)}." if days else ""
