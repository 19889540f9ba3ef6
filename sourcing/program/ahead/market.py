"""A problem as arrays: what each line costs at least, what it can fill, what each order costs to place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from sourcing.book.family import NONE
from sourcing.inhand import core_pieces
from sourcing.prices.offers import Offer
from sourcing.problem import Line, Problem
from sourcing.program.spans import spans

Floats: TypeAlias = NDArray[np.float64]
Whole: TypeAlias = NDArray[np.int64]
Truths: TypeAlias = NDArray[np.bool_]

# Further pieces for the shelf are looked at size by size; an offer with more sizes than this gets no bound.
MOST_SIZES = 400
BOUGHT, KEPT, HERE, EMPTY = "bought", "kept", "here", "empty"


class NoBound(Exception):
    """The problem is of a kind for which these arrays are no lower bound, or one too loose to pay."""


@dataclass(frozen=True, slots=True)
class State:
    """One way in which a position can be filled: by which design, from which source, at which cost of its own."""

    position: int
    design: str
    source: str
    cents: int


@dataclass(frozen=True, slots=True)
class Placed:
    """One supplier's order by one mode. Cents of the shop; thresholds in the supplier's smallest coins."""

    key: tuple[str, str]
    flat: int
    fee: int
    minimum: int
    free_over: int | None


@dataclass(frozen=True)
class Market:
    """Everything that a bound needs, line by line; amounts in whole cents (as floats: all far below 2^53).

    `paid` and `waived` are the least that a line costs with its freight by weight and without, cores and what is left for
    the shelf taken off; `minor` the most that it adds to its order's subtotal. Line `fill_line[e]` can fill its position
    `fill_position[e]` as state `fill_state[e]` for `fill_cents[e]` more. `alone` marks lines that may be bought to fill nothing.
    `fixed` is what every plan costs, at least, besides.
    """

    problem: Problem
    lines: tuple[Line, ...]
    states: tuple[State, ...]
    orders: tuple[Placed, ...]
    order: Whole
    waits: Whole
    paid: Floats
    waived: Floats
    minor: Floats
    alone: Truths
    fill_line: Whole
    fill_state: Whole
    fill_cents: Floats
    day: int
    fixed: int

    @cached_property
    def fill_position(self) -> Whole:
        return self.state_position[self.fill_state]

    @cached_property
    def state_position(self) -> Whole:
        return np.array([state.position for state in self.states], dtype=np.int64)

    @cached_property
    def state_cents(self) -> Floats:
        return np.array([state.cents for state in self.states], dtype=float)

    @cached_property
    def bought_states(self) -> Truths:
        return np.array([state.source == BOUGHT for state in self.states], dtype=bool)

    @cached_property
    def single(self) -> Truths:
        """Lines that can fill just one position, as one design."""
        return np.asarray(np.bincount(self.fill_line, minlength=len(self.lines)) == 1)

    @cached_property
    def days(self) -> tuple[int, ...]:
        """The waits to look at one by one: each that a plan can come to, or one that holds all where waiting is free."""
        if not self.day:
            return (int(self.waits.max(initial=0)),)
        return tuple(sorted({0, *(int(wait) for wait in self.waits)}))


def market_of(problem: Problem) -> Market:
    """The arrays of a problem.

    A line's least cost is a true lower bound on what buying it adds, whatever else is bought:
    - a line has one of its whole sizes; without room on the shelf only the smallest; the cheapest counts, with all that follows;
    - a piece takes at most one core, there are no more cores than found, a supplier that gets n cores or fewer is paid its
      cost of returning once, so that each core brings at most its credit less an n-th of that cost;
    - a design left over is worth what is wanted of it; left over from several lines together it is never worth more than
      from each alone; a piece that fills a position is not left over.

    Raises NoBound where a line has too many sizes.
    """
    whole = problem.minimise == "whole"
    states = tuple(_states(problem, whole))
    number = {(state.position, state.design): s for s, state in enumerate(states) if state.source == BOUGHT}
    place = {position: i for i, position in enumerate(problem.positions)}
    domains = {position: frozenset(held) for position, held in problem.domains.items()}
    rows = _Rows(problem)
    known: dict[int, tuple[list[tuple[int, float]], int, list[tuple[int, float]]]] = {}
    for line in problem.lines:
        offer = line.offer
        told = known.get(offer.id)
        if told is None:
            room = problem.shelf_room(offer) if problem.wishes else 0
            filling = _fillings(problem, offer, number, place, domains, whole)
            sizes = _sizes(problem, offer, bool(filling), room)
            told = (filling, room, [(size, _least(problem, offer, size, whole)) for size in sizes])
            known[offer.id] = told
        if told[2] and (told[0] or told[1]):
            rows.add(line, *told)
    return Market(
        problem, tuple(rows.lines), states, tuple(rows.placed),
        order=np.array(rows.order, dtype=np.int64), waits=np.array([line.workdays for line in rows.lines], dtype=np.int64),
        paid=np.array(rows.paid, dtype=float), waived=np.array(rows.waived, dtype=float),
        minor=np.array(rows.minor, dtype=float), alone=np.array(rows.alone, dtype=bool),
        fill_line=np.array(rows.fill_line, dtype=np.int64), fill_state=np.array(rows.fill_state, dtype=np.int64),
        fill_cents=np.array(rows.fill_cents, dtype=float),
        day=problem.shop.day_cents if whole else 0, fixed=_fixed(problem),
    )  # fmt: skip


class _Rows:
    """The lines as columns in the making: flat lists, as there may be a hundred thousand of them."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.number: dict[tuple[str, str], int] = {}
        self.placed: list[Placed] = []
        self.lines: list[Line] = []
        self.order: list[int] = []
        self.paid: list[float] = []
        self.waived: list[float] = []
        self.minor: list[float] = []
        self.alone: list[bool] = []
        self.fill_line: list[int] = []
        self.fill_state: list[int] = []
        self.fill_cents: list[float] = []

    def add(self, line: Line, filling: list[tuple[int, float]], room: int, sized: list[tuple[int, float]]) -> None:
        """One line: what it can fill, the room for it on the shelf, its sizes with what each costs at least before freight."""
        key = line.order
        if key not in self.number:
            self.number[key] = len(self.placed)
            self.placed.append(_placed(self.problem, line))
        for state, cents in filling:
            self.fill_line.append(len(self.lines))
            self.fill_state.append(state)
            self.fill_cents.append(cents)
        piece = line.piece_freight_cents
        if len(sized) == 1:
            size, cost = sized[0]
            self.paid.append(cost + size * piece)
            self.waived.append(cost)
            self.minor.append(line.offer.minor(size))
        else:
            self.paid.append(min(cost + size * piece for size, cost in sized))
            self.waived.append(min(cost for _, cost in sized))
            self.minor.append(max(line.offer.minor(size) for size, _ in sized))
        self.order.append(self.number[key])
        self.alone.append(bool(room))
        self.lines.append(line)


