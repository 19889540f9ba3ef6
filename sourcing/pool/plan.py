"""The plan for many jobs: what each gets, what is bought for all; it prices itself without a solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from sourcing.book.fitting import Reason
from sourcing.inhand import core_pieces
from sourcing.plan import (
    Choice,
    Order,
    Proof,
    Purchase,
    Return,
    Status,
    Totals,
    comebacks_of,
    in_hand_parts,
    orders_of,
    waiting_of,
    works_due,
)
from sourcing.pool.lots import TOLD_APART, Pool, Wanted
from sourcing.problem import Problem, Work

LineKey = tuple[int, str]  # an offer and a mode of its supplier


@dataclass(frozen=True)
class Got:
    """What one job gets: how its unit is made up, and from which bought lines its pieces come.

    `choice` is the job's own: its purchases are the pieces that it gets of each line (of a kit that is parted, the pieces of
    which it gets something), its returns the cores that it gives up. `draws` gives the line at each position that a bought
    part fills.
    """

    problem: Problem
    choice: Choice
    draws: Mapping[str, LineKey]

    @property
    def number(self) -> str:
        return self.problem.job.job.number

    @property
    def works(self) -> tuple[Work, ...]:
        return works_due(self.problem, self.choice)

    @property
    def last_arrival(self) -> date | None:
        return max((purchase.line.arrives for purchase in self.choice.purchases), default=None)


@dataclass(frozen=True)
class PoolPlan:
    """The answer to a pool: what each job gets (in the order of their numbers), and the orders for all of them."""

    pool: Pool
    status: Status
    gets: tuple[Got, ...] = ()
    purchases: tuple[Purchase, ...] = ()
    totals: Totals = field(default_factory=Totals)
    orders: tuple[Order, ...] = ()
    reasons: tuple[Reason, ...] = ()
    proof: Proof = field(default_factory=Proof)

    @property
    def cost(self) -> int:
        return self.totals.of(self.pool.minimise)

    @cached_property
    def pieces(self) -> Mapping[LineKey, Mapping[str, int]]:
        """Of each line that is bought, the pieces that each job gets, by job number."""
        got: dict[LineKey, dict[str, int]] = {}
        for one in self.gets:
            for purchase in one.choice.purchases:
                got.setdefault(line_key(purchase), {})[one.number] = purchase.quantity
        return got


def kinds_of(gets: tuple[Got, ...]) -> list[list[Got]]:
    """Jobs that get exactly alike, group by group: what is true of one of them is true of all."""
    kinds: dict[tuple[object, ...], list[Got]] = {}
    for one in gets:
        problem, choice = one.problem, one.choice
        key = (
            *(id(getattr(problem, name)) for name in TOLD_APART),
            problem.job.limits.model_dump_json(),
            problem.job.job.need_by,
            tuple(choice.combination.items()),
            choice.kept,
            choice.in_hand,
            choice.sent_back,
            tuple(one.draws.items()),
            tuple(purchase.key for purchase in choice.purchases),
        )
        kinds.setdefault(key, []).append(one)
    return list(kinds.values())


def line_key(purchase: Purchase) -> LineKey:
    return (purchase.line.offer.id, purchase.line.mode.mode)


def drawn(pool: Pool, gets: tuple[Got, ...]) -> dict[LineKey, Counter[Wanted]]:
    """Of each line, how many positions it fills, by family and design."""
    filled: dict[LineKey, Counter[Wanted]] = {}
    for one in gets:
        for position, key in one.draws.items():
            filled.setdefault(key, Counter())[one.problem.family.code, one.choice.combination[position]] += 1
    return filled


def pieces_for(pool: Pool, offer: int, filled: Mapping[Wanted, int]) -> dict[str, int]:
    """The pieces of a part that fill so many positions, by family; a kit may be parted between jobs."""
    pieces: dict[str, int] = {}
    for (family, design), positions in filled.items():
        held = pool.as_known_to[offer][family].part.fills.count(design)
        pieces[family] = max(pieces.get(family, 0), -(-positions // held))
    return pieces


def unused(plan: PoolPlan) -> dict[LineKey, int]:
    """Of each line, the designs in its pieces that no position uses; of a kit in two families, as the first job's book has it."""
    filled = drawn(plan.pool, plan.gets)
    left = {}
    for purchase in plan.purchases:
        key = line_key(purchase)
        used = filled.get(key, Counter())
        left[key] = purchase.quantity * len(purchase.line.offer.part.fills) - sum(used.values())
    return left


def left_over(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> Counter[Wanted]:
    """Pieces of each design that are bought, or were received, and that no position uses.

    A piece counts for one family: the one whose shelf wants it, else the first by code; what another family uses is gone
    whole.
    """
    bought: Counter[int] = Counter()
    filled: dict[int, Counter[Wanted]] = {}
    for purchase in purchases:
        bought[purchase.line.offer.id] += purchase.quantity
    for (offer, _), positions in drawn(pool, gets).items():
        filled.setdefault(offer, Counter()).update(positions)
    left: Counter[Wanted] = Counter()
    for offer, quantity in bought.items():
        used = filled.get(offer, Counter())
        family = pool.left_as(offer) or min(pool.as_known_to[offer])
        elsewhere = sum(pieces for other, pieces in pieces_for(pool, offer, used).items() if other != family)
        for design in pool.as_known_to[offer][family].part.fills:
            left[family, design] += quantity - elsewhere
        for (where, design), count in used.items():
            left[family, design] -= count if where == family else 0
    for one in gets:
        for position, hand in one.problem.in_hand.items():
            if hand.stocks and position not in (*one.choice.in_hand, *one.choice.sent_back):
                left[one.problem.family.code, hand.design] += 1
    return left


def price(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> tuple[Totals, tuple[Order, ...]]:
    """Price a pool's plan by plain arithmetic: each sum over all the jobs."""
    orders = orders_of(pool.terms, purchases)
    kinds = [(group[0], len(group)) for group in kinds_of(gets)]
    hands = [(in_hand_parts(one.problem, one.choice), count) for one, count in kinds]
    returned = [item for one in gets for item in one.choice.returns]
    left = left_over(pool, gets, purchases)
    totals = Totals(
        parts=sum(p.line.offer.cents(p.quantity) for p in purchases)
        + sum(count * parts for (parts, _), count in hands),
        core_charges=sum(p.quantity * p.line.offer.core_cents for p in purchases)
        - sum(count * back for (_, back), count in hands),
        core_credit=sum(core_credit(pool, item) for item in returned),
        freight=sum(order.freight_cents for order in orders),
        core_return=sum(
            pool.terms[s].core_return_cents for s in {pool.offer[item.offer].supplier for item in returned}
        ),
        labour=sum(count * work.cents for one, count in kinds for work in one.works),
        comebacks=sum(count * comebacks_of(one.problem, one.choice) for one, count in kinds),
        waiting=sum(count * waiting_of(one.problem, one.choice) for one, count in kinds),
        shelf=sum(wish.worth_cents * min(wish.pieces, left[wanted]) for wanted, wish in pool.wishes.items()),
    )
    return totals, orders


def core_credit(pool: Pool, item: Return) -> int:
    offer = pool.offer[item.offer]
    return pool.terms[offer.supplier].core_credit(offer.core_cents)


def core_room(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> Counter[int]:
    """Pieces of each part that can take a core back: those bought, and those in hand that stay."""
    room = Counter(offer.id for one in gets for offer in core_pieces(one.problem.in_hand, one.choice.sent_back))
    for purchase in purchases:
        room[purchase.line.offer.id] += purchase.quantity
    return room
