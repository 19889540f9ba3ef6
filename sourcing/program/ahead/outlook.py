"""The least that the positions still to come add, by what some of the open positions hold.

From the last turn back, each turn's costs and the outlook after it are added up and the turn's position is left out at its
least. Where that would make a table of too many cells, the open positions that matter least are taken out of each of the
arrays at their least before these are added up: that can only lower the outlook, so it stays a bound. (Mini-buckets:
Dechter and Rish, "Mini-buckets: a general scheme for bounded inference", JACM 50(2), 2003, from memory.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, prod
from typing import Any

import numpy as np

from sourcing.program.ahead.stages import BARRED, Stages

Numbers = Any  # a numpy array of int64


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is added at least from a turn on: an array over the designs of some open positions, in their order."""

    over: tuple[int, ...]
    cost: Numbers


def outlooks(stages: Stages, cells: int) -> list[Outlook]:
    """The outlook before each turn, and after the last, each of at most about so many cells."""
    ahead = Outlook((), np.zeros((), dtype=np.int64))
    back = [ahead]
    for n in reversed(stages.order):
        parts = [Outlook((n,), stages.own[n]), ahead]
        parts += [Outlook((*one.before, n), one.cost) for one in stages.added[n]]
        ahead = _before(n, parts, stages.sizes, cells)
        back.append(ahead)
    return back[::-1]


def _before(n: int, parts: Sequence[Outlook], sizes: Sequence[int], cells: int) -> Outlook:
    over = list(dict.fromkeys(m for part in parts for m in part.over if m != n))
    while sizes[n] * prod(sizes[m] for m in over) > cells and over:
        over.remove(min(over, key=lambda m: _lost(m, parts) / log(max(2, sizes[m]))))
    axes = (*over, n)
    total = np.zeros([sizes[m] for m in axes], dtype=np.int64)
    for part in parts:
        total += along(part, axes)
    return Outlook(tuple(over), np.minimum(total.min(axis=-1), BARRED))


def _lost(n: int, parts: Sequence[Outlook]) -> float:
    """How much the arrays lose on average where a position is taken out of them at its least."""
    lost = 0.0
    for part in parts:
        if n in part.over:
            axis = part.over.index(n)
            lost += float(np.minimum(part.cost - part.cost.min(axis=axis, keepdims=True), BARRED // 1024).mean())
    return lost


def along(part: Outlook, axes: Sequence[int]) -> Numbers:
    """An array along the axes of others: positions that are none of them taken out at their least."""
    gone = tuple(k for k, m in enumerate(part.over) if m not in axes)
    cost = part.cost.min(axis=gone) if gone else part.cost
    held = [m for m in part.over if m in axes]
    cost = np.transpose(cost, [held.index(m) for m in axes if m in held])
    return cost.reshape([cost.shape[sum(h in held for h in axes[:k])] if m in held else 1 for k, m in enumerate(axes)])
