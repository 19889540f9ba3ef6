"""A program as arrays: what prices of its rows prove, what a ceiling leaves of its variables, and HiGHS asked for either.

For a program  min c x,  l <= A x <= u,  x between its limits,  and any price y of each row (0 or more where the row has no
upper end, 0 or less where it has no lower one) every solution costs

    c x = y A x + (c - y A) x >= sum_r (y_r l_r where y_r > 0, y_r u_r where y_r < 0) + sum_j min over x_j of (c - y A)_j x_j

That holds for any y, however a solver found it, so nothing hangs on a solver's tolerance; what floats may have lost of the sums
is taken off. With B for that bound, a solution that costs at most U has |(c - y A)_j| |x_j - the end that is least| <= U - B for
each j: whole variables are kept within that, and no solution of at most U is lost, ties included.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pulp

from sourcing.program.ahead.market import Floats, Truths, Whole
from sourcing.program.solver import Effort, Outcome, engine_for, outcome_of, run_watched, start_from

# What a sum of floats can lose, as a share of the sum of their sizes: far more than 2^-53 for each of a few thousand.
LOST = 1e-13
# Float noise on sums of whole amounts, in cents; and on a quotient of them.
NOISE_CENTS, NOISE = 0.01, 1e-9
# Whole, up to a solver's tolerance.
NEARLY = 1e-6


@dataclass(frozen=True)
class Arrays:
    """Columns with cost (cents), limits and whether they are whole; rows with limits; entries sorted by row."""

    cost: Floats
    lower: Floats
    upper: Floats
    whole: Truths
    least: Floats
    most: Floats
    row: Whole
    column: Whole
    value: Floats
    offset: float

    def bound(self, prices: Floats) -> tuple[float, Floats]:
        """Cents below which no solution costs, by prices of the rows; and what is left of each column's cost."""
        prices = np.where((prices > 0) & np.isinf(self.least) | (prices < 0) & np.isinf(self.most), 0.0, prices)
        terms = self.value * prices[self.row]
        left = self.cost - np.bincount(self.column, terms, len(self.cost))
        ends = np.where(prices > 0, self.least, self.most)[prices != 0] * prices[prices != 0]
        most = np.maximum(np.abs(self.lower), np.abs(self.upper))
        sizes = np.abs(self.cost) + np.bincount(self.column, np.abs(terms), len(self.cost))
        lost = LOST * float(np.abs(ends).sum() + sizes @ most)
        cents = float(ends.sum()) + float(np.minimum(left * self.lower, left * self.upper).sum())
        return self.offset + cents - lost, left

    def up_to(self, bound: float, left: Floats, ceiling: float) -> Arrays:
        """The same with whole columns kept to what solutions of at most `ceiling` cents hold."""
        if math.isinf(ceiling):
            return self
        room = ceiling - bound + NOISE_CENTS
        with np.errstate(divide="ignore", invalid="ignore"):
            steps = np.floor(room / np.abs(left) + NOISE)
        up, down = self.whole & (left > 0), self.whole & (left < 0)
        upper = np.where(up, np.minimum(self.upper, self.lower + steps), self.upper)
        lower = np.where(down, np.maximum(self.lower, self.upper - steps), self.lower)
        return replace(self, lower=lower, upper=upper)

    def cents(self, values: Floats) -> float:
        return float(self.cost @ values) + self.offset


@dataclass(frozen=True)
class Found:
    """What HiGHS said of arrays: values by column, bound in cents, prices of the rows where nothing had to be whole."""

    outcome: Outcome
    values: Floats | None = None
    bound: float | None = None
    prices: Floats | None = None
    interrupted: bool = False


def arrays_of(model: pulp.LpProblem, caps: Mapping[str, float]) -> tuple[Arrays, list[pulp.LpVariable]]:
    """A program as arrays, and its variables in the order of the columns; `caps` are limits of those that have none."""
    variables = model.variables()
    at = {var.name: n for n, var in enumerate(variables)}
    cost = np.zeros(len(variables))
    for var, cents in model.objective.items():
        cost[at[var.name]] = cents
    rows, columns, values, least, most = [], [], [], [], []
    for n, row in enumerate(model.constraints.values()):
        rows += [n] * len(row)
        columns += [at[var.name] for var in row]
        values += row.values()
        right = -float(row.constant)
        least.append(-math.inf if row.sense == pulp.LpConstraintLE else right)
        most.append(math.inf if row.sense == pulp.LpConstraintGE else right)
    upper = [caps[var.name] if var.upBound is None else float(var.upBound) for var in variables]
    whole = np.array([var.cat == pulp.LpInteger for var in variables], dtype=bool)
    made = Arrays(cost, np.array([float(var.lowBound) for var in variables]), np.array(upper, dtype=float), whole,
                  np.array(least, dtype=float), np.array(most, dtype=float), np.array(rows, dtype=np.int64),
                  np.array(columns, dtype=np.int64), np.array(values, dtype=float),
                  float(model.objective.constant))  # fmt: skip
    return made, variables


def least_of(arrays: Arrays, effort: Effort, start: Floats | None = None) -> Found:
    """The cheapest values by HiGHS; of arrays in which nothing need be whole, with the prices of their rows."""
    import highspy

    engine = engine_for(effort)
    engine.passModel(_as_lp(highspy, arrays))
    if start is not None:
        start_from(engine, dict(enumerate(start.tolist())))
    stopped, interrupted = run_watched(engine, effort)
    outcome = outcome_of(highspy, engine, stopped)
    if outcome in (Outcome.INFEASIBLE, Outcome.UNKNOWN):
        return Found(outcome, bound=_bound(engine), interrupted=interrupted)
    solution = engine.getSolution()
    values = np.array(solution.col_value)
    if not arrays.whole.any():
        return Found(outcome, values, arrays.cents(values), np.array(solution.row_dual), interrupted)
    bound = _bound(engine)
    return Found(outcome, values, bound, None, interrupted)


def _bound(engine: Any) -> float | None:
    bound = engine.getInfo().mip_dual_bound
    return float(bound) if math.isfinite(bound) else None


def _as_lp(highspy: Any, arrays: Arrays) -> Any:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(arrays.cost), len(arrays.least)
    lp.col_cost_, lp.offset_ = arrays.cost, arrays.offset
    lp.col_lower_, lp.col_upper_ = arrays.lower, arrays.upper
    lp.row_lower_, lp.row_upper_ = arrays.least, arrays.most
    if arrays.whole.any():
        integer, continuous = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
        lp.integrality_ = [integer if whole else continuous for whole in arrays.whole.tolist()]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = lp.num_col_, lp.num_row_
    lp.a_matrix_.start_ = np.searchsorted(arrays.row, np.arange(lp.num_row_ + 1))
    lp.a_matrix_.index_, lp.a_matrix_.value_ = arrays.column, arrays.value
    return lp
