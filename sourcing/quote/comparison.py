"""A comparison as the JSON object that scripts read."""

from __future__ import annotations

from typing import Any

from sourcing.decision.assumptions import Carried, Turning
from sourcing.decision.break_even import BreakEven, cost_at
from sourcing.decision.cliffs import Cliff, cliffs
from sourcing.decision.others import Ask
from sourcing.decision.routes import Route, causes
from sourcing.decision.study import Study
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.charging import charge
from sourcing.quote.record import plan_record, reason_record
from sourcing.quote.words import own, signed


def study_record(study: Study) -> dict[str, Any]:
    """The object of one job: its routes, the one recommended, break-even pieces, asks, frontiers."""
    comparison = study.comparison
    problem = comparison.problem
    lead = problem.family.lead.code
    cheapest = comparison.cheapest
    said: dict[str, Any] = {
        "job": problem.job.number,
        "minimise": problem.minimise,
        "routes": [_route_record(route, cheapest) for route in comparison.routes],
        "recommended": comparison.recommended,
        "cheapest": cheapest.design if cheapest else None,
        "break_even": [break_even_record(found, lead) for found in study.turns],
        "asks": [_ask_record(problem, ask) for ask in study.asks],
        "cliffs": [_cliff_record(problem, cliff) for cliff in cliffs(study.plan)],
        "frontier": [
            {"arrives": (day or problem.job.job.date).isoformat(), "cost": text(plan.cost), "design": _lead_of(plan)}
            for day, plan in study.by_day
        ],
        "frontier_comebacks": [_point(plan, "comebacks") for plan in study.by_comebacks],
        "frontier_cash": [_point(plan, "cash") for plan in study.by_cash],
    }
    said["assumptions"] = [_assumption_record(carried) for carried in study.assumptions]
    if study.freed is not None:
        said["stands_in_the_way"] = [*map(str, study.freed.stands.limits), *study.freed.stands.rules]
        said["easings"] = [
            {"eased": easing.says, "cost": text(easing.plan.cost), "plan": plan_record(easing.plan)}
            for easing in study.freed.easings
        ]
    if study.best:
        said["best"] = [{"cost": text(plan.cost), "plan": plan_record(plan)} for plan in study.best]
    if study.instead is not None:
        differences = causes(study.instead, study.plan) if study.instead.choice and study.plan.choice else {}
        said["why_not"] = {
            "status": study.instead.status.value,
            "cost": text(study.instead.cost) if study.instead.choice else None,
            "more": text(study.instead.cost - study.plan.cost) if differences else None,
            "causes": {name: text(cents) for name, cents in differences.items()},
            "plan": plan_record(study.instead) if study.instead.choice else None,
            "reasons": [reason_record(reason) for reason in study.instead.reasons] if not study.instead.choice else [],
        }
    return said


def _route_record(route: Route, cheapest: Route | None) -> dict[str, Any]:
    told = route.plan.choice is not None and cheapest is not None
    differences = causes(route.plan, cheapest.plan) if told and cheapest else {}
    return {
        "design": route.design,
        "exact": route.exact,
        "status": route.plan.status.value,
        "cost": text(route.plan.cost) if told else None,
        "more": text(route.plan.cost - cheapest.plan.cost) if told and cheapest else None,
        "causes": {name: text(cents) for name, cents in differences.items()},
        "arrives": route.plan.last_arrival.isoformat() if route.plan.last_arrival else None,
        "price": text(charge(route.plan).total_cents) if told else None,
        "margin": text(charge(route.plan).margin_cents) if told else None,
        "plan": plan_record(route.plan) if told else None,
        "reasons": [reason_record(reason) for reason in route.reasons],
    }


def _ask_record(problem: Problem, ask: Ask) -> dict[str, Any]:
    part = ask.offer.part
    currency = problem.terms[part.supplier].currency
    return {
        "supplier": part.supplier,
        "part_number": part.number.spelt,
        "currency": currency,
        "price": own(ask.offer.steps[0].minor, currency),
        "wins_at": None if ask.wins_at_minor is None else own(ask.wins_at_minor, currency),
    }


def _assumption_record(carried: Carried) -> dict[str, Any]:
    one = carried.assumption
    return {
        "kind": one.kind,
        "of": list(one.of),
        "now": str(one.now),
        "from": str(one.low),
        "to": str(one.high),
        "turns_below": _turning_record(carried.below),
        "turns_above": _turning_record(carried.above),
    }


def _turning_record(turning: Turning | None) -> dict[str, Any] | None:
    if turning is None or turning.plan.choice is None:
        return None
    return {
        "at": str(turning.value),
        "design": _lead_of(turning.plan),
        "combination": dict(turning.plan.choice.combination),
    }


def _cliff_record(problem: Problem, cliff: Cliff) -> dict[str, Any]:
    currency = problem.terms[cliff.order.supplier].currency
    distance = cliff.distance if cliff.purchase is not None else signed(cliff.distance, currency)
    said: dict[str, Any] = {"kind": cliff.kind, "supplier": cliff.order.supplier, "mode": cliff.order.mode}
    said |= {"distance": distance, "currency": currency}
    if cliff.purchase is not None:
        said["part_number"] = cliff.purchase.line.offer.part.number.spelt
    said["losses"] = [
        {
            "part_number": loss.purchase.line.offer.part.number.spelt,
            "more": None if loss.more_cents is None else text(loss.more_cents),
        }
        for loss in cliff.losses
    ]
    return said


def _point(plan: Plan, total: str) -> dict[str, Any]:
    return {total: text(plan.totals.of(total)), "cost": text(plan.cost), "design": _lead_of(plan)}


def _lead_of(plan: Plan) -> str | None:
    return plan.choice.combination[plan.problem.family.lead.code] if plan.choice else None


def break_even_record(found: BreakEven, lead: str) -> dict[str, Any]:
    """The pieces of one studied price, in its supplier's currency."""
    part = found.offer.part
    problem = found.problem
    currency = problem.terms[part.supplier].currency
    return {
        "supplier": part.supplier,
        "part_number": part.number.spelt,
        "price": own(found.offer.steps[0].minor, currency),
        "from": own(found.low, currency),
        "to": own(found.high, currency),
        "pieces": [
            {
                "from": own(piece.low, currency),
                "to": own(piece.high, currency),
                "design": piece.plan.choice.combination[lead] if piece.plan.choice else None,
                "uses_part": piece.uses(found.offer.id),
                "cost_at_from": text(cost_at(problem, piece, found.offer.id, piece.low)),
                "cost_at_to": text(cost_at(problem, piece, found.offer.id, piece.high)),
            }
            for piece in found.pieces
        ],
    }
