"""What a job of a pool is charged on: its pieces at the price that the joint order pays, and its part of the freight.

price        a piece costs what its line costs in the joint order over the pieces of it, rounded to the cent; where a kit is
             parted between jobs, over the pieces that the jobs get of it.
freight      each order's freight is dealt out to the jobs that get pieces of it in proportion to what those pieces cost, to
             the cent; what no job's pieces came with is borne by nobody's quote.
core return  what sending cores back to a supplier costs, dealt out to the jobs whose cores go there in proportion to the
             credit that they bring.
cores        an old part that the shop takes settles a core charge of its own job, whichever piece it goes back against.

All else is reckoned as for a job by itself (`charging.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from math import floor

from sourcing.money import half_up
from sourcing.plan import Order, Plan, Purchase, Totals, comebacks_of, in_hand_parts, waiting_of
from sourcing.pool.plan import Got, LineKey, PoolPlan, core_credit, line_key
from sourcing.prices.offers import Offer, Step


def job_plans(plan: PoolPlan) -> dict[str, Plan]:
    """Each job of a pool as a plan of its own, by number, at the joint order's prices."""
    offers = {line_key(p): _at_pooled_price(p, plan.pieces.get(line_key(p), {})) for p in plan.purchases}
    freight = _freight(plan)
    returning = _core_return(plan)
    return {one.number: _job_plan(plan, one, offers, freight, returning.get(one.number, 0)) for one in plan.gets}


def _at_pooled_price(purchase: Purchase, pieces: Mapping[str, int]) -> Offer:
    """The offer of a line as if each piece cost what it costs in the joint order."""
    offer, over = purchase.line.offer, max(purchase.quantity, sum(pieces.values()))
    minor, cents = (half_up(Fraction(total(purchase.quantity), over)) for total in (offer.minor, offer.cents))
    return replace(offer, steps=(Step(1, minor, cents),), incremental=False, minimum=1, pack=1)


def _freight(plan: PoolPlan) -> dict[tuple[str, tuple[str, str]], int]:
    """Freight by job and order."""
    dealt: dict[tuple[str, tuple[str, str]], int] = {}
    for order in plan.orders:
        worth: dict[str, int] = {}
        for purchase in order.lines:
            each = Fraction(purchase.line.offer.cents(purchase.quantity), purchase.quantity)
            for number, count in plan.pieces.get(line_key(purchase), {}).items():
                if count:
                    worth[number] = worth.get(number, 0) + half_up(each * count)
        for number, cents in dealt_out(order.freight_cents, worth).items():
            dealt[number, (order.supplier, order.mode)] = cents
    return dealt


def _core_return(plan: PoolPlan) -> dict[str, int]:
    credits: dict[str, dict[str, int]] = {}
    for one in plan.gets:
        for item in one.choice.returns:
            of = credits.setdefault(plan.pool.offer[item.offer].supplier, {})
            of[one.number] = of.get(one.number, 0) + core_credit(plan.pool, item)
    costs: dict[str, int] = {}
    for supplier, brought in credits.items():
        for number, cents in dealt_out(plan.pool.terms[supplier].core_return_cents, brought).items():
            costs[number] = costs.get(number, 0) + cents
    return costs


def dealt_out(cents: int, weights: Mapping[str, int]) -> dict[str, int]:
    """An amount dealt out in proportion to weights, to the cent: what rounding leaves goes to the largest fractions.

    >>> dealt_out(100, {"a": 1, "b": 1, "c": 1})
    {'a': 34, 'b': 33, 'c': 33}
    """
    if not weights:
        return {}
    total = sum(weights.values())
    exact = {
        name: Fraction(cents * weight, total) if total else Fraction(cents, len(weights))
        for name, weight in weights.items()
    }
    dealt = {name: floor(part) for name, part in exact.items()}
    left = cents - sum(dealt.values())
    for name in sorted(exact, key=lambda name: (dealt[name] - exact[name], name))[:left]:
        dealt[name] += 1
    return dealt


def _job_plan(
    plan: PoolPlan,
    one: Got,
    offers: Mapping[LineKey, Offer],
    freight: Mapping[tuple[str, tuple[str, str]], int],
    core_return: int,
) -> Plan:
    own = set(map(line_key, one.choice.purchases))
    lines = tuple(
        replace(line, offer=offers[line.offer.id, line.mode.mode]) if (line.offer.id, line.mode.mode) in own else line
        for line in one.problem.lines
    )
    problem = replace(one.problem, lines=lines)
    purchases = tuple(
        Purchase(replace(p.line, offer=offers[line_key(p)]), p.quantity) for p in one.choice.purchases if p.quantity
    )
    bought = {purchase.line.offer.id for purchase in purchases}
    returns = tuple(item for item in one.choice.returns if item.offer in bought)
    choice = replace(one.choice, purchases=purchases, returns=returns)
    orders = []
    for supplier, mode in dict.fromkeys(purchase.line.order for purchase in purchases):
        held = tuple(purchase for purchase in purchases if purchase.line.order == (supplier, mode))
        subtotal = sum(purchase.line.offer.minor(purchase.quantity) for purchase in held)
        part = freight.get((one.number, (supplier, mode)), 0)
        orders.append(Order(supplier, mode, held, subtotal, part, max(p.line.arrives for p in held)))
    hands, charges_back = in_hand_parts(one.problem, one.choice)
    totals = Totals(
        parts=sum(p.line.offer.cents(p.quantity) for p in purchases) + hands,
        core_charges=sum(p.quantity * p.line.offer.core_cents for p in purchases) - charges_back,
        core_credit=sum(core_credit(plan.pool, item) for item in one.choice.returns),
        freight=sum(order.freight_cents for order in orders),
        core_return=core_return,
        labour=sum(work.cents for work in one.works),
        comebacks=comebacks_of(one.problem, one.choice),
        waiting=waiting_of(one.problem, one.choice),
    )
    return Plan(problem, plan.status, choice, totals, tuple(orders), one.works, (), plan.proof)
