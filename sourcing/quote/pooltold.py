"""A pool's plan told piece by piece, as screen and page show it: orders, cores, costs, who pays what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sourcing.money import text
from sourcing.plan import Order, Purchase
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan, core_credit
from sourcing.quote.pooled import Alike, designs_named, jobs_named, numbers_of, pieces_named
from sourcing.quote.told import order_of, totals_of


@dataclass(frozen=True, slots=True)
class Share:
    """What some jobs cost in their turn (None: one of them has no plan then) and pay of the joint plan, in cents."""

    who: str
    in_turn: int | None
    share: int

    @property
    def less(self) -> int | None:
        return None if self.in_turn is None else self.in_turn - self.share


def order_told(plan: PoolPlan, order: Order) -> str:
    """An order: from whom, by what, when it is here, its freight."""
    return order_of(plan.pool.terms[order.supplier], order)


def purchase_told(plan: PoolPlan, purchase: Purchase) -> str:
    """A line of an order: pieces, number, what it is, what it costs, and whether its stock must be confirmed."""
    waiting = {one.number for one in plan.gets if one.problem.job.job.need_by}
    offer, numbers = purchase.line.offer, numbers_of(purchase, plan)
    core = f", core charge {text(offer.core_cents)} each" if offer.core_cents else ""
    stock = ""
    if offer.stock is None:
        stock = "; stock not stated" + (": confirm before promising" if waiting & set(numbers) else "")
    total = text(offer.cents(purchase.quantity))
    return f"{purchase.quantity} x {offer.part.number}  {designs_named(plan, purchase)}  {total}{core}{stock}"


def whose_told(plan: PoolPlan, purchase: Purchase) -> str:
    """Which jobs a line is for."""
    return f"for {pieces_named(numbers_of(purchase, plan), purchase.quantity)}"


def cores_told(plan: PoolPlan) -> Iterator[str]:
    """Which cores go where: like ones to one number together."""
    going: dict[tuple[str, str, str], tuple[list[str], list[int]]] = {}
    for one in plan.gets:
        for item in one.choice.returns:
            offer = plan.pool.offer[item.offer]
            key = (
                plan.pool.terms[offer.supplier].name,
                str(offer.part.number),
                one.problem.family.name_of(item.design),
            )
            numbers, credits = going.setdefault(key, ([], []))
            numbers.append(one.number)
            credits.append(core_credit(plan.pool, item))
    for (supplier, number, design), (numbers, credits) in sorted(going.items()):
        of = jobs_named(sorted(set(numbers)))
        yield f"cores: {len(credits)} x {design} to {supplier} against {number}, of {of}: {text(sum(credits))} comes back"


def totals_told(plan: PoolPlan) -> Iterator[tuple[str, int, bool]]:
    """Each total that counts: its name, its cents, and whether it is what was minimised."""
    for total in totals_of(plan.totals, plan.pool.minimise):
        yield total.name, total.cents, total.minimised


def shares_told(bought: Bought, kinds: Sequence[Alike], most: int) -> Iterator[Share]:
    """Each job's share beside what it would cost in its turn; of more than `most` jobs, like ones together."""
    if len(bought.plan.gets) <= most:
        rows = [(f"job {one.number}", [one.number]) for one in bought.plan.gets]
    else:
        shown = sorted(kinds, key=lambda kind: -len(kind.gets))[:most]
        rows = [(jobs_named(kind.numbers, 1), list(kind.numbers)) for kind in shown]
        rest = {one.number for one in bought.plan.gets}.difference(*(kind.numbers for kind in shown))
        rows += [(f"{len(rest)} further jobs", sorted(rest))] if rest else []
    for name, numbers in rows:
        known = [cents for number in numbers if (cents := bought.alone.get(number)) is not None]
        share = sum(bought.shares[number] for number in numbers)
        yield Share(name, sum(known) if len(known) == len(numbers) else None, share)
