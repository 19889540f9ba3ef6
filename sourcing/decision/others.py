"""Other plans than the cheapest: the best one that uses what somebody asks for, and the next best ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sourcing.decision import Answer
from sourcing.decision.break_even import Piece, break_even, cost_at
from sourcing.plan import Plan
from sourcing.prices.offers import Offer
from sourcing.problem import Problem


@dataclass(frozen=True)
class Ask:
    """A losing part and the highest first price, in its supplier's smallest coins, at which it wins the job."""

    offer: Offer
    wins_at_minor: int | None


def with_design(problem: Problem, design: str, answer: Answer) -> Plan:
    """The best plan that holds a design."""
    return answer(problem.holding(problem.family.design[design].position, design))


def with_part(problem: Problem, offer: int, answer: Answer) -> Plan:
    """The best plan in which a supplier's part fills a position."""
    return answer(problem.filled_by(offer))


def best(problem: Problem, answer: Answer) -> Iterator[Plan]:
    """Plans from the cheapest on, each for another combination than those before."""
    while True:
        plan = answer(problem)
        if plan.choice is None:
            return
        yield plan
        problem = problem.unlike(plan.choice.combination)


def asks(problem: Problem, plan: Plan, answer: Answer) -> list[Ask]:
    """For each part that could fill the lead position and fills none: the price at which it would win the job.

    None where it loses at any price above nothing. "Wins" means: cheaper by at least a cent than every plan that it does
    not fill.
    """
    lead = problem.family.lead.code
    chosen = set(plan.choice.fills.values()) if plan.choice else set()
    found = []
    for offer in problem.offers:
        if offer.id in chosen or not problem.may_fill(offer, lead):
            continue
        if problem.shelf_room(offer):
            found.append(Ask(offer, _wins_beside_the_shelf(problem, offer, answer)))
        else:
            found.append(Ask(offer, _wins_at(problem, offer, plan.cost, answer)))
    return sorted(found, key=lambda ask: (ask.wins_at_minor is None, ask.offer.supplier, ask.offer.part.number.spelt))


def _wins_at(problem: Problem, offer: Offer, cost: int, answer: Answer) -> int | None:
    """The same for one part that is bought only to fill a position: what it must undercut is the plan's cost."""
    wins: int | None = None
    for piece in break_even(problem, offer.id, 1, offer.steps[0].minor, answer).pieces:
        if piece.pieces and piece.plan.choice and offer.id in piece.plan.choice.fills.values():
            wins = _last_below(problem, offer.id, piece, cost) or wins
    return wins


def _wins_beside_the_shelf(problem: Problem, offer: Offer, answer: Answer) -> int | None:
    """The same for a part that may also be bought for the shelf: its price moves plans that it does not fill, too."""
    now = offer.steps[0].minor
    with_it = break_even(problem.filled_by(offer.id), offer.id, 1, now, answer).pieces
    without = break_even(problem.not_filled_by(offer.id), offer.id, 1, now, answer).pieces
    meets = [
        _last_cheaper(problem, offer.id, piece, other, max(piece.low, other.low), min(piece.high, other.high))
        for piece in with_it
        for other in without
        if piece.low <= other.high and other.low <= piece.high
    ]
    # Cheap enough, a plan without it may miss a minimum.
    alone = [without[0].low - 1] if without and with_it and with_it[0].low < without[0].low else []
    return max([price for price in (*meets, *alone) if price is not None], default=None)


def _last_cheaper(problem: Problem, offer: int, piece: Piece, other: Piece, low: int, high: int) -> int | None:
    """The highest price from `low` to `high` at which a piece's plan costs less than another's: lines meet once."""

    def wins(minor: int) -> bool:
        return cost_at(problem, piece, offer, minor) < cost_at(problem, other, offer, minor)

    if wins(high) or not wins(low):
        return high if wins(high) else None
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if wins(middle) else (low, middle - 1)
    return low


def _last_below(problem: Problem, offer: int, piece: Piece, cost: int) -> int | None:
    """The highest price of a piece at which its plan still costs less than `cost`."""
    low, high = piece.low, piece.high
    if cost_at(problem, piece, offer, low) >= cost:
        return None
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if cost_at(problem, piece, offer, middle) < cost else (low, middle - 1)
    return low
