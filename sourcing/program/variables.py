"""Every variable of one program, keyed by short ids of ours, and what they add up to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import pulp

from sourcing.inhand import Hand
from sourcing.pool.lots import Pool, Wanted
from sourcing.prices.offers import Offer
from sourcing.problem import Line, Problem
from sourcing.program.grouped import grouped
from sourcing.program.spans import Span
from sourcing.program.unit import Number, Unit


@dataclass
class Variables:
    """Every variable of one program: what stands in the units, and what is bought for all of them.

    used[o]           1 if offer o fills any position                               (where one line must serve several)
    needs[o]          pieces of offer o that fill positions                         (at most `most_needed[o]`)
    needs_of[o, f]    those of them that fill positions of family f
    parts_of[o, f]    the same as a variable of its own                             (where a piece fills several positions)
    binds[o, f, d]    1 if the positions of design d say how many those are         (there)
    extra[o]          packs of offer o beyond its smallest quantity that serve      (`more` 1 if there are any)
    takes[l, k]       1 if line l is bought at its price step k
    packs[l, k]       packs of line l beyond the first quantity of step k
    opens[s, m]       1 if supplier s gets an order by mode m
    free[s, m]        1 if that order's freight is waived
    piece[l]          pieces of line l whose freight by weight is paid
    buys[s]           1 if supplier s is bought from
    back[f, d, o]     cores of design d of family f that go back against offer o
    sends[s]          1 if any core goes back to supplier s
    shelf[f, d]       wanted pieces of design d of family f that no position uses
    """

    model: pulp.LpProblem
    pool: Pool
    units: list[Unit] = field(default_factory=list)
    lines: tuple[Line, ...] = ()
    offers: tuple[Offer, ...] = ()
    spans: dict[int, list[Span]] = field(default_factory=dict)
    used: dict[int, pulp.LpVariable] = field(default_factory=dict)
    needs: dict[int, Number] = field(default_factory=dict)
    needs_of: dict[tuple[int, str], Number] = field(default_factory=dict)
    binds: dict[tuple[int, str, str], pulp.LpVariable] = field(default_factory=dict)
    parts_of: dict[tuple[int, str], pulp.LpVariable] = field(default_factory=dict)
    most_needed: dict[int, int] = field(default_factory=dict)
    extra: dict[int, pulp.LpVariable] = field(default_factory=dict)
    more: dict[int, pulp.LpVariable] = field(default_factory=dict)
    takes: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    packs: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    opens: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    free: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    piece: dict[int, pulp.LpVariable] = field(default_factory=dict)
    buys: dict[str, pulp.LpVariable] = field(default_factory=dict)
    back: dict[tuple[str, str, int], pulp.LpVariable] = field(default_factory=dict)
    sends: dict[str, pulp.LpVariable] = field(default_factory=dict)
    shelf: dict[Wanted, pulp.LpVariable] = field(default_factory=dict)

    @property
    def alone(self) -> bool:
        """Whether it is one job by itself: then whatever is bought is bought for it."""
        return self.pool.alone

    @property
    def unit(self) -> Unit:
        """The unit of a job by itself, of which alone questions are asked."""
        (unit,) = self.units
        return unit

    @property
    def problem(self) -> Problem:
        return self.unit.problem

    def whole(self, name: str, most: int = 1) -> pulp.LpVariable:
        return self.model.add_variable(name, 0, most, pulp.LpInteger)

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
        terms: list[Number] = []
        for unit in self.units:
            pieces: dict[str, Hand] = {}
            for position, hand in unit.problem.in_hand.items():
                if hand.offer is not None and hand.offer.id == offer and hand.takes_core:
                    pieces["" if hand.kit else position] = hand
            terms += [len(pieces) * unit.count, *(-unit.goes_back[p] for p in pieces if p in unit.goes_back)]
        return pulp.lpSum(terms)

    def most_bought(self, offer: Offer) -> int:
        """The most pieces of an offer that a plan can hold: need in whole packs, what the shelf wants, and the stock."""
        need = self.most_needed.get(offer.id, 0)
        serves = max(offer.smallest, -(-need // offer.pack) * offer.pack) if need else 0
        most = serves + self.pool.shelf_room(offer.id)
        return most if offer.stock is None else min(most, offer.stock)

    def taken(self, line: int) -> pulp.LpAffineExpression:
        """1 if the line is bought at all."""
        return pulp.lpSum(self.takes[line, k] for k in range(len(self.spans[line])))

    def drawn(self, unit: Unit, line: int) -> Iterator[Number]:
        """What is more than 0 where a unit gets something from a line; of a job by itself, whether it is bought at all."""
        if self.alone:
            yield self.taken(line)
            return
        bought = self.lines[line]
        if (bought.offer.id, bought.mode.mode) not in unit.allowed:
            return
        if len(self.lines_of(bought.offer.id)) == 1:
            yield from (unit.fills[bought.offer.id, *place] for place in unit.of_offer.get(bought.offer.id, ()))
        else:
            yield from (unit.draws[line, design] for _, design in unit.of_offer.get(bought.offer.id, ()))
        if line in unit.carries:
            yield unit.carries[line]

    def lines_of(self, offer: int) -> Sequence[int]:
        """Lines of an offer, one a mode."""
        return self._of_offer.get(offer, ())

    def lines_in(self, order: tuple[str, str]) -> Sequence[int]:
        """Lines of a supplier's order by one mode."""
        return self._of_order.get(order, ())

    def users(self, offer: int) -> Sequence[Unit]:
        """The units of which an offer may fill a position."""
        return self._users.get(offer, ())

    @cached_property
    def _of_offer(self) -> dict[int, list[int]]:
        return grouped((line.offer.id, i) for i, line in enumerate(self.lines))

    @cached_property
    def _of_order(self) -> dict[tuple[str, str], list[int]]:
        return grouped((line.order, i) for i, line in enumerate(self.lines))

    @cached_property
    def _users(self) -> dict[int, list[Unit]]:
        return grouped((offer, unit) for unit in self.units for offer in unit.of_offer)

    def _over(
        self, line: int, at_first: Callable[[Span], int], further: Callable[[Span], int]
    ) -> pulp.LpAffineExpression:
        terms = []
        for k, span in enumerate(self.spans[line]):
            terms.append((self.takes[line, k], at_first(span)))
            if (line, k) in self.packs:
                terms.append((self.packs[line, k], further(span)))
        return pulp.LpAffineExpression(terms)
