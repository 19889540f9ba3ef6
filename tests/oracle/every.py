"""Every plan of a job, not only the best: by route, by combination, by day, by total, and by the price of one part.

Of plans that buy the same and fill the same only the one is looked at that costs least within its days (see `brute`).
By price the supplier of the studied part is the exception: each way to spread its quantities over its modes counts, because
the price decides which of them is cheapest and whether an order reaches its minimum.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from .brute import Buyer, Choice, Filling, Found, Line, Quantities, Split
from .money import times
from .reading import Offer, Problem, World, read_problem

NEVER = 10**15
"""Cents that stand for "cannot be had"."""
MOST_PLANS = 1000
Cents = Any
"""An array of whole cents."""


class TooMany(Exception):
    """More plans than a test has time for."""


class EveryPlan(Buyer):
    """All plans of one job in one world."""

    def every(self, most: int = MOST_PLANS) -> list[Found]:
        """Each plan. Raises TooMany."""
        found: list[Found] = []
        for filling in self.fillings():
            for plan in self.plans(filling, None, losing=True):
                found.append(plan)
                if len(found) > most:
                    raise TooMany
        return found

    def days(self, plan: Found) -> int:
        """Working days to a plan's last arrival."""
        return max((days for *_, days in self.orders(plan.lines)), default=0)

    def lead(self, plan: Found) -> str:
        """What stands at the lead position."""
        at = next(n for n, position in enumerate(self.problem.family.positions) if position.lead)
        return plan.filling.combination[at]


def buyer(catalogs: Path, job: Path) -> EveryPlan:
    """A buyer for the first world that a job leaves possible."""
    problem = read_problem(catalogs, job)
    return EveryPlan(problem, problem.job.worlds[0])


