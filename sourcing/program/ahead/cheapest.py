"""The cheapest combination under any prices of its states: what may stand together, eliminated position by position."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from sourcing.book.rules import Table
from sourcing.problem import Work
from sourcing.program.ahead.market import BOUGHT, HERE, Floats, Market, NoBound, State, Whole

# Entries of a table beyond which a rule is left out of the bound: what is left is still a lower bound.
MOST_ENTRIES = 60_000


@dataclass
class _Factor:
    """Costs over the states of some positions, infinite where they may not stand together."""

    scope: tuple[int, ...]
    costs: Floats


@dataclass
class _Bucket:
    """One position eliminated: the table over it and what it meets, and which earlier results belong in it."""

    position: int
    scope: tuple[int, ...]
    axis: int
    static: Floats
    unary: tuple[int, ...]
    messages: list[tuple[int, tuple[int, ...]]]
    rest: tuple[int, ...]


class Together:
    """Least cost of a combination when every state has a price: exact over the rules and tasks that it holds.

    Bucket elimination (Dechter, "Bucket elimination: a unifying framework for reasoning", Artificial Intelligence 113, 1999):
    a position's tables are added up, its cheapest state taken for every state of what it meets. A rule or task whose table
    would grow past `MOST_ENTRIES` is left out, which can only lower the result (no task costs less than nothing).
    """

    def __init__(self, market: Market) -> None:
        self.starts = np.searchsorted(market.state_position, np.arange(len(market.problem.positions)))
        self.ends = np.append(self.starts[1:], len(market.states))
        self.sizes = [int(n) for n in self.ends - self.starts]
        if not all(self.sizes):
            raise NoBound
        self._owner = market.state_position
        own = [market.states[a:b] for a, b in zip(self.starts, self.ends, strict=True)]
        place = {position: i for i, position in enumerate(market.problem.positions)}
        fitting = market.problem.fitting
        factors = [_of_table(table, own, place) for table in (fitting.tables if fitting else ())]
        if market.problem.minimise == "whole":
            factors += [_of_work(work, own, place) for work in market.problem.works if work.cents]
        self.unary: Floats = np.zeros(len(market.states))
        wide: list[_Factor] = []
        for factor in factors:
            if factor is None:
                continue
            if len(factor.scope) == 1:
                at = factor.scope[0]
                self.unary[self.starts[at] : self.ends[at]] += factor.costs
            elif factor.scope:
                wide.append(factor)
        self.buckets = _ordered(wide, self.sizes)
        tied = {bucket.position for bucket in self.buckets}
        self.tied = np.array(sorted(tied), dtype=np.int64)
        self.loose = np.array([p for p in range(len(own)) if p not in tied], dtype=np.int64)

    def least(self, prices: Floats) -> tuple[float, Whole]:
        """The cheapest combination under the states' prices: its cost, and the state of each position."""
        prices = prices + self.unary
        chosen = np.empty(len(self.sizes), dtype=np.int64)
        total = 0.0
        if len(self.loose):
            least = np.minimum.reduceat(prices, self.starts)
            first = np.flatnonzero(prices == least[self._owner])
            chosen[self._owner[first[::-1]]] = first[::-1]
            total += float(least[self.loose].sum())
        if self.buckets:
            sums, arguments = self._eliminate(prices[None, :], True)
            total += float(sums[0])
            for bucket, best in zip(reversed(self.buckets), reversed(arguments), strict=True):
                at = tuple(int(chosen[p] - self.starts[p]) for p in bucket.rest)
                chosen[bucket.position] = self.starts[bucket.position] + best[(0, *at)]
        return total, chosen

    def with_each(self, prices: Floats) -> Floats:
        """For each state the cost of the cheapest combination that holds it."""
        prices = prices + self.unary
        least = np.minimum.reduceat(prices, self.starts)
        loose_total = float(least[self.loose].sum()) if len(self.loose) else 0.0
        tied_total = float(self._eliminate(prices[None, :], False)[0][0]) if self.buckets else 0.0
        result: Floats = prices - least[self._owner] + loose_total + tied_total
        for position in self.tied:
            mine = slice(self.starts[position], self.ends[position])
            size = self.sizes[position]
            held = np.repeat(prices[None, :], size, axis=0)
            held[:, mine] = np.where(np.eye(size, dtype=bool), prices[mine], np.inf)
            result[mine] = self._eliminate(held, False)[0] + loose_total
        return result

    def _eliminate(self, prices: Floats, arguments: bool) -> tuple[Floats, list[Whole]]:
        """The tied positions' least cost for each row of prices; and the cheapest state of each bucket where asked."""
        rows = len(prices)
        total = np.zeros(rows)
        messages: list[Floats] = []
        best: list[Whole] = []
        for bucket in self.buckets:
            own = prices[:, self.starts[bucket.position] : self.ends[bucket.position]]
            table = bucket.static + own.reshape(rows, *bucket.unary)
            for message, shape in bucket.messages:
                table = table + messages[message].reshape(rows, *shape)
            least = table.min(axis=bucket.axis + 1)
            if arguments:
                best.append(table.argmin(axis=bucket.axis + 1))
            if not bucket.rest:
                total = total + least.reshape(rows)
            messages.append(least)
        return total, best