def _states(problem: Problem, whole: bool) -> Iterator[State]:
    for i, position in enumerate(problem.positions):
        hand = problem.in_hand.get(position)
        unused = 0
        if hand is not None:
            back = [] if hand.restock_cents is None else [hand.cents(False, True) - hand.core_cents]
            wish = problem.wishes.get(hand.design) if whole and hand.stocks else None
            unused = min([hand.cents(False, False) - (wish.worth_cents if wish and wish.pieces else 0), *back])
        for design in problem.domains[position]:
            if design == NONE:
                yield State(i, design, EMPTY, unused)
                continue
            yield State(i, design, BOUGHT, unused)
            if problem.keepable.get(position) == design:
                yield State(i, design, KEPT, unused + (problem.comeback_cents(position, None, design) if whole else 0))
            if hand is not None and problem.can_use(position) and hand.design == design:
                yield State(
                    i, design, HERE, hand.cents(True, False) + (problem.in_hand_comeback_cents(hand) if whole else 0)
                )


def _fillings(
    problem: Problem,
    offer: Offer,
    number: dict[tuple[int, str], int],
    place: dict[str, int],
    domains: dict[str, frozenset[str]],
    whole: bool,
) -> list[tuple[int, float]]:
    """The bought states that an offer can bring about, each with what filling so costs: comebacks, and a piece less left over."""
    if offer.id in problem.sparing:
        return []
    found = []
    for design in dict.fromkeys(offer.part.fills):
        position = problem.family.design[design].position
        if design not in domains.get(position, ()):
            continue
        if offer.part.condition not in problem.family.position[position].conditions:
            continue
        cents = problem.comeback_cents(position, offer, design) if whole else 0
        wish = problem.wishes.get(design) if whole else None
        # Of the smallest line all pieces may be wanted: only then a piece less is worth less. Larger lines: nothing is lost.
        if wish and offer.part.fills.count(design) * offer.smallest <= wish.pieces and not problem.shelf_room(offer):
            cents += wish.worth_cents
        found.append((number[place[position], design], float(cents)))
    return found


def _sizes(problem: Problem, offer: Offer, fills: bool, room: int) -> Iterator[int]:
    """The quantities that a line of an offer can have."""
    if not room:
        if fills and (offer.stock is None or offer.stock >= offer.smallest):
            yield offer.smallest
        return
    most = problem.most(offer) if fills else min(room, problem.most(offer))
    if most < offer.smallest:
        return
    if (most - offer.smallest) // offer.pack > MOST_SIZES:
        raise NoBound
    for span in spans(offer, most):
        yield from range(span.first, span.last + 1, span.pack)


def _least(problem: Problem, offer: Offer, size: int, whole: bool) -> float:
    """The least that so many pieces of an offer cost before freight, in cents."""
    cost = offer.cents(size) + size * offer.core_cents
    if offer.core_cents and problem.cores:
        cost -= min(size, _takes(problem, offer)) * _brings(problem, offer)
    if whole and problem.wishes:
        for design, held in Counter(offer.part.fills).items():
            wish = problem.wishes.get(design)
            cost -= 0 if wish is None else wish.worth_cents * min(wish.pieces, held * size)
    return float(cost)


def _takes(problem: Problem, offer: Offer) -> int:
    """How many of the found parts an offer takes as cores."""
    if problem.minimise == "cash":
        return 0
    return sum(design in offer.part.core_accepts for design in problem.cores.values())


def _brings(problem: Problem, offer: Offer) -> int:
    """The most that one core brings back against a piece, its share of the cost of returning taken off."""
    terms = problem.terms[offer.supplier]
    return max(0, terms.core_credit(offer.core_cents) - terms.core_return_cents // max(1, len(problem.cores)))


def _placed(problem: Problem, line: Line) -> Placed:
    terms = problem.terms[line.offer.supplier]
    return Placed(line.order, line.mode.flat_cents, terms.order_fee_cents, terms.order_minimum_minor,
                  line.mode.free_over_minor)  # fmt: skip


def _fixed(problem: Problem) -> int:
    """What every plan costs besides lines, orders and states, at least: less what cores bring against pieces in hand."""
    return -sum(_brings(problem, offer) for offer in core_pieces(problem.in_hand, ()) if _takes(problem, offer))
