"""A bound under any plan from the floors of designs and the tables together: costs are shifted until they meet.

Every table holds a share of the costs of its positions, each position what is left of them. Whatever the shares, the
cheapest row of every table and the cheapest design of every position add up to a bound under every combination, and the
same sum with one row, or one design, held to is a bound under every combination that has it. Shares are moved position by
position, forwards and backwards, so that the bound rises. (Sequential reweighted message passing: Kolmogorov, "A new look at
reweighted message passing", IEEE PAMI 37(5), 2015; here with tables of boxes as factors, in whole numbers, so that no
rounding can lift a bound.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sourcing.book.fitting import Fitting
from sourcing.book.rules import Table

Numbers = Any  # a numpy array of int64
FAR = np.int64(1) << np.int64(53)


@dataclass
class Side:
    """One position of a table: which cell each row has there, and the table's share of each design's cost."""

    place: int
    cells: Numbers  # rows -> number of the cell
    order: Numbers  # rows in the order of their cells
    starts: Numbers  # where each cell's rows begin in that order
    holds: Numbers | None  # cells x designs: whether the cell holds the design; None where a cell is a design each
    share: Numbers  # designs -> cost

    def cheapest(self) -> Numbers:
        """The cost of each cell: that of its cheapest design."""
        if self.holds is None:
            return self.share
        return np.where(self.holds, self.share, FAR).min(axis=1)

    def of_rows(self, values: Numbers) -> Numbers:
        """The least of the rows' values for each cell."""
        return np.minimum.reduceat(values[self.order], self.starts)

    def of_designs(self, cells: Numbers) -> Numbers:
        """The least of the cells' values for each design."""
        if self.holds is None:
            return cells
        return np.where(self.holds, cells[:, None], FAR).min(axis=0)


@dataclass
class Factor:
    table: Table
    sides: list[Side]
    total: Numbers  # rows -> sum of their cells' costs

    def margin(self, side: Side) -> Numbers:
        """The least that the table says of each design of a side."""
        others = side.of_rows(self.total) - side.cheapest()
        return side.of_designs(others) + side.share

    def take(self, side: Side, change: Numbers) -> None:
        """Add to a side's share."""
        before = side.cheapest()
        side.share = side.share + change
        self.total = self.total + (side.cheapest() - before)[side.cells]