def _ordered(factors: list[_Factor], sizes: Sequence[int]) -> list[_Bucket]:
    """The buckets, each time the position whose table stays smallest; factors that would make it too large are left out."""
    buckets: list[_Bucket] = []
    scopes: dict[int, tuple[int, ...]] = {}  # of messages that wait, by bucket
    waiting = list(factors)
    left = {p for factor in factors for p in factor.scope}

    def scope_of(position: int) -> tuple[int, ...]:
        met = {position}
        for scope in (*(f.scope for f in waiting), *scopes.values()):
            if position in scope:
                met |= set(scope)
        return tuple(sorted(met))

    while left:
        position = min(left, key=lambda p: (prod(sizes[q] for q in scope_of(p)), p))
        scope = scope_of(position)
        while prod(sizes[q] for q in scope) > MOST_ENTRIES:
            mine = [factor for factor in waiting if position in factor.scope]
            if not mine:
                raise NoBound  # messages alone are too wide: no order with small tables was found
            waiting.remove(max(mine, key=lambda factor: len(factor.scope)))
            scope = scope_of(position)
        static = np.zeros([sizes[q] for q in scope])
        for factor in [f for f in waiting if position in f.scope]:
            static = static + factor.costs.reshape(_shape(factor.scope, scope, sizes))
            waiting.remove(factor)
        arriving = [n for n, waits in scopes.items() if position in waits]
        messages = [(n, _shape(scopes.pop(n), scope, sizes)) for n in arriving]
        rest = tuple(q for q in scope if q != position)
        buckets.append(_Bucket(position, scope, scope.index(position), static, _shape((position,), scope, sizes),
                               messages, rest))  # fmt: skip
        if rest:
            scopes[len(buckets) - 1] = rest
        left.discard(position)
    return buckets


def _shape(inner: Sequence[int], outer: Sequence[int], sizes: Sequence[int]) -> tuple[int, ...]:
    """The shape that lets a table over `inner` be added to one over `outer`; both sorted."""
    return tuple(sizes[q] if q in inner else 1 for q in outer)


def _of_table(table: Table, own: Sequence[Sequence[State]], place: dict[str, int]) -> _Factor | None:
    """A rule's table: nothing where a row admits the designs, infinite elsewhere; None where it is too large."""
    held = sorted((place[position], n) for n, position in enumerate(table.positions))
    sizes = [len(own[p]) for p, _ in held]
    if prod(sizes) > MOST_ENTRIES:
        return None
    costs = np.full(sizes, np.inf)
    for row in table.rows:
        inside = [[s for s, state in enumerate(own[p]) if state.design in row[n]] for p, n in held]
        if all(inside):
            costs[np.ix_(*inside)] = 0.0
    return _Factor(tuple(p for p, _ in held), costs)


def _of_work(work: Work, own: Sequence[Sequence[State]], place: dict[str, int]) -> _Factor | None:
    """A task's cost where its condition holds and, if it says so, one of its positions is replaced.

    Where the whole table is too large, only the first of the positions that it names as replaced is looked at: the task is
    due at least then.
    """
    if work.cents < 0:
        raise NoBound
    when = {place[position]: values for position, values in work.when}
    for replacing in (work.replacing, work.replacing[:1] if work.replacing else None):
        named = [place[position] for position in replacing or ()]
        scope = tuple(sorted({*when, *named}))
        if prod(len(own[p]) for p in scope) > MOST_ENTRIES:
            continue
        due = np.ones([len(own[p]) for p in scope], dtype=bool)
        replaced = np.zeros_like(due)
        for p in scope:
            shape = [len(own[p]) if q == p else 1 for q in scope]
            if p in when:
                due = due & np.array([state.design in when[p] for state in own[p]]).reshape(shape)
            if p in named:
                replaced = replaced | np.array([state.source in (BOUGHT, HERE) for state in own[p]]).reshape(shape)
        due = due & replaced if work.replacing is not None else due
        return _Factor(scope, np.where(due, float(work.cents), 0.0))
    return None
