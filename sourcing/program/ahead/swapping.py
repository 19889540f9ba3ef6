"""A choice of orders improved step by step: one more, one less, or one for another, as long as that is cheaper."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sourcing.program.ahead.market import Floats, Truths, Whole

if TYPE_CHECKING:
    from sourcing.program.ahead.choosing import Placing


def improved(given: Placing, *orders: int) -> Whole:
    """The orders after the best step each time, until none is cheaper (all swaps at once: Resende and Werneck, "A fast
    swap-based local search procedure for location problems", Annals of Operations Research 150, 2007)."""
    placed = np.zeros(len(given.placing), dtype=bool)
    placed[list(orders)] = True
    if not placed.any():
        placed[int((given.placing + given.serving.sum(axis=0)).argmin())] = True
    while _step(given, placed):
        pass
    return np.flatnonzero(placed)


def _step(given: Placing, placed: Truths) -> bool:
    """The best of all single steps, made in place; False where none is cheaper."""
    inside = np.flatnonzero(placed)
    nearest, first, second = _two_nearest(given.serving[:, inside])
    adding = np.maximum(first[:, None] - given.serving, 0.0).sum(axis=0) - given.placing
    adding[inside] = -np.inf
    dropping = given.placing[inside] - np.bincount(nearest, second - first, len(inside))
    # Whom a dropped order served goes to the one that comes for it where that is nearer than the second nearest.
    spared = np.zeros((len(inside), len(given.placing)))
    np.add.at(spared, nearest, np.maximum(second[:, None] - np.maximum(given.serving, first[:, None]), 0.0))
    swapping = adding[None, :] + dropping[:, None] + spared
    if len(inside) == 1:
        dropping = np.full(1, -np.inf)
    best = max(adding.max(), dropping.max(), swapping.max())
    if not best > 0:
        return False
    if best == adding.max():
        placed[adding.argmax()] = True
    elif best == dropping.max():
        placed[inside[dropping.argmax()]] = False
    else:
        out, into = np.unravel_index(swapping.argmax(), swapping.shape)
        placed[inside[out]] = False
        placed[into] = True
    return True


def _two_nearest(serving: Floats) -> tuple[Whole, Floats, Floats]:
    """Per place the nearest of some orders, its cost, and that of the second nearest (far away where there is none)."""
    rows = np.arange(len(serving))
    nearest = serving.argmin(axis=1)
    first = serving[rows, nearest]
    if serving.shape[1] == 1:
        return nearest, first, np.full(len(serving), first.sum() + 1e12)
    others = serving.copy()
    others[rows, nearest] = np.inf
    return nearest, first, others.min(axis=1)
