"""Which orders to place where each place is served by one of them: the least cost proven by branch and bound on arrays.

min sum_j f_j y_j + sum_i min_{j: y_j = 1} c_ij      f_j what order j costs to place, c_ij what place i costs from it [cents]

Relaxed by prices u_i of the places: each order is placed that pays, sum_i max(0, u_i - c_ij) > f_j, and
L(u) = sum_i u_i + sum_j min(0, f_j - sum_i max(0, u_i - c_ij)) is at most the cost of every choice (Erlenkotter, "A dual-based
procedure for uncapacitated facility location", Operations Research 26(6), 1978, has the dual; the prices are raised here by
subgradient steps: Held, Wolfe and Crowder, Mathematical Programming 6, 1974).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from sourcing.program.ahead.market import Floats, Whole

# Prices are whole multiples of this part of a cent: with costs of at most MOST_CENTS in all every sum is exact in a float.
GRAIN = 1024.0
MOST_CENTS = 2.0**42
FAR = 1e15
# Steps towards the bound at the root, twice, and at each branch.
ROOT_STEPS, BRANCH_STEPS = 300, 14
# Equal choices beyond these are not gathered: the tie is then settled by the program.
MOST_EQUALS = 500


@dataclass(frozen=True)
class Placing:
    """What each order costs to place, and each place (row) from each order (column); infinite where it cannot be."""

    placing: Floats
    serving: Floats


@dataclass
class Proven:
    """The least cost and the choices of orders that have it; `bound` is below `cents` where the time was up.

    `every`: the choices are all there are.
    """

    cents: float
    choices: list[tuple[int, ...]]
    bound: float
    branches: int = 0
    every: bool = True
    root: float = 0.0


@dataclass(frozen=True)
class _Branch:
    """Orders placed, orders open to choice, and the prices, reduced costs and use of the latter at the bound."""

    bound: float
    placed: Whole
    free: Whole
    prices: Floats
    reduced: Floats
    use: Floats


@dataclass
class _Search:
    given: Placing
    gather: bool
    spent: Callable[[], bool]
    best: float = np.inf
    choices: dict[tuple[int, ...], None] = field(default_factory=dict)
    branches: int = 0
    every: bool = True

    @property
    def over(self) -> float:
        """A bound at or above this ends a branch: nothing in it is better, or, where equals are gathered, as good as the best."""
        return self.best + 1.0 / GRAIN if self.gather else self.best - 1.0 + 1.0 / GRAIN

    def note(self, orders: Whole) -> None:
        """Take note of a choice of orders; orders that serve nobody are left out."""
        if not len(orders):
            return
        serving = self.given.serving[:, orders]
        least = serving.min(axis=1)
        used = (serving <= least[:, None]).any(axis=0) | (self.given.placing[orders] <= 0)
        orders = orders[used]
        cents = float(self.given.placing[orders].sum() + least.sum())
        if not np.isfinite(cents) or cents > self.best:
            return
        if cents < self.best:
            self.best = cents
            self.choices.clear()
        self.choices[tuple(sorted(int(j) for j in orders))] = None
        if len(self.choices) > MOST_EQUALS:
            self.gather = self.every = False

    def relax(self, free: Whole, placed: Whole, prices: Floats, steps: int, pace: float = 1.0) -> _Branch:
        """Raise the prices: the best bound with these orders placed and these open to choice.

        A placed order serves every place at its cost, so that no price need be above the cheapest of those.
        """
        base = float(self.given.placing[placed].sum())
        most = self.given.serving[:, placed].min(axis=1) if len(placed) else np.full(len(prices), FAR)
        serving = np.ascontiguousarray(self.given.serving[:, free].T)
        placing = self.given.placing[free]
        prices = np.minimum(prices, most)
        best: _Branch | None = None
        use = np.zeros(len(free))
        direction = np.zeros(len(prices))
        gains = np.empty_like(serving)
        idle = 0
        for step in range(steps):
            prices = np.floor(prices * GRAIN) / GRAIN
            np.subtract(prices, serving, out=gains)
            np.maximum(gains, 0.0, out=gains)
            reduced = placing - gains.sum(axis=1)
            paying = np.flatnonzero(reduced < 0)
            bound = base + float(prices.sum()) + float(reduced[paying].sum())
            use *= 0.85 if step else 0.0
            use[paying] += 0.15 if step else 1.0
            if best is None or bound > best.bound:
                idle = idle + 1 if best is not None and bound < best.bound + 1e-4 * abs(self.best - best.bound) else 0
                best = _Branch(bound, placed, free, prices, reduced, use)
                if bound >= min(self.over, self.best):
                    break
            else:
                idle += 1
            if idle >= (8 if steps > 100 else 4):
                pace, idle = pace * 0.6, 0
            gap = 1.0 - np.count_nonzero(gains[paying], axis=0)
            gap[(prices >= most) & (gap > 0)] = 0.0
            direction = gap + 0.5 * direction
            length = float(direction @ direction)
            if length < 1e-9:
                break
            prices = np.minimum(prices + pace * (self.best * 1.0005 - bound) / length * direction, most)
        assert best is not None
        return best

    def settled(self, branch: _Branch) -> _Branch | None:
        """A branch with the orders fixed that its bound decides; None where nothing good enough is left in it.

        With reduced cost r_j an order that does not pay (r_j > 0) adds r_j when it is placed all the same, one that pays -r_j
        when it is not: where the bound then ends the branch, the order is left out, or placed.
        """
        if branch.bound >= self.over:
            return None
        self.note(np.concatenate([branch.placed, branch.free[branch.reduced < 0]]))
        if branch.bound >= self.over or not len(branch.free):
            return None
        out = branch.bound + branch.reduced >= self.over
        must = branch.bound - branch.reduced >= self.over
        if (out & must).any():
            return None
        if not (out | must).any():
            return branch
        stays = ~(out | must)
        placed = np.concatenate([branch.placed, branch.free[must]])
        if not stays.any():
            self.note(placed)
            return None
        if must.any():
            return self.settled(self.relax(branch.free[stays], placed, branch.prices, BRANCH_STEPS))
        return _Branch(
            branch.bound, placed, branch.free[stays], branch.prices, branch.reduced[stays], branch.use[stays]
        )

    def parted(self, branch: _Branch) -> Iterator[_Branch]:
        """The branch in two, by the order whose use is least decided: left out, and placed."""
        self.branches += 1
        use = np.minimum(branch.use, 1.0 - branch.use)
        split = int((self.given.placing[branch.free] * use + 1e-6 * np.abs(branch.reduced)).argmax())
        rest = np.delete(branch.free, split)
        for placed in (branch.placed, np.append(branch.placed, branch.free[split])):
            settled = self.settled(self.relax(rest, placed, branch.prices, BRANCH_STEPS))
            if settled is not None:
                yield settled


def prove(given: Placing, gather: bool, spent: Callable[[], bool], below: float = np.inf) -> Proven | None:
    """The least cost of serving every place, proven; None where some place cannot be served or sums would not be exact.

    Parameters
    ----------
    gather : find every choice of least cost, not just one
    spent : whether the time is up
    below : a cost that is known from elsewhere, in cents: dearer choices are of no use
    """
    from sourcing.program.ahead.swapping import improved

    count, orders = given.serving.shape
    finite = np.where(np.isfinite(given.serving), given.serving, 0.0)
    if not count or not orders or not np.isfinite(given.serving.min(axis=1)).all():
        return None
    if finite.max(axis=1).sum() + given.placing.sum() > MOST_CENTS:
        return None
    # A cost that no plan of least cost pays, in place of "cannot be", keeps every sum finite.
    never = float(finite.max(axis=1).sum() + given.placing.sum()) + 1.0
    given = Placing(given.placing, np.where(np.isfinite(given.serving), given.serving, never))
    search = _Search(given, gather, spent, below)
    everything = np.arange(orders)
    free_of_charge = np.flatnonzero(given.placing <= 0)
    search.note(everything)
    search.note(improved(given, int((given.placing + given.serving.sum(axis=0)).argmin())))
    start = np.sort(given.serving, axis=1)[:, min(1, orders - 1)]
    rest = np.setdiff1d(everything, free_of_charge)
    root = search.relax(rest, free_of_charge, start, ROOT_STEPS, 1.5)
    for draw in range(8 if root.bound < search.best else 0):
        chosen = rest[root.use > np.random.default_rng(draw).random(len(rest))]
        search.note(improved(given, *(int(j) for j in (*free_of_charge, *chosen))))
    if root.bound < search.best:
        root = search.relax(rest, free_of_charge, root.prices, ROOT_STEPS // 2, 0.5)
    proven = Proven(search.best, [], root.bound, root=root.bound)
    stack = [branch for branch in [search.settled(root)] if branch is not None]
    while stack:
        if spent():
            proven.bound = min([search.best, *(branch.bound for branch in stack)])
            break
        branch = stack.pop()
        if branch.bound < search.over:
            stack += sorted(search.parted(branch), key=lambda part: -part.bound)
    else:
        proven.bound = search.best
    proven.cents, proven.choices = search.best, list(search.choices)
    proven.branches, proven.every = search.branches, search.every and search.gather
    return proven
