"""Other plans than the cheapest: the best one that uses what somebody asks for, and the next best ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sourcing.decision import Answer
from sourcing.decision.break_even import Piece, break_even, cost_at, stairs
from sourcing.decision.routes import why_none
from sourcing.plan import Plan, Status
from sourcing.prices.offers import Offer
from sourcing.problem import Problem


@dataclass(frozen=True)
class Ask:
    """A losing part and the highest first price, in its supplier's smallest coins, at which it wins the job."""

    offer: Offer
    wins_at_minor: int | None


def with_design(problem: Problem, design: str, answer: Answer) -> Plan:
    """The best plan that holds a design, or why there is none."""
    held = problem.holding(problem.family.design[design].position, design)
    plan = answer(held) if held.fitting is not None else Plan(held, Status.IMPOSSIBLE)
    return plan if plan.choice else replace(plan, reasons=tuple(why_none(problem, design)))


def with_part(problem: Problem, offer: int, answer: Answer) -> Plan:
    """The best plan in which a supplier's part fills a position."""
    return answer(problem.filled_by(offer))


def best(problem: Problem, answer: Answer, by_source: bool = False, known: Plan | None = None) -> Iterator[Plan]:
    """Plans from the cheapest on, each for another combination than those before.

    Parameters
    ----------
    by_source : the same combination from other parts, or with other found parts kept, counts as another plan too
    known : the cheapest, where it was made before
    """
    plan = answer(problem) if known is None else known
    while plan.choice is not None:
        yield plan
        choice = plan.choice
        problem = problem.unlike(choice.combination, choice.fills if by_source else None, choice.in_hand)
        plan = answer(problem)


def asks(problem: Problem, plan: Plan, answer: Answer) -> list[Ask]:
    """For each part that could fill the lead position and fills none: the price at which it would win the job.

    None where it loses at any price above nothing. "Wins" means: cheaper by at least a cent than every plan that it does
    not fill. A part of which so many pieces may be bought that its price cannot be studied is left out.
    """
    lead = problem.family.lead.code
    chosen = set(plan.choice.fills.values()) if plan.choice else set()
    found = []
    for offer in problem.offers:
        if offer.id in chosen or not problem.may_fill(offer, lead):
            continue
        if problem.first_price_counts(offer) is None:
            continue
        if problem.shelf_room(offer):
            found.append(Ask(offer, _wins_beside_the_shelf(problem, offer, answer)))
        else:
            found.append(Ask(offer, _wins_at(problem, offer, plan.cost, answer)))
    return sorted(found, key=lambda ask: (ask.wins_at_minor is None, ask.offer.supplier, ask.offer.part.number.spelt))


def _wins_at(problem: Problem, offer: Offer, cost: int, answer: Answer) -> int | None:
    """The highest price at which a part that is bought only to fill a position undercuts the plan without it.

    From the present price down the stairs: the first that undercuts holds the highest price; where the rest alone is too dear
    every stair below is, since the rest never falls with the price.
    """
    best: int | None = None
    for count in problem.first_price_counts(offer) or ():
        asked = problem.buying(offer.id, count)
        for stair in stairs(asked, offer.id, count, 1, offer.steps[0].minor, answer) if count else ():
            wins = None if stair is None else _last_below(problem, offer.id, stair, cost)
            if wins is not None:
                best = wins if best is None else max(best, wins)
            if stair is None or wins is not None or stair.rest >= cost:
                break
    return best


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
