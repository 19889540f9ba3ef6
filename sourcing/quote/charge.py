"""What the customer pays for a plan, in whole cents of the shop's currency.

How it is reckoned, every amount rounded to the cent by itself, halves up:

parts      each part number that fills a position is one line, a kit once: pieces needed x (unit cost x factor, rounded).
           The unit cost is what a piece costs at the break that its line reaches (lines of incremental breaks, or the same
           number in two orders: their total over their pieces, rounded). The factor is that of the first [[markup]] step
           whose `up_to` is not below the unit cost; without steps it is 1. Pieces of a pack, of a minimum or for the shelf
           that this unit does not use stay the shop's and are not charged; a kit cannot be parted, so it is charged whole.
           A kept part is a line at 0, and so is what the customer supplied. A part in hand that was received or comes from
           the shelf is charged like a bought one: its cost x factor.
labour     (base_hours + the hours of the works due) x labour_rate, rounded once.
materials  each work's `cost`, passed on as it is.
cores      the shop holds the old part. For the pieces charged: core charge less the credit that comes back, at most one
           core a piece. Nothing where all of it comes back. The core charge of a part in hand was paid before: where it does
           not come back it is charged like any other.
supplies   share x labour, at most the cap.
freight    what the plan's orders cost to send, passed on as it is; the cost of sending cores back on a line of its own.
taxes      tax_parts on goods (parts, materials, cores that are lost, supplies); tax_labour on labour; freight is untaxed.
margin     price before tax, less the plan's landed cost, less what the work costs the shop (base hours and works). What is
           left over is paid for in the landed cost; the core charges paid on parts in hand, of which the landed cost counts
           only what comes back, are taken off by themselves; comebacks, waiting and the supplies used up are not in it.
stands     until the job's date + quote_days, or the earliest valid_until of a row bought from, whichever is earlier.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from sourcing.inhand import Hand
from sourcing.money import half_up, share_of, to_cents
from sourcing.plan import Choice, Plan, credit
from sourcing.prices.offers import Offer
from sourcing.prices.parts import Part
from sourcing.problem import Problem
from sourcing.shop import Markup


@dataclass(frozen=True, slots=True)
class PartCharge:
    """A line of parts. `offer` None: the found part is kept, at 0, or (`in_hand`) one that is here already fills the position.

    `cost_cents` and `factor` are for the shop's eyes.
    """

    positions: tuple[str, ...]
    says: str
    offer: int | None
    pieces: int = 1
    cost_cents: int = 0
    factor: Decimal = Decimal(1)
    price_cents: int = 0
    in_hand: bool = False

    @property
    def amount_cents(self) -> int:
        return self.pieces * self.price_cents


@dataclass(frozen=True, slots=True)
class CoreLost:
    """A core charge on charged pieces of an offer, and what of it comes back; `position`: on the part in hand there."""

    says: str
    offer: int
    charge_cents: int
    credit_cents: int
    position: str = ""

    @property
    def amount_cents(self) -> int:
        return self.charge_cents - self.credit_cents


@dataclass(frozen=True, slots=True)
class WorkCharge:
    """Hours of the rebuild (`code` "") or of a task, and its materials or sublet work."""

    code: str
    says: str
    hours: Decimal
    materials_cents: int = 0


@dataclass(frozen=True, slots=True)
class Charge:
    """What the customer pays, line by line, and what stays with the shop. Cents of the shop's currency."""

    parts: tuple[PartCharge, ...]
    work: tuple[WorkCharge, ...]
    cores: tuple[CoreLost, ...]
    labour_cents: int
    supplies_cents: int
    freight_cents: int
    core_return_cents: int
    tax_parts_cents: int
    tax_labour_cents: int
    landed_cents: int
    work_cost_cents: int
    stands_until: date
    paid_cores_cents: int = 0

    @property
    def parts_cents(self) -> int:
        return sum(line.amount_cents for line in self.parts)

    @property
    def materials_cents(self) -> int:
        return sum(line.materials_cents for line in self.work)

    @property
    def cores_cents(self) -> int:
        return sum(line.amount_cents for line in self.cores)

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.work), Decimal(0))

    @property
    def goods_cents(self) -> int:
        """What tax_parts is reckoned on."""
        return self.parts_cents + self.materials_cents + self.cores_cents + self.supplies_cents

    @property
    def before_tax_cents(self) -> int:
        return self.goods_cents + self.labour_cents + self.freight_cents + self.core_return_cents

    @property
    def total_cents(self) -> int:
        return self.before_tax_cents + self.tax_parts_cents + self.tax_labour_cents

    @property
    def margin_cents(self) -> int:
        return self.before_tax_cents - self.landed_cents - self.paid_cores_cents - self.work_cost_cents


