"""What the customer pays for a plan, in whole cents of the shop's currency.

How it is reckoned, every amount rounded to the cent by itself, halves up:

parts        each part number that fills a position is one line, a kit once: pieces needed x (unit cost x factor, rounded).
             The unit cost is what a piece costs at the break that its line reaches (lines of incremental breaks, or the
             same number in two orders: their total over their pieces, rounded). The factor is that of the first [[markup]]
             step whose `up_to` is not below the unit cost; without steps it is 1. Pieces of a pack, of a minimum or for
             the shelf that this unit does not use stay the shop's and are not charged; a kit cannot be parted, so it is
             charged whole. A part in hand that goes in is charged on its cost in the same way; a customer's own part and a
             kept one are lines at 0.
consumables  the book's [[consumable]] that the plan makes due: quantity x price.
labour       (base_hours + the hours of the works due) x labour_rate, rounded once.
materials    each work's `cost` (materials or sublet work), passed on as it is.
extras       the job's [[extra]], each taxed as parts, as labour, or not.
cores        the shop holds the old part. The customer pays a core charge only where his old part stays with him or will not
             be accepted, or where there is none; what a supplier keeps of the charge on an accepted core is the shop's. The
             core charge of a part in hand was paid before and is charged like any other.
supplies     share x labour, at most the cap.
freight      what the plan's orders cost to send, passed on as it is; the cost of sending cores back on a line of its own.
discount     an amount or a share of all of the above, at most all of it. It is spread over what each tax is reckoned on in
             proportion, each part of it rounded.
taxes        each on its goods less their part of the discount: tax_parts on parts, consumables, materials, extras like parts
             and supplies; tax_labour on labour and extras like labour; tax_cores on core charges. Freight is untaxed.
margin       price before tax, less the plan's landed cost, less what the work costs the shop (base hours and works). What is
             left over is paid for in the landed cost; the core charges paid on parts in hand, of which the landed cost counts
             only what comes back, are taken off by themselves; comebacks, waiting and what consumables and supplies cost are
             not in it.
stands       until the job's date + quote_days, or the earliest valid_until of a row bought from, whichever is earlier.

Nothing of it is part of the choice: consumables, extras and the discount change what is charged, never what is bought.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from sourcing.book.family import Consumable
from sourcing.inhand import Hand
from sourcing.job import Discount, Extra
from sourcing.money import half_up, share_of, to_cents
from sourcing.plan import Choice, Plan
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.shop import Markup, Shop


@dataclass(frozen=True, slots=True)
class PartCharge:
    """A line of parts: bought (`offer`), in hand (`hand` says whence), or the found one kept, at 0.

    `cost_cents` and `factor` are for the shop's eyes. `core_offer` is the number whose core charge was paid on it.
    """

    positions: tuple[str, ...]
    designs: tuple[str, ...]
    offer: int | None = None
    hand: str = ""
    core_offer: int | None = None
    condition: str = ""
    warranty_months: int = 0
    kit: bool = False
    pieces: int = 1
    cost_cents: int = 0
    factor: Decimal = Decimal(1)
    price_cents: int = 0

    @property
    def amount_cents(self) -> int:
        return self.pieces * self.price_cents

    @property
    def key(self) -> str:
        """Its first position: no two lines have it."""
        return self.positions[0]

    @property
    def kept(self) -> bool:
        return self.offer is None and not self.hand

    @property
    def own(self) -> bool:
        """Whether the customer brought it."""
        return self.hand == "customer"


class CoreReason(StrEnum):
    """Why a core charge is the customer's."""

    STAYS = "stays"
    REFUSED = "refused"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class CoreLost:
    """The core charge on so many charged pieces of an offer, for which no old part of the customer's can be given."""

    line: str
    designs: tuple[str, ...]
    offer: int
    reason: CoreReason
    pieces: int
    each_cents: int

    @property
    def amount_cents(self) -> int:
        return self.pieces * self.each_cents


@dataclass(frozen=True, slots=True)
class WorkCharge:
    """Hours of the rebuild (`code` "") or of a task, and its materials or sublet work."""

    code: str
    says: str
    hours: Decimal
    materials_cents: int = 0


@dataclass(frozen=True, slots=True)
class ConsumableCharge:
    """A consumable: so many of a unit at a price."""

    says: str
    quantity: Decimal
    unit: str
    price_cents: int

    @property
    def amount_cents(self) -> int:
        return half_up(self.quantity * self.price_cents)


@dataclass(frozen=True, slots=True)
class Rates:
    """What labour, supplies and taxes are reckoned with."""

    labour: Decimal
    supplies: Decimal
    cap: Decimal | None
    tax_parts: Decimal
    tax_labour: Decimal
    tax_cores: Decimal


