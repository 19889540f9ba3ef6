"""The answer: a plan that prices itself, and knows nothing of a solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from sourcing.book.family import NONE
from sourcing.book.fitting import Reason
from sourcing.inhand import core_pieces
from sourcing.problem import Line, Problem, Work
from sourcing.terms import Terms


class Status(StrEnum):
    """What is known of an answer."""

    PROVEN = "proven"
    BEST_FOUND = "best_found"
    IMPOSSIBLE = "impossible"
    NOTHING_FOUND = "nothing_found"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Totals:
    """Section by section what a plan costs, in cents of the shop."""

    parts: int = 0
    core_charges: int = 0
    core_credit: int = 0
    freight: int = 0
    core_return: int = 0
    labour: int = 0
    comebacks: int = 0
    waiting: int = 0
    shelf: int = 0

    @property
    def cash(self) -> int:
        return self.parts + self.core_charges + self.freight

    @property
    def landed(self) -> int:
        return self.cash - self.core_credit + self.core_return

    @property
    def whole(self) -> int:
        return self.landed + self.labour + self.comebacks + self.waiting - self.shelf

    def of(self, name: str) -> int:
        return int(getattr(self, name))


TOTALS = ("parts", "core_charges", "core_credit", "freight", "core_return", "labour", "comebacks", "waiting", "shelf",
          "cash", "landed", "whole")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Purchase:
    """A line that is bought: so many pieces."""

    line: Line
    quantity: int

    @property
    def key(self) -> tuple[str, str, str, int]:
        return (*self.line.key, self.quantity)


@dataclass(frozen=True, slots=True)
class Return:
    """The found part of a position, sent back against a bought piece."""

    position: str
    design: str
    offer: int

    @property
    def key(self) -> tuple[str, int]:
        return (self.design, self.offer)


@dataclass(frozen=True, slots=True)
class Order:
    """One supplier by one freight mode: its lines, its own subtotal, its freight."""

    supplier: str
    mode: str
    lines: tuple[Purchase, ...]
    subtotal_minor: int
    freight_cents: int
    arrives: date


@dataclass(frozen=True, slots=True)
class Proof:
    """What the solver says: `bound` in cents, `gap` relative, `solves` how often it was asked, `interrupted` by a person.

    `settled`: whether it was also decided which of several plans at this cost it is.
    """

    solver: str = ""
    bound: int | None = None
    gap: float | None = None
    seconds: float = 0.0
    solves: int = 0
    interrupted: bool = False
    settled: bool = True


@dataclass(frozen=True)
class Choice:
    """What was decided: each position's design, what is kept, what fills what, what is bought and sent back.

    `fills` gives the offer that fills a position by a bought part, `in_hand` the positions that a part in hand fills,
    `sent_back` those whose part in hand goes back to its supplier.
    """

    combination: Mapping[str, str]
    kept: tuple[str, ...]
    fills: Mapping[str, int]
    purchases: tuple[Purchase, ...]
    returns: tuple[Return, ...]
    in_hand: tuple[str, ...] = ()
    sent_back: tuple[str, ...] = ()

    @property
    def replaced(self) -> tuple[str, ...]:
        """Positions that another part than the found one was put into: bought, or in hand."""
        return (*self.fills, *self.in_hand)


@dataclass(frozen=True)
class Plan:
    """A choice with its price; the answer to a problem (`choice` None where there is none)."""

    problem: Problem
    status: Status
    choice: Choice | None = None
    totals: Totals = field(default_factory=Totals)
    orders: tuple[Order, ...] = ()
    works: tuple[Work, ...] = ()
    reasons: tuple[Reason, ...] = ()
    proof: Proof = field(default_factory=Proof)

    @property
    def cost(self) -> int:
        return self.totals.of(self.problem.minimise)

    @property
    def last_arrival(self) -> date | None:
        return max((order.arrives for order in self.orders), default=None)


def left_over(problem: Problem, choice: Choice) -> Counter[str]:
    """Pieces of each design that are bought and that no position uses."""
    left: Counter[str] = Counter()
    for purchase in choice.purchases:
        for design in purchase.line.offer.part.fills:
            left[design] += purchase.quantity
    for position in choice.fills:
        left[choice.combination[position]] -= 1
    return left


def to_the_shelf(problem: Problem, choice: Choice) -> Counter[str]:
    """Pieces of each design that the shop has and that no position uses: left over of what is bought or was received."""
    left = left_over(problem, choice)
    for position, hand in problem.in_hand.items():
        if hand.stocks and position not in (*choice.in_hand, *choice.sent_back):
            left[hand.design] += 1
    return left


def pieces_of(problem: Problem, choice: Choice) -> Counter[int]:
    """Pieces of each offer that can take a core back: those bought, and those in hand that stay."""
    pieces = Counter(offer.id for offer in core_pieces(problem.in_hand, choice.sent_back))
    for purchase in choice.purchases:
        pieces[purchase.line.offer.id] += purchase.quantity
    return pieces


FILLS, SENT_BACK, LEFT, STAYS, GIVEN_BACK = "fills", "sent back", "left over", "stays on the shelf", "given back"
UNUSED = {"received": LEFT, "shelf": STAYS, "customer": GIVEN_BACK}


def becomes(plan: Plan, position: str) -> str:
    """What a plan makes of the part in hand of a position."""
    if plan.choice is not None and position in plan.choice.in_hand:
        return FILLS
    if plan.choice is not None and position in plan.choice.sent_back:
        return SENT_BACK
    return UNUSED[plan.problem.in_hand[position].source]


def orders_of(terms: Mapping[str, Terms], purchases: Iterable[Purchase]) -> tuple[Order, ...]:
    """Purchases as orders, each with its own subtotal and freight."""
    grouped: dict[tuple[str, str], list[Purchase]] = {}
    for purchase in sorted(purchases, key=lambda purchase: purchase.key):
        grouped.setdefault(purchase.line.order, []).append(purchase)
    orders = []
    for (supplier, mode_name), lines in sorted(grouped.items()):
        mode = lines[0].line.mode
        subtotal = sum(p.line.offer.minor(p.quantity) for p in lines)
        waived = mode.free_over_minor is not None and subtotal >= mode.free_over_minor
        freight = 0 if waived else mode.flat_cents + sum(p.quantity * p.line.piece_freight_cents for p in lines)
        freight += terms[supplier].order_fee_cents
        arrives = max(p.line.arrives for p in lines)
        orders.append(Order(supplier, mode_name, tuple(lines), subtotal, freight, arrives))
    return tuple(orders)


def works_due(problem: Problem, choice: Choice) -> tuple[Work, ...]:
    """The tasks that a choice makes due."""
    return tuple(work for work in problem.works if work.due(choice.combination, choice.replaced))


def comebacks_of(problem: Problem, choice: Choice) -> int:
    """Expected comebacks over the filled positions."""
    comebacks = 0
    for position, design in choice.combination.items():
        if position in choice.in_hand:
            comebacks += problem.in_hand_comeback_cents(problem.in_hand[position])
        elif design != NONE:
            offer = problem.offer[choice.fills[position]] if position in choice.fills else None
            comebacks += problem.comeback_cents(position, offer, design)
    return comebacks


def in_hand_parts(problem: Problem, choice: Choice) -> tuple[int, int]:
    """What the parts in hand count in `parts`, and the core charges that come back with those sent back."""
    here = problem.in_hand.items()
    parts = sum(hand.cents(position in choice.in_hand, position in choice.sent_back) for position, hand in here)
    return parts, sum(problem.in_hand[position].core_cents for position in choice.sent_back)


def waiting_of(problem: Problem, choice: Choice) -> int:
    """What the days until the last of the purchases cost."""
    return problem.shop.day_cents * max((p.line.workdays for p in choice.purchases), default=0)


def price(problem: Problem, choice: Choice) -> tuple[Totals, tuple[Order, ...], tuple[Work, ...]]:
    """Price a choice by plain arithmetic, from the offers and the shop's rates alone."""
    orders = orders_of(problem.terms, choice.purchases)
    works = works_due(problem, choice)
    left = to_the_shelf(problem, choice)
    hands, charges_back = in_hand_parts(problem, choice)
    back_to = {problem.offer[item.offer].supplier for item in choice.returns}
    totals = Totals(
        parts=sum(p.line.offer.cents(p.quantity) for p in choice.purchases) + hands,
        core_charges=sum(p.quantity * p.line.offer.core_cents for p in choice.purchases) - charges_back,
        core_credit=sum(credit(problem, item.offer) for item in choice.returns),
        freight=sum(order.freight_cents for order in orders),
        core_return=sum(problem.terms[supplier].core_return_cents for supplier in back_to),
        labour=sum(work.cents for work in works),
        comebacks=comebacks_of(problem, choice),
        waiting=waiting_of(problem, choice),
        shelf=sum(wish.worth_cents * min(wish.pieces, left[design]) for design, wish in problem.wishes.items()),
    )
    return totals, orders, works


def credit(problem: Problem, offer: int) -> int:
    """What an accepted core brings back against one piece of an offer."""
    bought = problem.offer[offer]
    return problem.terms[bought.supplier].core_credit(bought.core_cents)


def plan_of(problem: Problem, choice: Choice, status: Status, proof: Proof) -> Plan:
    """A priced plan; its checks are in `breaches.py`."""
    totals, orders, works = price(problem, choice)
    return Plan(problem, status, choice, totals, orders, works, (), proof)