@dataclass
class Messages:
    """The state of a bound: what is left of each position's costs, and every table's shares."""

    positions: tuple[str, ...]
    domains: Mapping[str, tuple[str, ...]]
    left: list[Numbers]
    factors: list[Factor]
    touching: list[list[tuple[Factor, Side, bool, bool]]] = field(default_factory=list)

    def bound(self) -> int:
        """A bound under every combination."""
        return int(sum(int(left.min()) for left in self.left) + sum(int(factor.total.min()) for factor in self.factors))

    def sweep(self) -> None:
        """Move shares forwards, then backwards."""
        for forwards in (True, False):
            numbers = range(len(self.positions))
            for n in numbers if forwards else reversed(numbers):
                self._gather(n, forwards)

    def _gather(self, n: int, forwards: bool) -> None:
        """Take to a position what its tables say of its designs, and share it out among those that still come."""
        ties = self.touching[n]
        if not ties:
            return
        left = self.left[n]
        for factor, side, _, _ in ties:
            said = factor.margin(side)
            factor.take(side, -said)
            left = left + said
        low = left.min()
        over = left - low
        first, last = sum(not t[2] for t in ties), sum(not t[3] for t in ties)
        on = [t for t in ties if not t[3 if forwards else 2]]
        parts = max(first, last, 1)
        for factor, side, _, _ in on:
            factor.take(side, over // parts)
        self.left[n] = low + over - len(on) * (over // parts)

    def rows_within(self, spare: int) -> list[Numbers]:
        """For each table, which rows a combination at most `spare` above the bound can have."""
        above = [left - left.min() for left in self.left]
        at = {position: n for n, position in enumerate(self.positions)}
        within = []
        for factor in self.factors:
            over = factor.total - factor.total.min()
            for side, position in zip(factor.sides, factor.table.positions, strict=True):
                rest = above[at[position]]
                cells = rest if side.holds is None else np.where(side.holds, rest, FAR).min(axis=1)
                over = over + cells[side.cells]
            within.append(over <= spare)
        return within

    def above(self) -> dict[str, dict[str, int]]:
        """For each position and design, how far above the bound every combination with it lies at least."""
        above = {}
        for n, position in enumerate(self.positions):
            over = self.left[n] - self.left[n].min()
            for factor, side, _, _ in self.touching[n]:
                over = over + factor.margin(side) - factor.total.min()
            above[position] = dict(zip(self.domains[position], map(int, over), strict=True))
        return above

    def designs_within(self, spare: int) -> dict[str, tuple[str, ...]]:
        """For each position, the designs that a combination at most `spare` above the bound can have."""
        return {
            position: tuple(design for design, more in designs.items() if more <= spare)
            for position, designs in self.above().items()
        }


def messages_of(fitting: Fitting, least: Mapping[str, Mapping[str, int]]) -> Messages:
    """The state before any share is moved: all costs at the positions."""
    positions = tuple(fitting.domains)
    at = {position: n for n, position in enumerate(positions)}
    left = [np.array([min(least[p].get(d, FAR), FAR) for d in fitting.domains[p]], dtype=np.int64) for p in positions]
    factors = [_factor(table, fitting.domains) for table in fitting.tables]
    made = Messages(positions, fitting.domains, left, factors, [[] for _ in positions])
    for factor in factors:
        numbers = [at[position] for position in factor.table.positions]
        for side, n in zip(factor.sides, numbers, strict=True):
            made.touching[n].append((factor, side, n == min(numbers), n == max(numbers)))
    return made


def _factor(table: Table, domains: Mapping[str, Sequence[str]]) -> Factor:
    sides = [_side(table, place, domains[position]) for place, position in enumerate(table.positions)]
    return Factor(table, sides, np.zeros(len(table.rows), dtype=np.int64))


def _side(table: Table, place: int, designs: Sequence[str]) -> Side:
    singles = {frozenset([design]): n for n, design in enumerate(designs)}
    column = [row[place] for row in table.rows]
    seen = set(column)
    holds = None
    if seen <= singles.keys() and len(seen) == len(designs):
        numbers = singles
    else:
        numbers = {cell: n for n, cell in enumerate(dict.fromkeys(column))}
        holds = np.array([[design in cell for design in designs] for cell in numbers])
    cells = np.fromiter(map(numbers.__getitem__, column), dtype=np.int32, count=len(column))
    order = np.argsort(cells, kind="stable").astype(np.int32)
    starts = np.searchsorted(cells[order], np.arange(len(numbers)))
    return Side(place, cells, order, starts, holds, np.zeros(len(designs), dtype=np.int64))


def carried(messages: Messages, fitting: Fitting) -> Messages:
    """The same shares over what is left of the same tables; a table that is gone gives its shares back."""
    least = {p: dict(zip(messages.domains[p], map(int, left), strict=True))
             for p, left in zip(messages.positions, messages.left, strict=True)}  # fmt: skip
    shares = {factor.table.code: factor for factor in messages.factors}
    kept = {table.code for table in fitting.tables}
    for factor in messages.factors:
        if factor.table.code not in kept:
            for side, position in zip(factor.sides, factor.table.positions, strict=True):
                for design, share in zip(messages.domains[position], side.share, strict=True):
                    least[position][design] += int(share)
    made = messages_of(fitting, least)
    for factor in made.factors:
        for side, old, position in zip(
            factor.sides, shares[factor.table.code].sides, factor.table.positions, strict=True
        ):
            known = dict(zip(messages.domains[position], old.share, strict=True))
            factor.take(side, np.array([known[design] for design in fitting.domains[position]], dtype=np.int64))
    return made
