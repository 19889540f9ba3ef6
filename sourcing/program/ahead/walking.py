"""A walk through the positions that keeps every way to fill those before that a plan below a cutoff can go on from.

Turn by turn the ways so far are continued by each design of the next position. Ways that hold the same at all open
positions go on alike, so the cheapest of them stands for all: it is one place. A place whose cost so far and outlook lie
above what is to spare is left, so that places stay few though the combinations are past counting. A walk that keeps all
others finds the cheapest combination, and, walked back, the least that any combination with a certain design costs; one
that also leaves the dearest of too many places finds some combination, and the least that it left is a bound. (Dynamic
programming over a decision diagram cut by bounds: Hooker 2013, Bergman et al., "Decision Diagrams for Optimization",
2016, from memory.)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sourcing.program.ahead.outlook import Outlook
from sourcing.program.ahead.stages import BARRED, Stages

Numbers = Any  # a numpy array of int64
# Places continued at a time: what is held at once then stays within some hundred megabytes.
AT_A_TIME = 100_000
# Steps of a whole walk from which it is given up.
MOST_STEPS = 12_000_000
# Codes of places stay below this; where they would not, they are numbered anew.
MOST_CODES = 1 << 62


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps of a turn: from which place, by which design, to which place, and the cost so far with it."""

    start: Numbers
    design: Numbers
    end: Numbers
    cost: Numbers


@dataclass(frozen=True, slots=True)
class Walk:
    """What a walk found, all costs above the base of its stages.

    cost : that of the cheapest combination met; None where there was none
    bound : what every combination costs at least
    steps : those of each turn, of a walk that kept all places
    """

    cost: int | None
    bound: int
    steps: list[Steps]


class _Places:
    """The places of a turn: what each holds at the open positions, and its cost so far."""

    def __init__(self, holds: dict[int, Numbers], cost: Numbers) -> None:
        self.holds, self.cost = holds, cost

    def code(self, over: Sequence[int], sizes: Sequence[int]) -> Numbers:
        """For each place the index into an array over some of the open positions."""
        code = np.zeros(len(self.cost), dtype=np.int64)
        for n in over:
            code = code * sizes[n] + self.holds[n]
        return code

    def some(self, which: Any) -> _Places:
        return _Places({n: held[which] for n, held in self.holds.items()}, self.cost[which])


def walk(
    stages: Stages,
    outlook: Sequence[Outlook],
    spare: int,
    width: int | None = None,
    spent: Callable[[], bool] = lambda: False,
    most: int = MOST_STEPS,
) -> Walk | None:
    """Walk through all positions.

    Parameters
    ----------
    outlook : before each turn and after the last
    spare : combinations that cost more than this above the base are left
    width : most places kept at a turn, the dearest being left; None keeps all
    spent : whether time is up
    most : steps from which a walk that keeps all is given up

    Returns
    -------
    None where the steps are too many, or time is up
    """
    places = _Places({}, np.zeros(1, dtype=np.int64))
    bound, count = spare + 1, 0
    steps: list[Steps] = []
    for i, n in enumerate(stages.order):
        if spent():
            return None
        start, design, cost, whole = _continued(places, n, stages, outlook[i + 1], spare)
        count += len(start)
        if count > most and width is None:
            return None
        if not len(start):
            return Walk(None, bound, steps)
        reached = places.some(start)
        reached.holds[n] = design
        reached.cost = cost
        kept, end = _same(reached, [m for m in reached.holds if stages.last[m] > i], stages.sizes)
        if width is not None and len(kept) > width:
            order = np.argpartition(whole[kept], width)
            bound = min(bound, int(whole[kept][order[width:]].min()))
            kept = kept[order[:width]]
        places = reached.some(kept)
        places.holds = {m: held for m, held in places.holds.items() if stages.last[m] > i}
        if width is None:
            steps.append(Steps(start, design, end, cost))
    found = int(places.cost.min())
    return Walk(found, min(bound, found), steps)


def _continued(
    places: _Places, n: int, stages: Stages, outlook: Outlook, spare: int
) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Each place with each design of a position: number of the place, design, cost so far, and with the outlook."""
    sizes, size = stages.sizes, stages.sizes[n]
    over = [m for m in outlook.over if m != n]
    ahead = np.moveaxis(outlook.cost, outlook.over.index(n), -1) if n in outlook.over else outlook.cost[..., None]
    ahead = ahead.reshape(-1, ahead.shape[-1])
    found = []
    for first in range(0, len(places.cost), AT_A_TIME):
        some = places.some(slice(first, first + AT_A_TIME))
        cost = some.cost[:, None] + stages.own[n][None, :]
        for one in stages.added[n]:
            cost += one.cost.reshape(-1, size)[some.code(one.before, sizes)]
        whole = cost + ahead[some.code(over, sizes)]
        start, design = np.nonzero(whole <= spare)
        found.append((start + first, design, cost[start, design], whole[start, design]))
    start, design, cost, whole = (np.concatenate(column) for column in zip(*found, strict=True))
    return start, design, cost, whole


def _same(reached: _Places, open_after: Sequence[int], sizes: Sequence[int]) -> tuple[Numbers, Numbers]:
    """The cheapest way to each place, and for each way the number of its place."""
    code, codes = np.zeros(len(reached.cost), dtype=np.int64), 1
    for m in open_after:
        if codes * sizes[m] > MOST_CODES:
            _, code = np.unique(code, return_inverse=True)
            codes = len(code)
        code = code * sizes[m] + reached.holds[m]
        codes *= sizes[m]
    order = np.lexsort((reached.cost, code))
    first = np.append(True, code[order][1:] != code[order][:-1])
    end = np.empty(len(code), dtype=np.int64)
    end[order] = np.cumsum(first) - 1
    return order[first], end


def least_with(stages: Stages, walked: Walk) -> list[Numbers]:
    """For each position and design the least above the base of a combination with it; `BARRED` where the walk met none.

    Parameters
    ----------
    walked : a walk that kept all places, and found something
    """
    least = [np.full(size, BARRED, dtype=np.int64) for size in stages.sizes]
    so_far = [np.zeros(1, dtype=np.int64)]
    for steps in walked.steps:
        so_far.append(_least(steps.cost, steps.end))
    ahead = np.zeros(len(so_far[-1]), dtype=np.int64)
    for i in range(len(stages.order) - 1, -1, -1):
        steps, before = walked.steps[i], so_far[i]
        whole = steps.cost + ahead[steps.end]
        np.minimum.at(least[stages.order[i]], steps.design, whole)
        ahead = np.full(len(before), BARRED, dtype=np.int64)
        np.minimum.at(ahead, steps.start, whole - before[steps.start])
    return least


def _least(costs: Numbers, places: Numbers) -> Numbers:
    least = np.full(int(places.max()) + 1, BARRED, dtype=np.int64)
    np.minimum.at(least, places, costs)
    return least
