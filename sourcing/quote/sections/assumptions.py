"""The report's section on assumptions: the numbers that the choice hangs on, and where each would turn it."""

from __future__ import annotations

from sourcing.decision.assumptions import Assumption, Turning
from sourcing.decision.study import Study
from sourcing.quote.sections.parts import section, table
from sourcing.quote.tags import Inside, Markup, name
from sourcing.quote.words import assumption_named, plan_named, value_told


def assumptions_section(study: Study) -> Markup | None:
    """One number at a time, with everything else as it is."""
    if not study.assumptions:
        return None
    rows: list[list[Inside]] = []
    for carried in study.assumptions:
        one = carried.assumption
        looked = f"{value_told(one, one.low)} to {value_told(one, one.high)}"
        sides = [_side(one, carried.below, "and less"), _side(one, carried.above, "and more")]
        told = "; ".join(side for side in sides if side) or f"no value from {looked}"
        rows.append([name(assumption_named(one, study.plan.problem)), value_told(one, one.now), name(told)])
    head = ("Assumption", "Now", "Another combination is cheapest at")
    return section("What the decision hangs on", table("One number at a time, all else as it is", head, rows, "wnw"))


def _side(assumption: Assumption, turning: Turning | None, side: str) -> str:
    return "" if turning is None else f"{value_told(assumption, turning.value)} {side}: {plan_named(turning.plan)}"
