"""A pool's program with the solver asked last: a bound by prices, what a ceiling leaves, and the cheapest plan of that.

1. Pieces of like units are added up (`alike.py`): a smaller program at the same least cost.
2. Solved once without anything being whole it gives prices of its rows, and these a bound B (`arrays.py`).
3. A ceiling near B leaves few values to most variables. HiGHS is asked for a plan up to the ceiling: where there is none the
   bound is a cent above the ceiling, and the next one is further off; where there is one, the cheapest of them is the cheapest of
   all, since no plan up to the ceiling was left out.
4. Asked is first a program in which how the units are made up need not be whole: its least cost is a lower bound. What it
   buys is then kept to, and the units made up whole. Where that costs no more than the bound, rounded up to a cent, it is
   proven; else its cost is the ceiling of the program in which all is whole.

Nothing rests on these steps: the values are read back as the program's own, every row is checked, and the plan prices itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sourcing.program.ahead.alike import Joined, joined
from sourcing.program.ahead.arrays import NEARLY, NOISE_CENTS, Arrays, Found, least_of
from sourcing.program.ahead.market import Floats
from sourcing.program.solver import Outcome, Progress, Solved
from sourcing.program.variables import Variables

if TYPE_CHECKING:
    from sourcing.program.answer import Watch

# The first ceiling lies this share of it above the bound, each further one so many times as far, up to the last; then none.
FIRST_SHARE, FURTHER, LAST_SHARE = 1e-4, 2, 0.1
# The least that a ceiling lies above the bound, in cents.
FEW_CENTS = 50
# Any plan will do that lies this share above the bound; looked for in at most this share of the time that is left, or so long.
FAIR, LONGEST, MOST_SECONDS = 0.03, 0.4, 20.0
BY_HIGHS = "HiGHS"


@dataclass
class Ceilings:
    """A pool's smaller program, and a bound (cents) with what it leaves of each column's cost.

    `proven`: cents below which no plan costs, as far as is known by now; `best` the cheapest values found so far, though they may
    lie above every ceiling that was tried; `quiet`: what is counted is not what a plan costs, and nobody hears of it.
    """

    small: Joined
    watch: Watch
    bound: float
    left: Floats
    proven: float
    best: Floats | None = None
    quiet: bool = False

    def solved(self) -> Solved | None:
        """The program's cheapest values, or the best so far where time is up; None where HiGHS said nothing of use."""
        for near in _ceilings(self.bound):
            # No further off than a plan that is known: up to its cost there is one.
            ceiling = min(near, self._cents_of_best())
            found = self._below(ceiling)
            if found.outcome != Outcome.INFEASIBLE:
                return self._told(found, ceiling)
            if math.isinf(ceiling):
                return Solved(Outcome.INFEASIBLE, None, None, None, BY_HIGHS)
            self.proven = max(self.proven, ceiling + 1)
            if self.best is None and (self.watch.seconds is not None or self.watch.stop is not None):
                self._find_any()
        return None

    def _find_any(self) -> None:
        """Look for some plan, for whoever may want the best so far before the cheapest is found."""
        arrays = self.small.arrays.up_to(self.bound, self.left, self.bound + FAIR * abs(self.bound))
        effort = self.watch.effort()
        most = math.inf if effort.seconds is None else effort.seconds * LONGEST
        found = least_of(arrays, replace(effort, gap=max(FAIR, effort.gap), seconds=min(most, MOST_SECONDS), told=None))
        self.watch.interrupted = self.watch.interrupted or found.interrupted
        if found.values is not None and _is_whole(self.small.arrays, found.values):
            self.best = found.values

    def settled(self, cost: int, weights: dict[str, int], start: dict[str, float]) -> dict[str, float] | None:
        """Of all plans at the proven cost the values with the least sum of `weights`; None where that was not found out.

        No such plan is lost below a ceiling at that cost; among what is left the same steps look for the least sum.
        """
        small = self.small.arrays.up_to(self.bound, self.left, cost)
        of_plan = np.zeros(len(small.cost))
        asked = np.zeros(len(small.cost))
        for var, column in zip(self.small.variables, self.small.into.tolist(), strict=True):
            asked[column] = weights.get(var.name, 0)
            of_plan[column] += start[var.name]
        dear = np.flatnonzero(small.cost)
        at_cost = replace(
            small, cost=asked, offset=0.0,
            least=np.append(small.least, -np.inf), most=np.append(small.most, cost - small.offset),
            row=np.append(small.row, np.full(len(dear), len(small.least))),
            column=np.append(small.column, dear), value=np.append(small.value, small.cost[dear]),
        )  # fmt: skip
        again = _priced(replace(self.small, arrays=at_cost), self.watch)
        if again is None:
            return None
        again.quiet, again.best = True, of_plan
        solved = again.solved()
        return None if solved is None or solved.outcome != Outcome.OPTIMAL else dict(solved.values or {})

    def _below(self, ceiling: float) -> Found:
        """The cheapest values up to a ceiling: by a program that need not be whole in all, then by one that must."""
        arrays = self.small.arrays.up_to(self.bound, self.left, ceiling)
        loose = self._ask(
            replace(arrays, whole=arrays.whole & ~self.small.units_side), ceiling, self._best_up_to(ceiling)
        )
        if loose.values is None or loose.outcome == Outcome.INFEASIBLE or _is_whole(arrays, loose.values):
            return loose
        first = self._made_up(arrays, loose.values)
        if loose.outcome != Outcome.OPTIMAL:
            return Found(Outcome.UNKNOWN, bound=loose.bound)
        if loose.bound is not None:
            self.proven = max(self.proven, min(math.ceil(loose.bound - NOISE_CENTS), ceiling + 1))
        if first is not None and arrays.cents(first) < self.proven + NEARLY:
            return Found(Outcome.OPTIMAL, first, arrays.cents(first))
        most = min(ceiling, self._cents_of_best())
        return self._ask(arrays.up_to(self.bound, self.left, most), most, self._best_up_to(most))

    def _made_up(self, arrays: Arrays, loose: Floats) -> Floats | None:
        """Values that buy what loose ones buy, the units made up whole; None where that cannot be."""
        bought = arrays.whole & ~self.small.units_side
        kept = np.where(bought, np.round(loose), 0)
        near = replace(arrays, lower=np.where(bought, kept, arrays.lower), upper=np.where(bought, kept, arrays.upper))
        return self._ask(near, None).values

    def _best_up_to(self, ceiling: float) -> Floats | None:
        return self.best if self._cents_of_best() <= ceiling else None

    def _cents_of_best(self) -> float:
        return math.inf if self.best is None else round(self.small.arrays.cents(self.best))

    def _ask(self, arrays: Arrays, ceiling: float | None, start: Floats | None = None) -> Found:
        """HiGHS asked for the cheapest values up to a ceiling; one that finds only dearer ones has none, but they are kept."""
        cutoff = None if ceiling is None or math.isinf(ceiling) else ceiling + 0.5
        effort = replace(self.watch.effort(), cutoff=cutoff, told=self._heard(ceiling), searching=cutoff is None)
        found = least_of(arrays, effort, start)
        if start is not None and _denied(arrays, found):
            found = least_of(arrays, effort)
        self.watch.interrupted = self.watch.interrupted or found.interrupted
        if found.values is None:
            return found
        cents = arrays.cents(found.values)
        if _is_whole(self.small.arrays, found.values) and cents < self._cents_of_best():
            self.best = found.values
        if found.outcome == Outcome.OPTIMAL and cutoff is not None and cents > cutoff:
            return replace(found, outcome=Outcome.INFEASIBLE, values=None)
        return found

    def _heard(self, ceiling: float | None) -> Progress | None:
        """Who hears of progress hears the best plan known, and bounds that hold for all plans, not only below a ceiling."""
        told, proven = self.watch.told, self.proven
        if told is None or self.quiet:
            return None
        best = None if self.best is None else self._cents_of_best()
        most = math.inf if ceiling is None else ceiling + 1

        def heard(_: float | None, bound: float | None) -> None:
            told(best, proven if bound is None or ceiling is None else max(proven, min(bound, most)))

        return heard

    def _told(self, found: Found, ceiling: float) -> Solved:
        """What was found below a ceiling, or before, as the program's own values, with the bound that holds for all plans."""
        known = [self.proven] if found.bound is None else [self.proven, min(found.bound, ceiling + 1)]
        values = found.values if found.outcome == Outcome.OPTIMAL else self.best
        if values is None:
            return Solved(Outcome.UNKNOWN, None, None, max(known), BY_HIGHS, found.interrupted)
        cents = self.small.arrays.cents(np.where(self.small.arrays.whole, np.round(values), values))
        proven = found.outcome == Outcome.OPTIMAL and not self.watch.gap
        outcome = Outcome.OPTIMAL if found.outcome == Outcome.OPTIMAL else Outcome.STOPPED
        bound = cents if proven else min(max(known), cents)
        return Solved(outcome, self.small.spread(values), cents, bound, BY_HIGHS, found.interrupted)