def charge(plan: Plan) -> Charge:
    """Reckon what the customer pays for a plan.

    Raises
    ------
    ValueError
        The plan holds no choice: there is nothing to charge for.
    """
    choice = plan.choice
    if choice is None:
        raise ValueError(f"job {plan.problem.job.number} has no plan to charge for: {plan.status}")
    problem = plan.problem
    shop = problem.shop
    rank = {position: place for place, position in enumerate(problem.positions)}
    parts = tuple(
        sorted(
            [*_bought(problem, choice), *_kept(problem, choice), *_in_hand(problem, choice)],
            key=lambda part: rank[part.positions[0]],
        )
    )
    work = _work(plan)
    cores = (
        *(core for core in (_core(problem, choice, line) for line in parts) if core),
        *_cores_in_hand(problem, choice, parts),
    )
    labour = to_cents(sum((line.hours for line in work), Decimal(0)) * shop.labour_rate)
    supplies = share_of(labour, shop.shop_supplies.share)
    if shop.shop_supplies.cap is not None:
        supplies = min(supplies, to_cents(shop.shop_supplies.cap))
    goods = sum(part.amount_cents for part in parts) + sum(core.amount_cents for core in cores) + supplies
    goods += sum(line.materials_cents for line in work)
    return Charge(
        parts=parts,
        work=work,
        cores=cores,
        labour_cents=labour,
        supplies_cents=supplies,
        freight_cents=plan.totals.freight,
        core_return_cents=plan.totals.core_return,
        tax_parts_cents=share_of(goods, shop.tax_parts),
        tax_labour_cents=share_of(labour, shop.tax_labour),
        landed_cents=plan.totals.landed,
        work_cost_cents=base_cost_cents(problem) + plan.totals.labour,
        stands_until=stands_until(plan),
        paid_cores_cents=sum(hand.core_cents for hand in charged_cores(problem, choice)),
    )


def marked_up(cost_cents: int, steps: Sequence[Markup]) -> Decimal:
    """The factor on a part that costs so much a piece.

    >>> marked_up(5000, [Markup(up_to=Decimal(50), factor=Decimal("1.7")), Markup(factor=Decimal("1.3"))])
    Decimal('1.7')
    """
    fits = (step for step in steps if step.up_to is None or cost_cents <= to_cents(step.up_to))
    return next((step.factor for step in fits), Decimal(1))


def base_cost_cents(problem: Problem) -> int:
    """What the hours of the rebuild itself cost the shop."""
    return to_cents(problem.job.labour.base_hours * problem.shop.hour_costs)


def stands_until(plan: Plan) -> date:
    """The last day on which the quote holds: see the module."""
    problem = plan.problem
    ends = [problem.job.job.date + timedelta(days=problem.shop.quote_days)]
    for purchase in plan.choice.purchases if plan.choice else ():
        if purchase.line.offer.valid_until is not None:
            ends.append(purchase.line.offer.valid_until)
    return min(ends)


def unit_cost_cents(choice: Choice, offer: int) -> int:
    """What a piece of an offer costs in a plan: its lines' total over their pieces."""
    lines = [purchase for purchase in choice.purchases if purchase.line.offer.id == offer]
    total = sum(purchase.line.offer.cents(purchase.quantity) for purchase in lines)
    return half_up(Fraction(total, sum(purchase.quantity for purchase in lines)))


def _bought(problem: Problem, choice: Choice) -> list[PartCharge]:
    filled: dict[int, list[str]] = {}
    for position in problem.positions:
        if position in choice.fills:
            filled.setdefault(choice.fills[position], []).append(position)
    lines = []
    for number, positions in filled.items():
        offer = problem.offer[number]
        cost = unit_cost_cents(choice, number)
        factor = marked_up(cost, problem.shop.markups)
        names = " + ".join(problem.family.name_of(choice.combination[position]) for position in positions)
        terms = [_condition(offer.part), "as a kit" if len(offer.part.fills) > 1 else ""]
        says = ", ".join([names, *(term for term in terms if term)])
        pieces = _pieces(offer, [choice.combination[position] for position in positions])
        lines.append(PartCharge(tuple(positions), says, number, pieces, cost, factor, share_of(cost, factor)))
    return lines


