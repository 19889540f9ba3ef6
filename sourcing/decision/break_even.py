"""The price at which the choice turns, exactly.

The cheapest plan as a function of one part's first price t (whole smallest coins of its supplier) is the lower of
- the cheapest plan that pays no piece at that price: a constant; and
- for each number n of pieces paid at it: n t and a rest that never rises with t, since a dearer part only carries its
  order over thresholds and minimums: a staircase, found from the dear end, one solve for each stair.
The best answer at a price, with its thresholds as they are at that price, gives a stair; it reaches down to the lowest
price at which the same plan still costs the same but for n t. Below that the next stair begins.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sourcing.decision import Answer
from sourcing.plan import Plan
from sourcing.prices.offers import Offer
from sourcing.problem import Problem


@dataclass(frozen=True, slots=True)
class Piece:
    """Prices `low` to `high` (whole smallest coins, both inclusive) on which one plan stays cheapest.

    `pieces` of the part are paid at the price; `rest` is the cost of everything else, in cents of the shop.
    """

    low: int
    high: int
    plan: Plan
    pieces: int
    rest: int

    def uses(self, offer: int) -> bool:
        """Whether the plan buys the part at all (at its first price or at a break)."""
        return self.plan.choice is not None and any(p.line.offer.id == offer for p in self.plan.choice.purchases)


@dataclass(frozen=True)
class BreakEven:
    """The choice over a range of one part's first price: pieces that cover it, each beginning a coin after the last."""

    problem: Problem
    offer: Offer
    low: int
    high: int
    pieces: tuple[Piece, ...]
    solves: int

    @property
    def turns(self) -> tuple[int, ...]:
        """Prices from which another plan is cheapest."""
        return tuple(piece.low for piece in self.pieces[1:])

    def clipped(self, low: int, high: int) -> BreakEven:
        """The same over a part of its range."""
        pieces = tuple(
            replace(piece, low=max(low, piece.low), high=min(high, piece.high))
            for piece in self.pieces
            if piece.low <= high and piece.high >= low
        )
        return replace(self, low=low, high=high, pieces=pieces)

    def at(self, minor: int) -> Piece | None:
        """The piece that a price lies in."""
        return next((piece for piece in self.pieces if piece.low <= minor <= piece.high), None)


def break_even(problem: Problem, offer: int, low: int, high: int, answer: Answer) -> BreakEven:
    """Pieces of the cheapest plan's cost over `low`..`high` of an offer's first price, all else and its breaks fixed.

    Prices at which nothing is possible belong to no piece.

    Raises
    ------
    ValueError
        where so many pieces may be bought that there would be no end (`Problem.first_price_counts`)
    """
    counts = problem.first_price_counts(problem.offer[offer])
    if counts is None:
        raise ValueError("so many pieces may be bought that their price cannot be studied")
    found: list[Piece] = []
    solves = 0
    for count in counts:
        for stair in stairs(problem.buying(offer, count), offer, count, low, high, answer):
            solves += 1
            if stair is not None:
                found.append(stair)
    pieces = tuple(_lowest(problem, offer, found, low, high))
    return BreakEven(problem, problem.offer[offer], low, high, pieces, solves)


def around(problem: Problem, plan: Plan, answer: Answer) -> BreakEven | None:
    """The break-even of the part that fills the lead position, from half its price to double; None where it is kept.

    Where nothing turns in that range, from the smallest coin to ten times the price. None also where so many pieces may
    be bought that their price cannot be studied.
    """
    lead = problem.family.lead.code
    if plan.choice is None or lead not in plan.choice.fills:
        return None
    offer = plan.choice.fills[lead]
    now = problem.offer[offer].steps[0].minor
    if problem.first_price_counts(problem.offer[offer]) is None:
        return None
    wide = break_even(problem, offer, 1, now * 10, answer)
    near = wide.clipped(max(1, now // 2), now * 2)
    return near if len(near.pieces) > 1 else wide


def stairs(problem: Problem, offer: int, count: int, low: int, high: int, answer: Answer) -> Iterator[Piece | None]:
    """Stairs of the plans that pay `count` pieces at the price, from the dear end; one solve each."""
    at = high
    while at >= low:
        plan = answer(problem.priced(offer, at))
        if plan.choice is None:
            yield None
            return
        reach = _reach(problem, offer, plan, count, low, at)
        terms = problem.terms[problem.offer[offer].supplier]
        yield Piece(reach, at, plan, count, plan.cost - count * terms.cents(at))
        at = reach - 1


def _reach(problem: Problem, offer: int, plan: Plan, count: int, low: int, at: int) -> int:
    """The lowest price down to which a plan stays within its thresholds and minimums, as at the price `at`."""
    if count == 0:
        return low
    reach = low
    for order in plan.orders:
        paid = sum(p.line.offer.base_pieces(p.quantity) for p in order.lines if p.line.offer.id == offer)
        if not paid:
            continue
        mode = order.lines[0].line.mode
        rest = order.subtotal_minor - paid * at
        needs = [problem.terms[order.supplier].order_minimum_minor]
        if mode.free_over_minor is not None and order.subtotal_minor >= mode.free_over_minor:
            needs.append(mode.free_over_minor)
        reach = max(reach, -(-(max(needs) - rest) // paid))
    return reach


def _lowest(problem: Problem, offer: int, stairs: list[Piece], low: int, high: int) -> Iterator[Piece]:
    """The lower envelope of the stairs over whole coins; of equal ones the one that stays longest."""
    terms = problem.terms[problem.offer[offer].supplier]
    at = low
    while at <= high:
        # A stair goes on above its upper end: a dearer part keeps its order over every threshold.
        here = [stair for stair in stairs if stair.low <= at]
        if not here:
            nexts = [stair.low for stair in stairs if stair.low > at]
            if not nexts:
                return
            at = min(nexts)
            continue
        best = min(stair.rest + stair.pieces * terms.cents(at) for stair in here)
        equal = [stair for stair in here if stair.rest + stair.pieces * terms.cents(at) == best]
        lasting = max(equal, key=lambda stair: (_lasts(problem, offer, stair, stairs, at, high), -stair.pieces))
        until = _lasts(problem, offer, lasting, stairs, at, high)
        yield Piece(at, until, lasting.plan, lasting.pieces, lasting.rest)
        at = until + 1


def _lasts(problem: Problem, offer: int, stair: Piece, stairs: list[Piece], at: int, high: int) -> int:
    """The last coin up to which a stair's line stays lowest, from `at` on: a line meets another once, so by halving."""
    terms = problem.terms[problem.offer[offer].supplier]
    until = high
    for other in stairs:
        if other is stair or other.low > until:
            continue
        begin = max(at, other.low)

        def beaten(price_at: int, other: Piece = other) -> bool:
            return other.rest + (other.pieces - stair.pieces) * terms.cents(price_at) < stair.rest

        if other.pieces >= stair.pieces:
            if beaten(begin):
                until = min(until, begin - 1)
        elif beaten(until):
            first, last = begin, until
            while first < last:
                middle = (first + last) // 2
                first, last = (first, middle) if beaten(middle) else (middle + 1, last)
            until = min(until, first - 1)
    return until


def cost_at(problem: Problem, piece: Piece, offer: int, minor: int) -> int:
    """What a piece's plan costs at a price inside it."""
    assert piece.plan.choice is not None
    return piece.rest + piece.pieces * problem.terms[problem.offer[offer].supplier].cents(minor)