@dataclass(frozen=True, slots=True)
class Charge:
    """What the customer pays, line by line, and what stays with the shop. Cents of the shop's currency."""

    parts: tuple[PartCharge, ...]
    work: tuple[WorkCharge, ...]
    cores: tuple[CoreLost, ...]
    consumables: tuple[ConsumableCharge, ...]
    extras: tuple[Extra, ...]
    rates: Rates
    discount: Discount
    freight_cents: int
    core_return_cents: int
    landed_cents: int
    work_cost_cents: int
    stands_until: date
    not_settled: tuple[str, ...] = ()
    paid_cores_cents: int = 0

    @property
    def parts_cents(self) -> int:
        return sum(line.amount_cents for line in self.parts)

    @property
    def materials_cents(self) -> int:
        return sum(line.materials_cents for line in self.work)

    @property
    def consumables_cents(self) -> int:
        return sum(line.amount_cents for line in self.consumables)

    @property
    def cores_cents(self) -> int:
        return sum(line.amount_cents for line in self.cores)

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.work), Decimal(0))

    @property
    def labour_cents(self) -> int:
        return to_cents(self.hours * self.rates.labour)

    @property
    def supplies_cents(self) -> int:
        supplies = share_of(self.labour_cents, self.rates.supplies)
        return supplies if self.rates.cap is None else min(supplies, to_cents(self.rates.cap))

    def extras_cents(self, taxed: str) -> int:
        return sum(to_cents(extra.amount) for extra in self.extras if extra.taxed == taxed)

    @property
    def goods_cents(self) -> int:
        """What tax_parts is reckoned on, before a discount."""
        goods = self.parts_cents + self.consumables_cents + self.materials_cents + self.supplies_cents
        return goods + self.extras_cents("parts")

    @property
    def worked_cents(self) -> int:
        """What tax_labour is reckoned on, before a discount."""
        return self.labour_cents + self.extras_cents("labour")

    @property
    def untaxed_cents(self) -> int:
        return self.freight_cents + self.core_return_cents + self.extras_cents("no")

    @property
    def listed_cents(self) -> int:
        """All lines together."""
        return self.goods_cents + self.worked_cents + self.cores_cents + self.untaxed_cents

    @property
    def discount_cents(self) -> int:
        listed, off = self.listed_cents, self.discount
        return min(listed, to_cents(off.amount) if off.share is None else share_of(listed, off.share))

    def tax_cents(self, goods_cents: int, rate: Decimal) -> int:
        """A tax on some of the lines, less their part of the discount."""
        listed = self.listed_cents
        off = half_up(Fraction(self.discount_cents * goods_cents, listed)) if listed else 0
        return share_of(goods_cents - off, rate)

    @property
    def tax_parts_cents(self) -> int:
        return self.tax_cents(self.goods_cents, self.rates.tax_parts)

    @property
    def tax_labour_cents(self) -> int:
        return self.tax_cents(self.worked_cents, self.rates.tax_labour)

    @property
    def tax_cores_cents(self) -> int:
        return self.tax_cents(self.cores_cents, self.rates.tax_cores)

    @property
    def before_tax_cents(self) -> int:
        return self.listed_cents - self.discount_cents

    @property
    def total_cents(self) -> int:
        return self.before_tax_cents + self.tax_parts_cents + self.tax_labour_cents + self.tax_cores_cents

    @property
    def margin_cents(self) -> int:
        return self.before_tax_cents - self.landed_cents - self.paid_cores_cents - self.work_cost_cents

    @property
    def warranty_months(self) -> int | None:
        """The least warranty of what the shop puts in; None where it puts nothing in. A customer's own part has none."""
        return min((line.warranty_months for line in self.parts if not line.kept and not line.own), default=None)


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
    rank = {position: place for place, position in enumerate(problem.positions)}
    parts = tuple(
        sorted(
            [*_bought(problem, choice), *_in_hand(problem, choice), *_kept(problem, choice)],
            key=lambda part: rank[part.key],
        )
    )
    due, not_settled = _consumables(problem, choice)
    return Charge(
        parts=parts,
        work=_work(plan),
        cores=_cores(problem, choice, parts),
        consumables=due,
        extras=tuple(problem.job.extras),
        rates=_rates(problem.shop),
        discount=problem.job.quote.discount,
        freight_cents=plan.totals.freight,
        core_return_cents=plan.totals.core_return,
        landed_cents=plan.totals.landed,
        work_cost_cents=base_cost_cents(problem) + plan.totals.labour,
        stands_until=stands_until(plan),
        not_settled=not_settled,
        paid_cores_cents=sum(hand.core_cents for hand in charged_cores(problem, choice)),
    )


def _rates(shop: Shop) -> Rates:
    supplies = shop.shop_supplies
    return Rates(shop.labour_rate, supplies.share, supplies.cap, shop.tax_parts, shop.tax_labour, shop.tax_cores)


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
        designs = tuple(choice.combination[position] for position in positions)
        lines.append(PartCharge(
            tuple(positions), designs, number, "", number, offer.part.condition, offer.part.warranty_months,
            len(offer.part.fills) > 1, _pieces(offer, designs), cost, factor, share_of(cost, factor),
        ))  # fmt: skip
    return lines