def front(points: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Of pairs (cost, other) those that no pair beats in one without losing in the other, cheapest first."""
    kept: list[tuple[int, int]] = []
    for point in sorted(set(points)):
        if not kept or point[1] < kept[-1][1]:
            kept.append(point)
    return kept


@dataclass(frozen=True)
class ByPrice:
    """The least cost at each whole coin from `low` on: of all plans, of those that fill a position with the part, and of
    those that do not (they may buy it for the shelf). NEVER where there is none.

    `crossed`: which edges the price itself carries a cheapest plan over: "free freight", "minimum", "break"."""

    low: int
    cheapest: Cents
    filling: Cents
    without: Cents
    crossed: frozenset[str]

    def at(self, price: int) -> int | None:
        """The least cost at a price; None where nothing is possible."""
        cost = int(self.cheapest[price - self.low])
        return None if cost == NEVER else cost


class PriceStudy(Buyer):
    """Plans told apart by what they order from the supplier of one part, priced anew at each price of it."""

    def __init__(self, problem: Problem, world: World, supplier: str, number: str) -> None:
        super().__init__(problem, world)
        self.terms = problem.suppliers[supplier]
        self.now = cache(self._now)
        self.number = number
        self.studied = next(i for i, o in enumerate(self.offers) if (o.supplier, o.number) == (supplier, number))

    def _splits(self, supplier: str, quantities: Quantities) -> tuple[Split, ...]:
        """Of the studied supplier every way, dear and below its minimum too."""
        if supplier != self.terms.code or not any(quantities):
            return super()._splits(supplier, quantities)
        mine = self.by_supplier[supplier]
        ways = [[*self._shares(self.terms, self.offers[i], q)] for i, q in zip(mine, quantities, strict=True)]
        return tuple(self._unpriced(mine, shares) for shares in product(*ways))

    def _unpriced(self, mine: list[int], shares: tuple[Quantities, ...]) -> Split:
        lines, days = [], 0
        for i, share in zip(mine, shares, strict=True):
            for mode, quantity in zip(self.terms.modes, share, strict=True):
                if quantity:
                    lines.append((self.terms.code, self.offers[i].number, mode.mode, quantity))
                    days = max(days, self.offers[i].lead_days + mode.days)
        return Split(0, tuple(sorted(lines)), days)

    def _timed(self, filling: Filling, picked: list[Choice]) -> Iterator[Found]:
        """One plan for each way of the studied supplier and each number of days that the others may take."""
        own = list(self.by_supplier).index(self.terms.code)
        for way in picked[own].splits:
            others = [choice.splits for n, choice in enumerate(picked) if n != own]
            for days in sorted({way.days, *(s.days for splits in others for s in splits if s.days > way.days)}):
                within = [[s for s in splits if s.days <= days] for splits in others]
                if all(within):
                    best = [splits[-1] for splits in within]
                    yield self._plan(filling, picked, [*best[:own], way, *best[own:]])

    def by_price(self, low: int, high: int) -> ByPrice:
        """The least costs at `low`..`high`, both ends included. Raises TooMany."""
        prices = np.arange(low, high + 1, dtype=np.int64)
        over, under = Fraction(self.terms.rate).as_integer_ratio()
        shop = (2 * prices * over + under) // (2 * under)  # to the cent, halves up
        cheapest, filling, without = (np.full(len(prices), NEVER, dtype=np.int64) for _ in range(3))
        buying: list[tuple[tuple[Line, ...], Cents]] = []
        for (mine, fills), rest in self._rests().items():
            bought = self.number in {line[1] for line in mine}
            # What does not buy the part costs the same at every price.
            cost = rest + (self.priced(mine, prices, shop) if bought else self.priced(mine, prices[:1], shop[:1]))
            cost[cost > NEVER // 2] = NEVER
            np.minimum(cheapest, cost, out=cheapest)
            mine_or_not = filling if fills else without
            np.minimum(mine_or_not, cost, out=mine_or_not)
            if bought:
                buying.append((mine, cost))
        best = [mine for mine, cost in buying if ((cost == cheapest) & (cost < NEVER)).any()]
        return ByPrice(low, cheapest, filling, without, self._crossed(best, low, high))

    def _rests(self) -> dict[tuple[tuple[Line, ...], bool], int]:
        """What all else costs at least, by the lines of the studied supplier and whether the part fills a position."""
        rests: dict[tuple[tuple[Line, ...], bool], int] = {}
        looked_at = 0
        for filling in self.fillings():
            fills = self.studied in filling.used
            for plan in self.plans(filling, None, losing=True):
                looked_at += 1
                if looked_at > MOST_PLANS:
                    raise TooMany
                mine = tuple(line for line in plan.lines if line[0] == self.terms.code)
                rest = plan.key[0] - self.now(mine)
                rests[mine, fills] = min(rest, rests.get((mine, fills), rest))
        return rests

    def _crossed(self, best: list[tuple[Line, ...]], low: int, high: int) -> frozenset[str]:
        """Edges over which the price carries a plan that is cheapest at some price."""
        found = set()
        for mine in best:
            for mode in self.terms.modes:
                first, last = (self._subtotal(mine, mode.mode, price) for price in (low, high))
                if mode.free_over is not None and first < mode.free_over <= last:
                    found.add("free freight")
                if first < self.terms.order_minimum <= last:
                    found.add("minimum")
        if len({sum(q for _, number, _, q in mine if number == self.number) for mine in best}) > 1:
            found.add("break")
        return frozenset(found)

    def _subtotal(self, mine: tuple[Line, ...], mode: str, price: int) -> int:
        """An order's subtotal in the supplier's own cents at a price of the part."""
        total = 0
        for supplier, number, way, quantity in mine:
            if way == mode:
                paid, own, _ = self._at_the_price(self._offer(supplier, number), quantity)
                total += own + paid * price
        return total

    def _now(self, mine: tuple[Line, ...]) -> int:
        """What lines of the studied supplier cost as things stand, freight included."""
        parts = sum(self._offer(s, n).line(q, self.terms.incremental)[1] for s, n, _, q in mine)
        return parts + sum(order[2] for order in self.orders(mine))

    def priced(self, mine: tuple[Line, ...], prices: Cents, shop: Cents) -> Cents:
        """The same at each price (own cents, and the shop's for the same); NEVER and more below an order's minimum."""
        cost = np.zeros(len(prices), dtype=np.int64)
        for mode in self.terms.modes:
            order = [(self._offer(s, n), q) for s, n, way, q in mine if way == mode.mode]
            if not order:
                continue
            subtotal = np.zeros(len(prices), dtype=np.int64)
            for offer, quantity in order:
                paid, own, shops = self._at_the_price(offer, quantity)
                subtotal += own + paid * prices
                cost += shops + paid * shop
            freight = mode.flat + sum(q * times(mode.per_kg, offer.weight_kg) for offer, q in order)
            free = np.zeros(len(prices), dtype=bool) if mode.free_over is None else subtotal >= mode.free_over
            cost += np.where(free, 0, freight) + self.terms.order_fee
            cost += np.where(subtotal < self.terms.order_minimum, NEVER, 0)
        return cost

    def _at_the_price(self, offer: Offer, quantity: int) -> tuple[int, int, int]:
        """Pieces of a line that are paid at the studied price, and its other pieces in own and in shop cents."""
        if offer.number != self.number:
            return 0, *offer.line(quantity, self.terms.incremental)
        free = replace(offer, steps=((1, 0, 0), *offer.steps[1:]))
        penny = replace(offer, steps=((1, 1, 0), *offer.steps[1:]))
        own, shop = free.line(quantity, self.terms.incremental)
        return penny.line(quantity, self.terms.incremental)[0] - own, own, shop


def by_price(catalogs: Path, job: Path, supplier: str, number: str, low: int, high: int) -> ByPrice:
    """The least costs of a job's first world at each first price of a part; its breaks stay."""
    problem = read_problem(catalogs, job)
    return PriceStudy(problem, problem.job.worlds[0], supplier, number).by_price(low, high)
