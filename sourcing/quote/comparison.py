"""A comparison as the JSON object that scripts read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from sourcing.decision.break_even import BreakEven, cost_at
from sourcing.decision.routes import Comparison, causes
from sourcing.money import minor_digits, text
from sourcing.plan import Plan
from sourcing.quote.record import plan_record, reason_record


def comparison_record(
    comparison: Comparison, turns: Sequence[BreakEven], frontier: Sequence[tuple[date | None, Plan]]
) -> dict[str, Any]:
    """The object of one job: its routes, the one recommended, break-even pieces, the frontier."""
    problem = comparison.problem
    lead = problem.family.lead.code
    cheapest = comparison.cheapest
    return {
        "job": problem.job.number,
        "minimise": problem.minimise,
        "routes": [
            {
                "design": route.design,
                "exact": route.exact,
                "status": route.plan.status.value,
                "cost": text(route.plan.cost) if route.plan.choice else None,
                "more": text(route.plan.cost - cheapest.plan.cost) if route.plan.choice and cheapest else None,
                "causes": {k: text(c) for k, c in causes(route.plan, cheapest.plan).items()}
                if route.plan.choice and cheapest
                else {},
                "arrives": route.plan.last_arrival.isoformat() if route.plan.last_arrival else None,
                "plan": plan_record(route.plan) if route.plan.choice else None,
                "reasons": [reason_record(reason) for reason in route.reasons],
            }
            for route in comparison.routes
        ],
        "recommended": comparison.recommended,
        "cheapest": cheapest.design if cheapest else None,
        "break_even": [break_even_record(found, lead) for found in turns],
        "frontier": [
            {
                "arrives": day.isoformat() if day else problem.job.job.date.isoformat(),
                "cost": text(plan.cost),
                "design": plan.choice.combination[lead] if plan.choice else None,
            }
            for day, plan in frontier
        ],
    }


def break_even_record(found: BreakEven, lead: str) -> dict[str, Any]:
    """The pieces of one studied price, in its supplier's currency."""
    part = found.offer.part
    problem = found.problem
    digits = minor_digits(problem.terms[part.supplier].currency)

    def own(minor: int) -> str:
        return f"{minor / 10**digits:.{digits}f}" if digits else str(minor)

    return {
        "supplier": part.supplier,
        "part_number": part.number.spelt,
        "price": own(found.offer.steps[0].minor),
        "from": own(found.low),
        "to": own(found.high),
        "pieces": [
            {
                "from": own(piece.low),
                "to": own(piece.high),
                "design": piece.plan.choice.combination[lead] if piece.plan.choice else None,
                "uses_part": piece.uses(found.offer.id),
                "cost_at_from": text(cost_at(problem, piece, found.offer.id, piece.low)),
                "cost_at_to": text(cost_at(problem, piece, found.offer.id, piece.high)),
            }
            for piece in found.pieces
        ],
    }