def _in_hand(problem: Problem, choice: Choice) -> Iterator[PartCharge]:
    """The parts in hand that go in; condition and warranty are known where the part is what its number says."""
    paid = {hand.position: hand.offer.id for hand in charged_cores(problem, choice) if hand.offer is not None}
    for position in choice.in_hand:
        hand = problem.in_hand[position]
        known = hand.part if hand.part is not None and hand.design in hand.part.fills else None
        cost = 0 if hand.source == "customer" else hand.cost_cents
        factor = marked_up(cost, problem.shop.markups)
        yield PartCharge(
            (position,), (hand.design,), None, hand.source, paid.get(position), known.condition if known else "",
            known.warranty_months if known else 0, False, 1, cost, factor, share_of(cost, factor),
        )  # fmt: skip


def charged_cores(problem: Problem, choice: Choice) -> list[Hand]:
    """Parts in hand whose core charge the shop has paid in this job: what was received, and what is used; a kit once."""
    paid: dict[object, Hand] = {}
    for position, hand in problem.in_hand.items():
        mine = hand.source == "received" or (hand.source == "shelf" and position in choice.in_hand)
        if mine and hand.core_cents and hand.offer is not None:
            paid.setdefault(hand.offer.id if hand.kit else position, hand)
    return list(paid.values())


def _pieces(offer: Offer, designs: Sequence[str]) -> int:
    """Pieces of an offer that so many designs need; one piece of a kit serves each of its designs."""
    return max(-(-count // offer.part.fills.count(design)) for design, count in Counter(designs).items())


def _kept(problem: Problem, choice: Choice) -> list[PartCharge]:
    return [
        PartCharge((position,), (choice.combination[position],))
        for position in problem.positions
        if position in choice.kept
    ]


def _work(plan: Plan) -> tuple[WorkCharge, ...]:
    """The rebuild itself first (named by the papers), then the works that the plan makes due."""
    cost = {task.code: task.cost for task in plan.problem.family.tasks}
    rebuild = WorkCharge("", "", plan.problem.job.labour.base_hours)
    due = (WorkCharge(work.code, work.name, Decimal(work.hours), to_cents(cost[work.code])) for work in plan.works)
    return (rebuild, *due)


def _consumables(problem: Problem, choice: Choice) -> tuple[tuple[ConsumableCharge, ...], tuple[str, ...]]:
    """The consumables that a plan makes due, and the names of those that hang on a fact that nobody gave."""
    due, open_ones = [], []
    for item in problem.family.consumables:
        if item.replacing is not None and not set(item.replacing) & set(choice.replaced):
            continue
        held = [_met(problem, choice, key, values) for key, values in item.when.items()]
        if False in held:
            continue
        if None in held:
            open_ones.append(item.name)
        else:
            due.append(_consumed(item))
    return tuple(due), tuple(open_ones)


def _consumed(item: Consumable) -> ConsumableCharge:
    return ConsumableCharge(item.name, item.quantity, item.unit, to_cents(item.price))


def _met(problem: Problem, choice: Choice, key: str, values: Sequence[str]) -> bool | None:
    """Whether one condition of a consumable holds; None where it hangs on what the job leaves open."""
    if key in choice.combination:
        return choice.combination[key] in values
    value = problem.setting.value(key)
    return None if value is None and key in problem.family.fact else value in values


def _cores(problem: Problem, choice: Choice, parts: Sequence[PartCharge]) -> tuple[CoreLost, ...]:
    """The core charges that no old part of the customer's settles.

    An old part that a supplier would accept and that the shop keeps all the same settles one too: that was the shop's choice.
    """
    sent = {item.position for item in choice.returns}
    spare = [
        (place, design) for place, design in problem.cores.items() if place not in sent and place not in choice.kept
    ]
    returned = Counter(item.offer for item in choice.returns)
    lost = []
    for line in parts:
        if line.core_offer is None:
            continue
        offer = problem.offer[line.core_offer]
        settled = min(line.pieces, returned[offer.id])
        returned[offer.id] -= settled
        left = line.pieces - settled
        for held in [held for held in spare if held[1] in offer.part.core_accepts][:left]:
            spare.remove(held)
            left -= 1
        if left and offer.core_cents:
            lost.append(CoreLost(line.key, line.designs, offer.id, _why(problem, line, choice), left, offer.core_cents))
    return tuple(lost)


def _why(problem: Problem, line: PartCharge, choice: Choice) -> CoreReason:
    """Why no old part settles the core charge of a line: it stays with the customer, is refused, or there is none."""
    found = [place for place in line.positions if problem.found[place]]
    if not found:
        return CoreReason.MISSING
    named = problem.job.limits.cores
    if any(place in choice.kept or (named is not None and place not in named) for place in found):
        return CoreReason.STAYS
    return CoreReason.REFUSED
