"""The order in which to walk through positions that tables tie together, so that few of them are open at a time.

A position is open from its own turn until the last of those that share a table with it has had its turn. What a walk has
to keep apart are the designs of the open positions, so an order is the better, the fewer combinations of them there are
over all turns. Of several orders the best is taken: as the book has its positions, level by level from a position at the
rim (Cuthill and McKee 1969, from memory), and always on to the position that leaves the least open; the last two also
with the few positions that have the most neighbours put in where they are first needed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from math import log

import numpy as np

# How many of the positions with the most neighbours are set aside while the others are put in order.
ASIDE = (0, 1, 2, 3, 4, 5, 6, 8, 12, 16)

Neighbours = Sequence[Collection[int]]


def course_of(sizes: Sequence[int], scopes: Sequence[Sequence[int]]) -> list[int]:
    """The order of positions, given by their numbers.

    Parameters
    ----------
    sizes : designs of each position
    scopes : positions of each table
    """
    near: list[set[int]] = [set() for _ in sizes]
    for scope in scopes:
        for n in scope:
            near[n].update(scope)
    for n, others in enumerate(near):
        others.discard(n)
    weights = [log(max(1, size)) for size in sizes]
    return min(_orders(near, weights), key=lambda order: breadth(order, near, weights))


def breadth(order: Sequence[int], near: Neighbours, weights: Sequence[float]) -> float:
    """The logarithm of the combinations of open positions, over all turns."""
    turn = {n: i for i, n in enumerate(order)}
    closing: list[list[int]] = [[] for _ in order]
    for n in order:
        closing[max(turn[n], *(turn[m] for m in near[n])) if near[n] else turn[n]].append(n)
    open_now, at = 0.0, []
    for i, n in enumerate(order):
        open_now += weights[n]
        at.append(open_now)
        open_now -= sum(weights[m] for m in closing[i])
    return float(np.logaddexp.reduce(at)) if at else 0.0


def _orders(near: Neighbours, weights: Sequence[float]) -> Iterator[list[int]]:
    yield list(range(len(near)))
    by_neighbours = sorted(range(len(near)), key=lambda n: (-len(near[n]), n))
    for many in ASIDE:
        aside = by_neighbours[:many]
        for others in (_level_by_level(near, aside), _least_open(near, weights, aside)):
            yield _put_in(others, aside, near)


def _put_in(order: list[int], aside: Sequence[int], near: Neighbours) -> list[int]:
    """Put positions that were set aside before the first of their neighbours."""
    for n in aside:
        order.insert(next((i for i, m in enumerate(order) if m in near[n]), len(order)), n)
    return order


def _level_by_level(near: Neighbours, aside: Sequence[int]) -> list[int]:
    left = set(range(len(near))) - set(aside)
    order: list[int] = []
    while left:
        reached = [min(left, key=lambda n: (len(left & set(near[n])), n))]
        for _ in range(3):  # from the position that is farthest from the last one
            reached = _reached(reached[-1], near, left)
        order += reached
        left -= set(reached)
    return order


def _reached(start: int, near: Neighbours, left: set[int]) -> list[int]:
    seen, queue = {start}, [start]
    for n in queue:
        for m in sorted((m for m in near[n] if m in left and m not in seen), key=lambda m: (len(near[m]), m)):
            seen.add(m)
            queue.append(m)
    return queue


def _least_open(near: Neighbours, weights: Sequence[float], aside: Sequence[int]) -> list[int]:
    waits = [set(others) - set(aside) for others in near]  # neighbours that have not had their turn
    left = set(range(len(near))) - set(aside)
    open_now: set[int] = set()
    order: list[int] = []

    def opens(n: int) -> tuple[float, int, int]:
        closed = sum(weights[m] for m in near[n] if m in open_now and waits[m] <= {n})
        return (weights[n] if waits[n] else 0.0) - closed, len(waits[n]), n

    while left:
        beside = {m for n in open_now for m in waits[n]} or left
        n = min(beside, key=opens)
        left.discard(n)
        order.append(n)
        for m in near[n]:
            waits[m].discard(n)
        open_now = {m for m in (*open_now, n) if waits[m]}
    return order
