"""The least that each design at each position adds to the cost of any plan: a floor, position by position.

The cost of a plan is at least `always` plus the floors of the designs that it holds. What ties positions together is left
out where it only adds cost: flat freight, order fees, waiting, labour that hangs on several positions, the cost of
returning cores. What can take cost off is counted to the full: every piece takes back a core where one of the job's is
accepted, and the shelf is filled with all that is wanted.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from sourcing.book.family import NONE
from sourcing.inhand import core_pieces
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.program.spans import spans

# Floors are whole parts of a cent, so that a kit's price is split, and compared, without rounding.
PARTS_OF_A_CENT = 1 << 10


@dataclass(frozen=True, slots=True)
class Floor:
    """In `PARTS_OF_A_CENT`: what every plan costs at least, and what each design of a position adds to it at least.

    A design without a floor cannot be had.
    """

    always: int
    least: Mapping[str, Mapping[str, int]]


def floor_of(problem: Problem, half: Collection[str] = ()) -> Floor:
    """The floors of a problem, of the total that it minimises; goods of the suppliers in `half` count at half their price."""
    least: dict[str, dict[str, int]] = {position: {} for position in problem.positions}
    for position, designs in problem.domains.items():
        if NONE in designs:
            least[position][NONE] = 0
    for offer in problem.offers:
        for position, design, floor in bought_floors(problem, offer, half):
            _lower(least[position], design, floor)
    for position, design in problem.keepable.items():
        if design in problem.domains[position]:
            cents = problem.comeback_cents(position, None, design) if problem.minimise == "whole" else 0
            _lower(least[position], design, cents * PARTS_OF_A_CENT)
    always = _hands(problem, least)
    if problem.minimise == "whole":
        always -= sum(wish.pieces * wish.worth_cents for wish in problem.wishes.values())
        always += _labour(problem, least)
    return Floor(always * PARTS_OF_A_CENT, least)


def _lower(least: dict[str, int], design: str, cost: int) -> None:
    least[design] = min(cost, least.get(design, cost))


def bought_floors(problem: Problem, offer: Offer, half: Collection[str] = ()) -> Iterator[tuple[str, str, int]]:
    """The floor of each position and design that an offer may fill, where it is this offer that fills it.

    That is its line, split evenly over the positions that a piece could fill at once.
    """
    filling = problem.fillings(offer)
    share = _line(problem, offer, offer.supplier in half) * PARTS_OF_A_CENT // max(1, len(filling)) if filling else 0
    for position, designs in filling.items():
        for design in designs:
            rate = problem.comeback_cents(position, offer, design) if problem.minimise == "whole" else 0
            yield position, design, share + rate * PARTS_OF_A_CENT


def _line(problem: Problem, offer: Offer, half: bool) -> int:
    """The least that buying an offer costs: price, core charge that stays, freight by weight that nothing waives."""
    cents = min((span.cents for span in spans(offer, problem.most(offer))), default=0) // (2 if half else 1)
    stays = offer.core_cents
    if problem.minimise != "cash" and offer.part.core_accepts & set(problem.cores.values()):
        stays -= problem.terms[offer.supplier].core_credit(offer.core_cents)
    sent = min(
        0 if line.mode.free_over_minor is not None else line.piece_freight_cents for line in problem.lines_of(offer)
    )
    return cents + offer.smallest * (stays + sent)


def _hands(problem: Problem, least: dict[str, dict[str, int]]) -> int:
    """Parts in hand: what they cost in every plan at least, and what using one adds to that."""
    always = 0
    for position, hand in problem.in_hand.items():
        ways = [hand.cents(False, False)]
        if hand.restock_cents is not None:
            ways.append(hand.cents(False, True) - hand.core_cents)
        used = hand.cents(True, False)
        resting = min(*ways, used)
        always += resting
        if problem.can_use(position):
            rate = problem.in_hand_comeback_cents(hand) if problem.minimise == "whole" else 0
            _lower(least[position], hand.design, (used - resting + rate) * PARTS_OF_A_CENT)
    if problem.minimise != "cash":
        always -= sum(
            problem.terms[offer.supplier].core_credit(offer.core_cents) for offer in core_pieces(problem.in_hand, ())
        )
    return always


def _labour(problem: Problem, least: dict[str, dict[str, int]]) -> int:
    """Work that every plan makes due; what hangs on one position's design alone is put on that design."""
    always = 0
    for work in problem.works:
        if work.replacing is not None:
            continue
        if not work.when:
            always += work.cents
        elif len(work.when) == 1:
            position, designs = work.when[0]
            for design in designs & least[position].keys():
                least[position][design] += work.cents * PARTS_OF_A_CENT
    return always
