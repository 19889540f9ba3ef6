"""The variables of the program, keyed by short ids of ours."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

import pulp

from sourcing.book.family import NONE
from sourcing.inhand import Hand, core_pieces
from sourcing.prices.offers import Offer
from sourcing.problem import Line, Problem


@dataclass(frozen=True, slots=True)
class Span:
    """Quantities of one line at one price step: first, first + pack, ... last. Cents and minor are of `first` pieces.

    `further_cents` and `further_minor` are what one more pack adds within the step.
    """

    first: int
    last: int
    pack: int
    cents: int
    minor: int
    further_cents: int
    further_minor: int

    @property
    def packs(self) -> int:
        return (self.last - self.first) // self.pack


def spans(offer: Offer, most: int) -> list[Span]:
    """Split the quantities from the smallest line to `most` at the offer's price steps, in whole packs."""
    found = []
    ends = [step.quantity - 1 for step in offer.steps[1:]] + [most]
    for step, end in zip(offer.steps, ends, strict=True):
        first = max(offer.smallest, -(-step.quantity // offer.pack) * offer.pack)
        last = min(end, most) // offer.pack * offer.pack
        if first <= last:
            found.append(Span(first, last, offer.pack, offer.cents(first), offer.minor(first),
                              step.cents * offer.pack, step.minor * offer.pack))  # fmt: skip
    return found


@dataclass
class Variables:
    """Every variable of one program.

    holds[p, d]       1 if position p holds design d ("none" among them)
    keeps[p]          1 if the found part of p goes back in
    here[p]           1 if the part in hand of p fills it
    goes_back[p]      1 if the part in hand of p goes back to its supplier
    fills[o, p, d]    1 if offer o fills position p as design d
    used[o]           1 if offer o fills any position
    takes[l, k]       1 if line l is bought at its price step k
    packs[l, k]       packs of line l beyond the first quantity of step k
    row[t, r]         1 if the combination stands in row r of table t
    opens[s, m]       1 if supplier s gets an order by mode m
    free[s, m]        1 if that order's freight is waived
    piece[l]          pieces of line l whose freight by weight is paid
    buys[s]           1 if supplier s is bought from
    later[i]          1 if something arrives on the i-th of the possible days or later
    back[p, o]        1 if the core of position p goes back against offer o
    sends[s]          1 if any core goes back to supplier s
    does[w]           1 if task w is due
    shelf[d]          wanted pieces of design d that no position uses
    """

    model: pulp.LpProblem
    problem: Problem
    lines: tuple[Line, ...] = ()
    offers: tuple[Offer, ...] = ()
    spans: dict[int, list[Span]] = field(default_factory=dict)
    days: tuple[int, ...] = ()
    holds: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    keeps: dict[str, pulp.LpVariable] = field(default_factory=dict)
    here: dict[str, pulp.LpVariable] = field(default_factory=dict)
    goes_back: dict[str, pulp.LpVariable] = field(default_factory=dict)
    fills: dict[tuple[int, str, str], pulp.LpVariable] = field(default_factory=dict)
    used: dict[int, pulp.LpVariable] = field(default_factory=dict)
    takes: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    packs: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    row: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    opens: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    free: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    piece: dict[int, pulp.LpVariable] = field(default_factory=dict)
    buys: dict[str, pulp.LpVariable] = field(default_factory=dict)
    later: dict[int, pulp.LpVariable] = field(default_factory=dict)
    back: dict[tuple[str, int], pulp.LpVariable] = field(default_factory=dict)
    sends: dict[str, pulp.LpVariable] = field(default_factory=dict)
    does: dict[int, pulp.LpVariable] = field(default_factory=dict)
    shelf: dict[str, pulp.LpVariable] = field(default_factory=dict)

    def yes(self, name: str) -> pulp.LpVariable:
        return self.model.add_variable(name, 0, 1, pulp.LpInteger)

    def share(self, name: str, most: float | None = 1) -> pulp.LpVariable:
        return self.model.add_variable(name, 0, most, pulp.LpContinuous)

    def quantity(self, line: int) -> pulp.LpAffineExpression:
        """Pieces bought on a line."""
        return self._over(line, lambda span: span.first, lambda span: span.pack)

    def cents(self, line: int) -> pulp.LpAffineExpression:
        return self._over(line, lambda span: span.cents, lambda span: span.further_cents)

    def minor(self, line: int) -> pulp.LpAffineExpression:
        return self._over(line, lambda span: span.minor, lambda span: span.further_minor)

    def hands(self, offer: int) -> pulp.LpAffineExpression:
        """Pieces of an offer that are in hand, can take a core, and are not sent back; a kit is one piece, and stays."""
        pieces: dict[str, Hand] = {}
        for position, hand in self.problem.in_hand.items():
            if hand.offer is not None and hand.offer.id == offer and hand.takes_core:
                pieces["" if hand.kit else position] = hand
        return pulp.lpSum([len(pieces), *(-self.goes_back[p] for p in pieces if p in self.goes_back)])

    def taken(self, line: int) -> pulp.LpAffineExpression:
        """1 if the line is bought at all."""
        return pulp.lpSum(self.takes[line, k] for k in range(len(self.spans[line])))

    def lines_of(self, offer: int) -> Sequence[int]:
        """Lines of an offer, one a mode."""
        return self._of_offer.get(offer, ())

    def lines_in(self, order: tuple[str, str]) -> Sequence[int]:
        """Lines of a supplier's order by one mode."""
        return self._of_order.get(order, ())

    @cached_property
    def _of_offer(self) -> dict[int, list[int]]:
        return _grouped((line.offer.id, i) for i, line in enumerate(self.lines))

    @cached_property
    def _of_order(self) -> dict[tuple[str, str], list[int]]:
        return _grouped((line.order, i) for i, line in enumerate(self.lines))

    def _over(self, line: int, at_first: object, further: object) -> pulp.LpAffineExpression:
        assert callable(at_first) and callable(further)
        terms = []
        for k, span in enumerate(self.spans[line]):
            terms.append((self.takes[line, k], at_first(span)))
            if (line, k) in self.packs:
                terms.append((self.packs[line, k], further(span)))
        return pulp.LpAffineExpression(terms)


K = TypeVar("K")


def _grouped(pairs: Iterable[tuple[K, int]]) -> dict[K, list[int]]:
    groups: dict[K, list[int]] = {}
    for key, line in pairs:
        groups.setdefault(key, []).append(line)
    return groups


def declare(model: pulp.LpProblem, problem: Problem) -> Variables:
    """Make the variables that a problem needs; an offer that fills nothing and is not wanted gets none."""
    v = Variables(model, problem)
    for i, position in enumerate(problem.positions):
        for j, design in enumerate(problem.domains[position]):
            v.holds[position, design] = v.yes(f"holds_{i}_{j}")
        if problem.keepable.get(position) in problem.domains[position]:
            v.keeps[position] = v.yes(f"keeps_{i}")
        if problem.can_use(position):
            v.here[position] = v.yes(f"here_{i}")
        if position in problem.in_hand and problem.in_hand[position].restock_cents is not None:
            v.goes_back[position] = v.yes(f"goes_back_{i}")
    _offers(v)
    _orders(v)
    for t, table in enumerate(problem.fitting.tables if problem.fitting else ()):
        for r in range(len(table.rows)):
            v.row[t, r] = v.yes(f"row_{t}_{r}")
    if problem.minimise != "cash":
        _cores(v)
    if problem.minimise == "whole":
        v.does.update({w: v.share(f"does_{w}") for w, work in enumerate(problem.works) if work.cents})
        v.shelf.update({
            d: v.share(f"shelf_{i}", wish.pieces)
            for i, (d, wish) in enumerate(problem.wishes.items())
            if wish.pieces and wish.worth_cents and (
                any(d in offer.part.fills for offer in v.offers)
                or any(hand.stocks and hand.design == d for hand in problem.in_hand.values())
            )
        })  # fmt: skip
    return v


def _offers(v: Variables) -> None:
    problem = v.problem
    for offer in problem.offers:
        room = problem.shelf_room(offer)
        filling = [(position, design) for position in problem.positions for design in problem.may_fill(offer, position)]
        filling = [(position, design) for position, design in filling if design != NONE]
        if filling:
            v.used[offer.id] = v.yes(f"used_{offer.id}")
            for position, design in filling:
                i, j = problem.positions.index(position), problem.domains[position].index(design)
                v.fills[offer.id, position, design] = v.yes(f"fills_{offer.id}_{i}_{j}")
        if filling or room:
            v.offers += (offer,)
    wanted = {offer.id for offer in v.offers}
    v.lines = tuple(line for line in problem.lines if line.offer.id in wanted)
    for i, line in enumerate(v.lines):
        offer = line.offer
        room = problem.shelf_room(offer)
        most = problem.most(offer) if offer.id in v.used else min(room, problem.most(offer))
        v.spans[i] = spans(offer, most)
        for k, span in enumerate(v.spans[i]):
            v.takes[i, k] = v.yes(f"takes_{i}_{k}")
            if span.packs:
                v.packs[i, k] = v.model.add_variable(f"packs_{i}_{k}", 0, span.packs, pulp.LpInteger)


def _orders(v: Variables) -> None:
    orders = sorted({line.order for line in v.lines})
    for n, (supplier, name) in enumerate(orders):
        mode = next(mode for mode in v.problem.terms[supplier].modes if mode.mode == name)
        v.opens[supplier, name] = v.yes(f"opens_{n}")
        by_weight = [i for i in v.lines_in((supplier, name)) if v.lines[i].piece_freight_cents]
        if mode.free_over_minor is not None and (mode.flat_cents or by_weight):
            v.free[supplier, name] = v.yes(f"free_{n}")
            v.piece.update({i: v.share(f"piece_{i}", None) for i in by_weight})
    for n, supplier in enumerate(sorted({supplier for supplier, _ in orders})):
        v.buys[supplier] = v.yes(f"buys_{n}")
    v.days = tuple(sorted({line.workdays for line in v.lines if line.workdays}))
    v.later.update({i: v.yes(f"later_{i}") for i in range(len(v.days))})


def _take_cores(v: Variables) -> list[Offer]:
    """The offers of which a piece can be there to take a core: bought, or in hand."""
    here = {offer.id: offer for offer in core_pieces(v.problem.in_hand, ())}
    return list({**here, **{offer.id: offer for offer in v.offers}}.values())


def _cores(v: Variables) -> None:
    for i, (position, design) in enumerate(v.problem.cores.items()):
        for offer in _take_cores(v):
            credit = v.problem.terms[offer.supplier].core_credit(offer.core_cents)
            if credit and design in offer.part.core_accepts:
                v.back[position, offer.id] = v.yes(f"back_{i}_{offer.id}")
    for n, supplier in enumerate(sorted({v.problem.offer[offer].supplier for _, offer in v.back})):
        v.sends[supplier] = v.yes(f"sends_{n}")
