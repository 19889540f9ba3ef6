"""An answer as the JSON object that scripts read: money as strings with two decimals, dates by ISO 8601."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

from sourcing.book.fitting import Reason
from sourcing.decision.possibilities import Answered
from sourcing.money import half_up, text
from sourcing.plan import FILLS, SENT_BACK, TOTALS, Plan, Purchase, becomes, credit


def record(answered: Answered) -> dict[str, Any]:
    """The object of one job."""
    plan = answered.plan
    era: Any = answered.eras[0] if len(answered.eras) == 1 else list(answered.eras)
    return {"job": plan.problem.job.number, "status": plan.status.value, "era": era, **plan_record(plan)}


def plan_record(plan: Plan) -> dict[str, Any]:
    """The parts of the object that speak of one plan."""
    choice = plan.choice
    return {
        "combination": dict(choice.combination) if choice else {},
        "kept": list(choice.kept) if choice else [],
        **({"in_hand": in_hand_record(plan)} if plan.problem.in_hand else {}),
        "purchases": _purchases(plan),
        "freight": [
            {"supplier": o.supplier, "mode": o.mode, "cost": text(o.freight_cents), "arrives": o.arrives.isoformat()}
            for o in plan.orders
        ],
        "core_returns": _returns(plan),
        "tasks": [{"code": work.code, "hours": work.hours, "cost": text(work.cents)} for work in plan.works],
        "totals": {name: text(plan.totals.of(name)) for name in TOTALS} if choice else {},
        "proof": {
            "solver": plan.proof.solver,
            "bound": None if plan.proof.bound is None else text(plan.proof.bound),
            "gap": plan.proof.gap,
            "seconds": round(plan.proof.seconds, 3),
            "settled": plan.proof.settled,
        },
        "reasons": [reason_record(reason) for reason in plan.reasons],
        "notes": list(plan.problem.notes),
    }


def reason_record(reason: Reason) -> dict[str, str]:
    return {"kind": reason.kind, "says": reason.says, "code": reason.code, "source": reason.source}


def in_hand_record(plan: Plan) -> list[dict[str, Any]]:
    """The parts in hand: what becomes of each, and what the plan's parts count for it."""
    told = []
    for position, hand in plan.problem.in_hand.items() if plan.choice else ():
        used, back = becomes(plan, position) == FILLS, becomes(plan, position) == SENT_BACK
        part: dict[str, Any] = {"position": position, "design": hand.design, "source": hand.source}
        part |= {"supplier": hand.supplier, "part_number": hand.number} if hand.supplier else {}
        part |= {"becomes": becomes(plan, position), "cost": text(hand.cents(used, back))}
        told.append({**part, "core_charge_back": text(hand.core_cents)} if back else part)
    return told


def _purchases(plan: Plan) -> list[dict[str, Any]]:
    if plan.choice is None:
        return []
    used = Counter(plan.choice.fills.values())
    lines = []
    for purchase in sorted(plan.choice.purchases, key=lambda purchase: purchase.key):
        offer = purchase.line.offer
        pieces = purchase.quantity * len(offer.part.fills)
        spent = min(pieces, used[offer.id])
        used[offer.id] -= spent
        lines.append(purchase_record(purchase, pieces - spent))
    return lines


def purchase_record(purchase: Purchase, left_over: int) -> dict[str, Any]:
    """A line that is bought; `left_over` designs of its pieces are used by nothing."""
    offer = purchase.line.offer
    total = offer.cents(purchase.quantity)
    source = offer.source
    line: dict[str, Any] = {
        "supplier": offer.supplier,
        "mode": purchase.line.mode.mode,
        "part_number": offer.part.number.spelt,
        "fills": list(offer.part.fills),
        "quantity": purchase.quantity,
        "unit_price": text(half_up(Fraction(total, purchase.quantity))),
        "core_charge": text(offer.core_cents),
        "left_over": left_over,
        "source": {"file": source.file, "sheet": source.sheet, "row": source.row, "date": source.day.isoformat()},
    }
    if offer.incremental:
        line["line_total"] = text(total)
    if offer.stock is None:
        line["confirm_stock"] = True
    return line


def _returns(plan: Plan) -> list[dict[str, Any]]:
    found = []
    for item in plan.choice.returns if plan.choice else ():
        part = plan.problem.offer[item.offer].part
        found.append({
            "design": item.design,
            "supplier": part.supplier,
            "part_number": part.number.spelt,
            "credit": text(credit(plan.problem, item.offer)),
        })  # fmt: skip
    return found
