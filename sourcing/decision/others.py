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
    """For each part that could fill the lead position and does not: the price at which it would win the job.

    None where it loses at any price above nothing. "Wins" means: cheaper by at least a cent than every plan without it.
    """
    lead = problem.family.lead.code
    chosen = plan.choice.fills.get(lead) if plan.choice else None
    found = []
    for offer in problem.offers:
        if offer.id == chosen or not problem.may_fill(offer, lead):
            continue
        now = offer.steps[0].minor
        without = break_even(problem, offer.id, 1, now, answer)
        wins: int | None = None
        for piece in without.pieces:
            if piece.pieces and piece.plan.choice and offer.id in piece.plan.choice.fills.values():
                wins = _last_below(problem, offer.id, piece, plan.cost) or wins
        found.append(Ask(offer, wins))
    return sorted(found, key=lambda ask: (ask.wins_at_minor is None, ask.offer.supplier, ask.offer.part.number.spelt))


def _last_below(problem: Problem, offer: int, piece: Piece, cost: int) -> int | None:
    """The highest price of a piece at which its plan still costs less than `cost`."""
    low, high = piece.low, piece.high
    if cost_at(problem, piece, offer, low) >= cost:
        return None
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if cost_at(problem, piece, offer, middle) < cost else (low, middle - 1)
    return low
