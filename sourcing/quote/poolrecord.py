"""A pool's answer as the JSON object that scripts read."""

from __future__ import annotations

from typing import Any

from sourcing.money import text
from sourcing.plan import TOTALS, Plan
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan, core_credit, line_key, unused
from sourcing.quote.record import in_hand_record, purchase_record, reason_record


def pool_record(bought: Bought) -> dict[str, Any]:
    """The object of all the jobs together: that of one job, with `jobs`, `alone`, `saved` and how shares were found."""
    plan = bought.plan
    saved, alone = bought.saved, bought.alone_total
    return {
        "status": plan.status.value,
        "jobs": _jobs(bought),
        "purchases": _purchases(plan),
        "freight": [
            {"supplier": o.supplier, "mode": o.mode, "cost": text(o.freight_cents), "arrives": o.arrives.isoformat()}
            for o in plan.orders
        ],
        "core_returns": _returns(plan),
        "tasks": [
            {"job": one.number, "code": work.code, "hours": work.hours, "cost": text(work.cents)}
            for one in plan.gets
            for work in one.works
        ],
        "totals": {name: text(plan.totals.of(name)) for name in TOTALS} if plan.gets else {},
        "alone": None if alone is None else text(alone),
        "saved": None if saved is None else text(saved),
        "shared_by": bought.rule,
        "proof": {
            "solver": plan.proof.solver,
            "bound": None if plan.proof.bound is None else text(plan.proof.bound),
            "gap": plan.proof.gap,
            "seconds": round(plan.proof.seconds, 3),
            "settled": plan.proof.settled,
        },
        "reasons": [reason_record(reason) for reason in plan.reasons],
        "notes": noted(plan),
    }


def _jobs(bought: Bought) -> list[dict[str, Any]]:
    told = []
    for one in bought.plan.gets:
        alone, eras = bought.alone.get(one.number), bought.eras[one.number]
        job: dict[str, Any] = {
            "job": one.number,
            "era": eras[0] if len(eras) == 1 else list(eras),
            "combination": dict(one.choice.combination),
            "kept": list(one.choice.kept),
            "share": text(bought.shares[one.number]) if bought.shares else None,
            "alone": None if alone is None else text(alone),
        }
        if one.problem.in_hand:
            job["in_hand"] = in_hand_record(Plan(one.problem, bought.plan.status, one.choice))
        told.append(job)
    return told


def _purchases(plan: PoolPlan) -> list[dict[str, Any]]:
    left = unused(plan)
    return [
        {
            **purchase_record(purchase, left[line_key(purchase)]),
            "jobs": {number: pieces for number, pieces in plan.pieces[line_key(purchase)].items() if pieces},
        }
        for purchase in sorted(plan.purchases, key=lambda purchase: purchase.key)
    ]


def _returns(plan: PoolPlan) -> list[dict[str, Any]]:
    found = []
    for one in plan.gets:
        for item in one.choice.returns:
            part = plan.pool.offer[item.offer].part
            found.append({
                "job": one.number,
                "design": item.design,
                "supplier": part.supplier,
                "part_number": part.number.spelt,
                "credit": text(core_credit(plan.pool, item)),
            })  # fmt: skip
    return found


def noted(plan: PoolPlan) -> list[str]:
    """What was noted of the jobs, once where it is the same for all jobs of a lot."""
    noted: dict[str, list[str]] = {}
    for lot in plan.pool.lots:
        for note in lot.problem.notes:
            noted.setdefault(note, []).extend(job.job.number for job in lot.jobs)
    if len(noted) and plan.pool.jobs > 1:
        return [note if len(of) == plan.pool.jobs else f"{_named(of)}: {note}" for note, of in noted.items()]
    return list(noted)


def _named(numbers: list[str]) -> str:
    return (
        f"job {numbers[0]}"
        if len(numbers) == 1
        else f"jobs {', '.join(numbers[:6])}" + (f" and {len(numbers) - 6} more" if len(numbers) > 6 else "")
    )