def ceilings_of(v: Variables, watch: Watch) -> Ceilings | None:
    """The bound of a pool's program and what follows from it; None where HiGHS found no prices for its rows."""
    return _priced(joined(v), watch)


def _priced(small: Joined, watch: Watch) -> Ceilings | None:
    loose = replace(small.arrays, whole=np.zeros(len(small.arrays.cost), dtype=bool))
    found = least_of(loose, replace(watch.effort(), told=None))
    watch.interrupted = watch.interrupted or found.interrupted
    if found.prices is None:
        return None
    bound, left = small.arrays.bound(found.prices)
    return Ceilings(small, watch, bound, left, bound)


def _ceilings(bound: float) -> Iterator[float]:
    spare = max(FEW_CENTS, FIRST_SHARE * abs(bound))
    while spare < LAST_SHARE * abs(bound):
        yield math.floor(bound + spare)
        spare *= FURTHER
    yield math.inf


def _is_whole(arrays: Arrays, values: Floats) -> bool:
    return bool((np.abs(values - np.round(values))[arrays.whole] < NEARLY).all())


def _denied(arrays: Arrays, found: Found) -> bool:
    """Whether HiGHS called a start the best that its own bound denies."""
    if found.outcome != Outcome.OPTIMAL or found.values is None or found.bound is None:
        return False
    return arrays.cents(found.values) - found.bound > NEARLY * max(1.0, abs(found.bound))
