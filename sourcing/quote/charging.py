"""What the customer pays for a plan, reckoned: its lines, with what the shop pays itself. Cents of the shop's currency.

How each line comes to be, every amount rounded to the cent by itself, halves up (`charge.py` says how they add up):

parts        each part number that fills a position is one line, a kit once: pieces needed x (unit cost x factor, rounded).
             The unit cost is what a piece costs at the break that its line reaches (lines of incremental breaks, or the
             same number in two orders: their total over their pieces, rounded). The factor is that of the first [[markup]]
             step whose `up_to` is not below the unit cost; without steps it is 1. Pieces of a pack, of a minimum or for
             the shelf that this unit does not use stay the shop's and are not charged; a kit cannot be parted, so it is
             charged whole. A part in hand that goes in is charged on its cost in the same way; a customer's own part and a
             kept one are lines at 0.
consumables  the book's [[consumable]] that the plan makes due.
materials    each work's `cost` (materials or sublet work), passed on as it is.
extras       the job's [[extra]], each taxed as parts, as labour, or not.
cores        the shop holds the old part. The customer pays a core charge only where his old part stays with him or will not
             be accepted, or where there is none; what a supplier keeps of the charge on an accepted core is the shop's. The
             core charge of a part in hand was paid before and is charged like any other.
freight      what the plan's orders cost to send, passed on as it is; the cost of sending cores back on a line of its own.
stands       until the job's date + quote_days, or the earliest valid_until of a row bought from, whichever is earlier.

Nothing of it is part of the choice: consumables, extras and the discount change what is charged, never what is bought.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from sourcing.book.family import Consumable
from sourcing.inhand import Hand
from sourcing.money import half_up, share_of, to_cents
from sourcing.plan import Choice, Plan
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.quote.charge import Charge, ConsumableCharge, CoreLost, CoreReason, PartCharge, Rates, WorkCharge
from sourcing.shop import Markup, Shop


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
