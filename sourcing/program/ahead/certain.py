"""What every plan up to a known cost pays besides the floors of its designs: orders that it has to place, waits for what is late.

Each is found by leaving out what it is paid for: where no combination costs so little without a supplier's lines, each
such plan places an order there. A flat freight that is waived from a sum on is certain where no such plan reaches the sum.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from sourcing.problem import Line, Problem
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, floor_of
from sourcing.program.grouped import grouped

Least = Mapping[str, Mapping[str, int]]
# Whether every combination at such floors, and so much besides in parts of a cent, costs more than the known cost.
Beyond = Callable[[Least, int], bool]


def paid_besides(problem: Problem, beyond: Beyond) -> Iterator[int]:
    """Cents, one payment after the other; `beyond` may count those before when it is asked for the next."""
    for lines in grouped((line.offer.supplier, line) for line in problem.lines).values():
        cents = _order(problem, lines, beyond)
        if cents and _needed(problem, lines, beyond):
            yield cents
    for cents, later in _waits(problem):
        if _needed(problem, later, beyond):
            yield cents


def _needed(problem: Problem, lines: Collection[Line], beyond: Beyond) -> bool:
    """Whether no plan of the known cost does without all of these lines."""
    without = set(lines)
    rest = replace(problem, lines=tuple(line for line in problem.lines if line not in without))
    return beyond(floor_of(rest).least, 0)


def _order(problem: Problem, lines: Sequence[Line], beyond: Beyond) -> int:
    """What any order of a supplier costs at least in a plan of the known cost."""
    supplier = lines[0].offer.supplier
    sums = [line.mode.free_over_minor for line in lines if line.mode.free_over_minor is not None]
    reached = bool(sums) and _reaches(problem, supplier, min(sums), beyond)
    flat = min(0 if reached and line.mode.free_over_minor is not None else line.mode.flat_cents for line in lines)
    return flat + problem.terms[supplier].order_fee_cents


def _reaches(problem: Problem, supplier: str, minor: int, beyond: Beyond) -> bool:
    """Whether some plan of the known cost may buy for such a sum, in the supplier's coins, from it.

    Whoever does pays no less than with that supplier's goods at half their price, and half the sum besides. Each piece's
    price is rounded to the cent, and so is the sum: a cent for each piece and one more cover that.
    """
    pieces = sum(problem.most(offer) for offer in problem.offers if offer.supplier == supplier)
    half = (problem.terms[supplier].cents(minor) - pieces - 1) * PARTS_OF_A_CENT // 2
    return not beyond(floor_of(problem, half=(supplier,)).least, half)


def _waits(problem: Problem) -> Iterator[tuple[int, Collection[Line]]]:
    """Cents for each further wait, paid where any of the lines that come later is bought."""
    day = problem.shop.day_cents if problem.minimise == "whole" else 0
    waits = sorted({0, *(line.workdays for line in problem.lines)})
    for shorter, longer in pairwise(waits):
        if cents := day * (longer - shorter):
            yield cents, [line for line in problem.lines if line.workdays >= longer]
