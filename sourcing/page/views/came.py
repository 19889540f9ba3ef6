"""What came of an order: what to look at, and what was in the box; it goes into the job's [in_hand] and `unavailable`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.book.family import NONE
from sourcing.decision.receiving import Look, receiving
from sourcing.faults import BadInput
from sourcing.jobfile import JobFile
from sourcing.page.asked import Checked, Shop
from sourcing.page.desk import Desk
from sourcing.page.step import save_step, show_step
from sourcing.plan import Plan
from sourcing.prices.suppliers import Supplier, read_suppliers

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Due:
    """A part of an order that is on its way: what it is, for which position, what a piece costs, what to look at.

    `fills` "": for the shelf. `others` are the designs that may be in its box instead.
    """

    supplier: str
    supplier_name: str
    number: str
    design: str
    fills: str
    pieces: int
    cost: str
    looks: tuple[Look, ...]
    fitting: tuple[str, ...]
    untold: tuple[str, ...]
    others: tuple[str, ...]
    kit: bool


def due(plan: Plan) -> Iterator[Due]:
    """Every design of every part that a plan orders."""
    if plan.choice is None:
        return
    family = plan.problem.family
    looked = {(one.supplier, one.number, one.design): one for one in receiving(plan)}
    for order in plan.orders:
        name = plan.problem.terms[order.supplier].name
        for purchase in order.lines:
            offer = purchase.line.offer
            each = Decimal(offer.cents(purchase.quantity)) / purchase.quantity / 100
            cost = str(each.quantize(Decimal("0.01")))
            for design in dict.fromkeys(offer.part.fills):
                seen = looked[name, str(offer.part.number), design]
                home = family.design[design].position
                others = tuple(one for one in family.holds[home] if one not in (design, NONE))
                yield Due(
                    order.supplier, name, offer.part.number.spelt, design, seen.fills, seen.pieces, cost, seen.looks,
                    seen.fitting, seen.untold, others, len(offer.part.fills) > 1,
                )  # fmt: skip
                if seen.fills:
                    cost = "0.00"  # of a kit once, with the first of its designs that fills a position


def _more(name: str) -> Any:
    """What the template needs besides: what is due, and what is in hand."""

    def more(desk: Desk) -> Mapping[str, Any]:
        file = desk.file(name)
        suppliers = _suppliers(desk)
        try:
            plan = desk.answered(file).plan
            job = desk.job(file)[0]
        except BadInput:
            return {"due": [], "in_hand": {}, "unavailable": [], "date": _date(file), "plan": None,
                    "suppliers": suppliers}  # fmt: skip
        return {"due": list(due(plan)), "in_hand": dict(job.in_hand), "unavailable": list(job.limits.unavailable),
                "date": job.job.date.isoformat(), "plan": plan, "suppliers": suppliers}  # fmt: skip

    return more


def _suppliers(desk: Desk) -> Mapping[str, Supplier]:
    """The shop's suppliers; none where suppliers.toml cannot be read."""
    try:
        return read_suppliers(desk.reach.catalogs / "suppliers.toml")
    except BadInput:
        return {}


def _date(file: JobFile) -> str:
    return file.lines.get("job.date", "").strip('"')


@router.get("/jobs/{name}/came")
def came(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """What is on its way, and what is here."""
    return show_step(request, desk, name, "came", saved, _more(name))


@router.post("/jobs/{name}/came")
def save_came(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save what came, or only show what it would lead to."""
    return save_step(request, desk, name, "came", form, _more(name))
