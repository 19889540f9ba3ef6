"""What holding a design adds at each position's turn, given what the positions before it hold.

A table counts from the turn of its first position on: with each further position by as much as the least of its rows that
still go lies above the least before. So what a walk has added up is never above the cost of any combination that goes on
from there, and at the last turn it is the cost itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np

from sourcing.program.ahead.course import course_of
from sourcing.program.ahead.messages import Factor, Messages

Numbers = Any  # a numpy array of int64
# Stands for what no combination may hold; any cost of a walk stays below it, and hundreds of it below 2 ** 63.
BARRED = np.int64(1) << np.int64(46)
# A table with more cells than this is left out: a bound holds without it.
MOST_CELLS = 2_000_000


@dataclass(frozen=True, slots=True)
class Added:
    """What one table adds at a turn: an array over the designs of `before`, in that order, and of the turn's position."""

    before: tuple[int, ...]
    cost: Numbers


@dataclass(frozen=True, slots=True)
class Stages:
    """The turns of a walk through all positions.

    order : positions by their numbers
    sizes : designs of each position
    last : for each position the turn after which nothing hangs on it any more
    own : for each position what each of its designs adds by itself
    added : for each position what tables add at its turn
    base : what every combination costs at least; all else is counted above it
    """

    order: list[int]
    sizes: list[int]
    last: list[int]
    own: list[Numbers]
    added: list[list[Added]]
    base: int


def stages_of(messages: Messages) -> Stages:
    """The turns of a walk through the positions of a bound, its shares as they stand."""
    at = {position: n for n, position in enumerate(messages.positions)}
    sizes = [len(messages.domains[position]) for position in messages.positions]
    own = [left.copy() for left in messages.left]
    scopes, arrays = [], []
    for factor in messages.factors:
        scope = [at[position] for position in factor.table.positions]
        if prod(sizes[n] for n in scope) > MOST_CELLS or _cells(factor) > MOST_CELLS:
            for side, n in zip(factor.sides, scope, strict=True):
                own[n] = own[n] + side.share
            continue
        scopes.append(scope)
        arrays.append(_costs(factor, [sizes[n] for n in scope]))
    order = course_of(sizes, scopes)
    turn = {n: i for i, n in enumerate(order)}
    last = [turn[n] for n in range(len(sizes))]
    for scope in scopes:
        for n in scope:
            last[n] = max(last[n], *(turn[m] for m in scope))
    base = sum(int(costs.min()) for costs in (*own, *arrays))
    added: list[list[Added]] = [[] for _ in sizes]
    for scope, costs in zip(scopes, arrays, strict=True):
        for n, one in _turn_by_turn(scope, costs - costs.min(), turn):
            added[n].append(one)
    return Stages(order, sizes, last, [np.minimum(costs - costs.min(), BARRED) for costs in own], added, base)


def _cells(factor: Factor) -> int:
    return prod(len(side.starts) for side in factor.sides)


def _costs(factor: Factor, sizes: Sequence[int]) -> Numbers:
    """A table as an array over the designs of its positions: the shares added up, `BARRED` where no row goes."""
    goes = np.zeros([len(side.starts) for side in factor.sides], dtype=bool)
    goes[tuple(side.cells for side in factor.sides)] = True
    for axis, side in enumerate(factor.sides):
        if side.holds is not None:
            spread = np.tensordot(goes, side.holds.astype(np.float32), axes=(axis, 0)) > 0
            goes = np.moveaxis(spread, -1, axis)
    costs = np.zeros(sizes, dtype=np.int64)
    for axis, side in enumerate(factor.sides):
        costs += side.share.reshape([-1 if k == axis else 1 for k in range(len(sizes))])
    return np.where(goes, np.minimum(costs, BARRED), BARRED)


def _turn_by_turn(scope: Sequence[int], costs: Numbers, turn: dict[int, int]) -> list[tuple[int, Added]]:
    axes = sorted(range(len(scope)), key=lambda k: turn[scope[k]])
    least = [np.transpose(costs, axes)]
    while least[-1].ndim > 1:
        least.append(least[-1].min(axis=-1))
    before: Numbers = np.zeros((), dtype=np.int64)
    told = []
    for k, now in enumerate(reversed(least)):
        more = np.where(now >= BARRED // 2, BARRED, now - before[..., None])
        told.append((scope[axes[k]], Added(tuple(scope[axis] for axis in axes[:k]), np.ascontiguousarray(more))))
        before = now
    return told
