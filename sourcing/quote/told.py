"""A plan told piece by piece, as the screen and the page show it: values and words, before anything lays them out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sourcing.book.family import NONE
from sourcing.decision.easing import Freed
from sourcing.decision.possibilities import Answered
from sourcing.decision.study import Decided
from sourcing.money import text
from sourcing.plan import FILLS, SENT_BACK, STAYS, Order, Plan, Purchase, Totals, becomes, credit
from sourcing.problem import Problem
from sourcing.quote.words import HERE, WORDS, kind_of, told_causes
from sourcing.terms import Terms


@dataclass(frozen=True, slots=True)
class Place:
    """A position of the combination: what stands there, where it comes from, and what was found instead ("" where the same)."""

    position: str
    design: str
    how: str
    was: str


@dataclass(frozen=True, slots=True)
class Total:
    """A line of what a plan costs; `is_sum` where it adds up those above it."""

    name: str
    cents: int
    is_sum: bool
    minimised: bool


def unit_told(answered: Answered) -> str:
    """The unit's eras and the facts given."""
    problem = answered.plan.problem
    names = ", ".join(problem.family.era[era].name for era in answered.eras)
    facts = ", ".join(f"{code} {value}" for code, value in problem.job.facts.items())
    return f"Unit of {names}" + (f" ({facts})" if facts else "")


def places_told(plan: Plan) -> Iterator[Place]:
    """The combination, position by position; nothing without a choice."""
    if plan.choice is None:
        return
    family = plan.problem.family
    for code, design in plan.choice.combination.items():
        found = plan.problem.found[code]
        was = "" if not found or design in found else f"found: {', '.join(map(family.name_of, found))}"
        yield Place(family.position[code].name, family.name_of(design), _how(plan, code, design), was)


def _how(plan: Plan, position: str, design: str) -> str:
    assert plan.choice is not None
    if design == NONE:
        return "left out"
    if position in plan.choice.kept:
        return "the found one goes back in"
    if position in plan.choice.in_hand:
        return HERE[plan.problem.in_hand[position].source]
    part = plan.problem.offer[plan.choice.fills[position]].part
    return f"{part.condition}, {plan.problem.terms[part.supplier].name} {part.number}"


def in_hand_told(plan: Plan) -> Iterator[str]:
    """What becomes of the parts in hand that fill nothing."""
    for position, hand in plan.problem.in_hand.items():
        how = becomes(plan, position)
        if how == FILLS:
            continue
        told = f"in hand: the {plan.problem.family.name_of(hand.design)} {how if how == STAYS else f'is {how}'}"
        if how == SENT_BACK:
            told += (
                f", {text(hand.restock_cents or 0)} of its price stays with {plan.problem.terms[hand.supplier].name}"
            )
        yield told


def order_told(plan: Plan, order: Order) -> str:
    """An order: from whom, by which way, here when, and its freight."""
    return order_of(plan.problem.terms[order.supplier], order)


def order_of(terms: Terms, order: Order) -> str:
    """The same of any plan's order, by its supplier's terms."""
    freight = f"freight {text(order.freight_cents)}" if order.freight_cents else "freight free"
    return f"{terms.name}, {order.mode}, here {order.arrives.isoformat()}, {freight}"


def purchase_told(plan: Plan, purchase: Purchase) -> str:
    """A line of an order."""
    offer = purchase.line.offer
    core = f", core charge {text(offer.core_cents)}" if offer.core_cents else ""
    total = text(offer.cents(purchase.quantity))
    return f"{purchase.quantity} x {offer.part.number}  {' + '.join(offer.part.fills)}  {total}{core}{_stock(plan, purchase)}"


def _stock(plan: Plan, purchase: Purchase) -> str:
    if purchase.line.offer.stock is not None:
        return ""
    return "; stock not stated" + (": confirm before promising" if plan.problem.job.job.need_by else "")


def source_told(purchase: Purchase) -> str:
    """Where the price of a line stands."""
    source = purchase.line.offer.source
    sheet = f", {source.sheet}" if source.sheet else ""
    return f"{Path(source.file).name}{sheet}, row {source.row}"


def cores_told(plan: Plan) -> Iterator[str]:
    """Which found part goes to whom, and what comes back for it."""
    for item in plan.choice.returns if plan.choice else ():
        offer = plan.problem.offer[item.offer]
        supplier = plan.problem.terms[offer.supplier].name
        back = text(credit(plan.problem, item.offer))
        yield f"core: the found {plan.problem.family.name_of(item.design)} goes to {supplier}, {back} comes back"


def totals_told(plan: Plan) -> Iterator[Total]:
    """What a plan costs, line by line; what is nothing is left out, sums never."""
    return totals_of(plan.totals, plan.problem.minimise)


def totals_of(t: Totals, minimised: str) -> Iterator[Total]:
    """The same of any plan's totals, for what was minimised."""
    rows = [("parts", t.parts), ("core charges", t.core_charges), ("freight", t.freight), ("cash to lay out", t.cash),
            ("core credit", -t.core_credit), ("returning cores", t.core_return), ("landed", t.landed),
            ("labour", t.labour), ("expected comebacks", t.comebacks), ("waiting", t.waiting),
            ("worth on the shelf", -t.shelf), ("whole", t.whole)]  # fmt: skip
    sums = {"cash to lay out", "landed", "whole"}
    for name, cents in rows:
        if cents or name in sums:
            yield Total(name, cents, name in sums, name.split()[0] == minimised)


def why_told(decided: Decided) -> Iterator[str]:
    """For each route the reason: why it is the cheapest, why it is dearer, or why there is none."""
    plan = decided.plan
    family = plan.problem.family
    lead = family.lead
    for route in decided.comparison.routes:
        kind = kind_of(route)
        name = family.name_of(route.design)
        if route.plan.choice is None:
            why = route.reasons[0].says if route.reasons else WORDS[route.plan.status]
            yield why if name in why else f"{name}: {why}"
        elif route.plan.cost <= plan.cost:
            yield f"{name} ({kind}) is the cheapest {lead.name.lower()} with what belongs to it: {text(route.plan.cost)}"
        else:
            told = told_causes(route.plan, plan)
            more = text(route.plan.cost - plan.cost)
            yield f"{name} ({kind}) would come to {text(route.plan.cost)}, {more} dearer: {told}"


def stands_told(freed: Freed, problem: Problem) -> Iterator[str]:
    """What stands in the way of an impossible job, together."""
    rules = {rule.code: rule.says for rule in problem.family.rules}
    yield from (f"the limit {limit}" for limit in freed.stands.limits)
    yield from (f"the rule {code}: {rules[code]}" for code in freed.stands.rules)
    if not freed.stands.limits and not freed.stands.rules:
        yield "what can be had or kept: no limit and no rule of the book needs to stand in the way"


def easings_told(freed: Freed) -> Iterator[str]:
    """What would free an impossible job, cheapest first, and what it would then cost."""
    yield from (f"{easing.says}: {text(easing.plan.cost)}" for easing in freed.easings)