def _condition(part: Part) -> str:
    word = {"new": "new", "reman": "rebuilt", "used": "used"}[part.condition]
    months = part.warranty_months
    return (
        f"{word}, {months} {'month' if months == 1 else 'months'} warranty" if months else f"{word}, no warranty stated"
    )


def _pieces(offer: Offer, designs: Sequence[str]) -> int:
    """Pieces of an offer that so many designs need; one piece of a kit serves each of its designs."""
    return max(-(-count // offer.part.fills.count(design)) for design, count in Counter(designs).items())


def _kept(problem: Problem, choice: Choice) -> list[PartCharge]:
    return [
        PartCharge((position,), f"{problem.family.name_of(choice.combination[position])}, the found one kept", None)
        for position in problem.positions
        if position in choice.kept
    ]


SOURCES = {
    "customer": "supplied by the customer, no warranty",
    "shelf": "from our shelf",
    "received": "already here",
}


def _in_hand(problem: Problem, choice: Choice) -> list[PartCharge]:
    lines = []
    for position in choice.in_hand:
        hand = problem.in_hand[position]
        name, cost = problem.family.name_of(hand.design), hand.cost_cents
        says = f"{name}, {SOURCES[hand.source]}"
        if hand.source == "customer":
            lines.append(PartCharge((position,), says, None, in_hand=True))
            continue
        if hand.part is not None and hand.design in hand.part.fills:
            says = f"{name}, {_condition(hand.part)}, {SOURCES[hand.source]}"
        factor = marked_up(cost, problem.shop.markups)
        lines.append(PartCharge((position,), says, None, 1, cost, factor, share_of(cost, factor), in_hand=True))
    return lines


def charged_cores(problem: Problem, choice: Choice) -> list[Hand]:
    """Parts in hand whose core charge the shop has paid in this job: what was received, and what is used; a kit once."""
    paid: dict[object, Hand] = {}
    for position, hand in problem.in_hand.items():
        mine = hand.source == "received" or (hand.source == "shelf" and position in choice.in_hand)
        if mine and hand.core_cents and hand.offer is not None:
            paid.setdefault(hand.offer.id if hand.kit else position, hand)
    return list(paid.values())


def _cores_in_hand(problem: Problem, choice: Choice, parts: Sequence[PartCharge]) -> Iterator[CoreLost]:
    """Core charges on parts in hand that are used, less the cores that go back against them and not against bought ones."""
    pieces: Counter[int] = Counter(item.offer for item in choice.returns)
    for line in parts:
        if line.offer is not None:
            pieces[line.offer] = max(0, pieces[line.offer] - line.pieces)
    for hand in charged_cores(problem, choice):
        if hand.position in choice.in_hand and hand.offer is not None:
            back = hand.takes_core and pieces[hand.offer.id] > 0
            pieces[hand.offer.id] -= back
            says = problem.family.name_of(hand.design)
            credited = credit(problem, hand.offer.id) if back else 0
            lost = CoreLost(says, hand.offer.id, hand.core_cents, credited, hand.position)
            if lost.amount_cents:
                yield lost


def _work(plan: Plan) -> tuple[WorkCharge, ...]:
    """The rebuild itself first, then the works that the plan makes due."""
    cost = {task.code: task.cost for task in plan.problem.family.tasks}
    rebuild = WorkCharge("", "The rebuild itself", plan.problem.job.labour.base_hours)
    due = (WorkCharge(work.code, work.name, Decimal(work.hours), to_cents(cost[work.code])) for work in plan.works)
    return (rebuild, *due)


def _core(problem: Problem, choice: Choice, line: PartCharge) -> CoreLost | None:
    """The part of a core charge that does not come back; None where all of it does."""
    if line.offer is None:
        return None
    back = min(line.pieces, sum(item.offer == line.offer for item in choice.returns))
    charged = line.pieces * problem.offer[line.offer].core_cents
    names = " + ".join(problem.family.name_of(choice.combination[position]) for position in line.positions)
    lost = CoreLost(names, line.offer, charged, back * credit(problem, line.offer))
    return lost if lost.amount_cents else None
