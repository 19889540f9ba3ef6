"""Ties of a large problem: which orders every plan of the least cost places, and what such plans can hold.

Settling ties asks the solver once for each thing that may still differ, which takes long while thousands of lines are left. So
the orders come first: the program is asked for a plan at the least cost that places other orders, or waives other freight,
until there is none. Every plan of the least cost then has one of the patterns found. With its orders given, what they cost to
place is certain, and the bound under such plans lies so near their cost that hardly anything is left beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pulp

from sourcing.problem import Problem
from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.dual import Bound, ascend
from sourcing.program.ahead.fixing import NOISE_CENTS, Left, left_below, narrowed
from sourcing.program.ahead.market import Market, Placed
from sourcing.program.objective import cost
from sourcing.program.solver import Outcome, broken_rows
from sourcing.program.variables import Variables

if TYPE_CHECKING:
    from sourcing.program.answer import Watch

# More patterns than these are not looked for: what is left would not be small.
MOST_PATTERNS = 4
STEPS = 120
# What a line costs in a pattern that does not place its order, in cents: more than any plan.
OUT = 1e9

Order = tuple[str, str]


@dataclass(frozen=True)
class Pattern:
    """The orders that a plan places, and those of them whose freight is waived."""

    placed: frozenset[Order]
    waived: frozenset[Order]


@dataclass
class Patterns:
    """Asked in place of settling ties: gathers the patterns of all plans at a cost. `every`: these are all there are.

    `pays` says of patterns and a cost whether little enough is left under them: where not even the first leaves little, the
    program is not asked.
    """

    pays: Callable[[Sequence[Pattern], int], bool]
    found: list[Pattern] = field(default_factory=list)
    every: bool = False

    def __call__(self, v: Variables, values: Mapping[str, float], at_cost: int, watch: Watch) -> dict[str, float]:
        """Gather them; the values of the plan at hand are given back as they are."""
        self.found.append(_pattern(v, values))
        if not self.pays(self.found, at_cost):
            return dict(values)
        deciding = [*v.opens.values(), *v.free.values()]
        other: Mapping[str, float] | None = values
        v.model.setObjective(cost(v))
        while other is not None and len(self.found) <= MOST_PATTERNS:
            on = [var for var in deciding if other[var.name] > 0.5]
            off = [var for var in deciding if other[var.name] <= 0.5]
            v.model.addConstraint(pulp.lpSum(off) - pulp.lpSum(on) >= 1 - len(on), f"unlike_{len(self.found)}")
            solved = watch.solve(v.model, cutoff=at_cost + 0.5)
            other = None
            if solved.outcome == Outcome.INFEASIBLE:
                self.every = True
            elif solved.outcome == Outcome.OPTIMAL and solved.values is not None and solved.objective is not None:
                self.every = solved.objective > at_cost + 0.5
                if not self.every and not broken_rows(v.model, solved.values):
                    other = solved.values
                    self.found.append(_pattern(v, other))
        return dict(values)


def _pattern(v: Variables, values: Mapping[str, float]) -> Pattern:
    def on(some: Mapping[Order, Any]) -> frozenset[Order]:
        return frozenset(key for key, var in some.items() if values[var.name] > 0.5)

    return Pattern(on(v.opens), on(v.free))


def left_of(
    market: Market,
    together: Together,
    bounds: Sequence[Bound],
    patterns: Sequence[Pattern],
    ceiling: float,
    spent: Callable[[], bool],
) -> Problem | None:
    """The problem with what plans of at most `ceiling` cents hold that have one of the patterns; None where nothing is left."""
    left = Left(np.zeros(len(market.lines), dtype=bool), np.zeros(len(market.states), dtype=bool))
    for pattern in patterns:
        given = under(market, pattern)
        raised = [
            ascend(given, together, bound.wait, bound.prices, ceiling, STEPS, ceiling)
            for bound in bounds
            if bound.cents <= ceiling + NOISE_CENTS and not spent()
        ]
        if spent():
            return None
        mine = left_below(given, together, raised, ceiling)
        left = Left(left.lines | mine.lines, left.states | mine.states)
    return narrowed(market, left)


def under(market: Market, pattern: Pattern) -> Market:
    """The market of plans with a pattern of orders.

    Such a plan pays the fee of each of its orders, and flat freight where it is not waived: that is fixed. Its lines cost what
    they cost with freight by weight, or without in an order whose freight is waived, which reaches its threshold. It buys none
    of the others' lines. So a bound under this market is one under every plan with the pattern.
    """
    fixed, orders = market.fixed, []
    placed = np.zeros(len(market.orders), dtype=bool)
    waived = np.zeros(len(market.orders), dtype=bool)
    for k, order in enumerate(market.orders):
        placed[k], waived[k] = order.key in pattern.placed, order.key in pattern.waived
        least = max(order.minimum, order.free_over or 0) if waived[k] else order.minimum
        if placed[k]:
            fixed += order.fee + (0 if waived[k] else order.flat)
        orders.append(Placed(order.key, 0, 0, least, None))
    costs = np.where(waived[market.order], market.waived, market.paid)
    costs = np.where(placed[market.order], costs, OUT)
    return replace(market, orders=tuple(orders), paid=costs, waived=costs, fixed=fixed)
