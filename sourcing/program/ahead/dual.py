"""The bound: every plan costs at least this much, found by pricing each state and letting orders and combination part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.market import Floats, Market, Whole

# What one smallest coin towards a threshold may be worth, as a share of a coin; any of them gives a true bound.
SHARES = np.array([0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])

# Steps aim at a bound by this share above the best so far, ever less as they stop to improve it.
FIRST_REACH, LAST_REACH = 0.04, 2e-5
# A price of a state in cents that no plan pays.
OUT_OF_REACH = 1e9


@dataclass(frozen=True)
class Valued:
    """The orders at some prices: what each adds at best (never above nothing), and how often each state is then filled."""

    total: float
    orders: Floats
    filled: Floats


class Orders:
    """The orders of a market that can be here within a wait, valued at any prices of the bought states.

    An order pays freight or, from its threshold on, none. Of the lines that can fill just one position each position takes at
    most one in an order, as it holds one part. A threshold T is left out and paid for: sum m >= T becomes the cost
    s (T - sum m), a lower bound for every s >= 0; of several s the best is taken.
    """

    def __init__(self, market: Market, wait: int) -> None:
        self.market = market
        self.usable = np.flatnonzero(market.waits <= wait)
        inside = np.zeros(len(market.lines), dtype=bool)
        inside[self.usable] = True
        rate = [float(market.problem.terms[placed.key[0]].cents(1_000_000)) / 1e6 for placed in market.orders]
        # Each way to place an order: paid, and waived where it can be.
        ways: list[tuple[int, bool, float, float]] = []
        for k, placed in enumerate(market.orders):
            ways.append((k, False, placed.fee + placed.flat, placed.minimum))
            if placed.free_over is not None:
                ways.append((k, True, placed.fee, max(placed.minimum, placed.free_over)))
        self.way_order = np.array([way[0] for way in ways], dtype=np.int64)
        self.way_cents = np.array([way[2] for way in ways], dtype=float)
        self.way_coins = np.array([way[3] for way in ways], dtype=float)
        alone_group = market.alone | ~market.single
        position = np.full(len(market.lines), -1, dtype=np.int64)
        position[market.fill_line] = market.fill_position
        by_order = [np.flatnonzero((market.order == k) & inside) for k in range(len(market.orders))]
        columns: list[Whole] = []
        groups: list[Whole] = []
        count = len(market.problem.positions)
        for w, (k, _, _, _) in enumerate(ways):
            mine = by_order[k]
            code = np.where(alone_group[mine], count + np.arange(len(mine)), position[mine])
            by_group = np.argsort(code, kind="stable")
            columns.append(mine[by_group])
            groups.append(w * (count + len(market.lines) + 1) + code[by_group])
        self.line = np.concatenate(columns) if columns else np.zeros(0, dtype=np.int64)
        group = np.concatenate(groups) if groups else np.zeros(0, dtype=np.int64)
        self.way = np.repeat(np.arange(len(ways)), [len(c) for c in columns])
        waived = np.array([way[1] for way in ways], dtype=bool)[self.way] if ways else np.zeros(0, dtype=bool)
        self.cost = np.where(waived, market.waived[self.line], market.paid[self.line])
        first = np.append(True, group[1:] != group[:-1]) if len(group) else np.zeros(0, dtype=bool)
        self.group_start = np.flatnonzero(first)
        self.group_of = np.cumsum(first) - 1
        self.group_way = self.way[self.group_start]
        scale = np.array(rate)[self.way_order] if ways else np.zeros(0)
        self.shares = SHARES[:, None] * scale[None, :]
        if not self.way_coins.any():
            self.shares = self.shares[:1]
        self.minor = market.minor[self.line]
        self.entry = np.flatnonzero(inside[market.fill_line])
        self.simple = bool(market.single.all()) and not market.alone.any()

    def fillings(self, prices: Floats) -> Floats:
        """What each filling of a usable line comes to: its own cents less the price of the state that it brings about."""
        market = self.market
        return market.fill_cents[self.entry] - prices[market.fill_state[self.entry]]

    def line_values(self, prices: Floats) -> tuple[Floats, Whole]:
        """What each line's best fillings come to, and the fillings that are part of it (indices of the market's)."""
        market = self.market
        value = self.fillings(prices)
        lines = market.fill_line[self.entry]
        best = np.zeros(len(market.lines))
        if self.simple:
            best[lines] = value
            return best, self.entry
        key = lines * (len(market.problem.positions) + 1) + market.fill_position[self.entry]
        by_key = np.lexsort((value, key))
        first = np.append(True, key[by_key][1:] != key[by_key][:-1]) if len(key) else np.zeros(0, dtype=bool)
        chosen = by_key[first]
        must = (market.single & ~market.alone)[lines[chosen]]
        chosen = chosen[must | (value[chosen] < 0)]
        np.add.at(best, lines[chosen], value[chosen])
        return best, self.entry[chosen]

    def valued(self, prices: Floats) -> Valued:
        """Every order at its best at these prices."""
        market = self.market
        filled = np.zeros(len(market.states))
        orders = np.zeros(len(market.orders))
        if not len(self.line):
            return Valued(0.0, orders, filled)
        values, entries = self.line_values(prices)
        each, group, way, share = self._ways(values)
        best = np.zeros(len(market.orders))
        np.minimum.at(best, self.way_order, way)
        chosen = np.flatnonzero((way < 0) & (way <= best[self.way_order]))
        chosen = chosen[np.unique(self.way_order[chosen], return_index=True)[1]]
        taken = self._taken(each, group, share, chosen)
        weight = np.zeros(len(market.lines))
        np.add.at(weight, self.line, taken)
        np.add.at(filled, market.fill_state[entries], weight[market.fill_line[entries]])
        return Valued(float(best.sum()), best, filled)

    def _ways(self, values: Floats) -> tuple[Floats, Floats, Floats, Whole]:
        """Per share and column the value; per share and group the least; per way the value at its best share, and that share."""
        each = (self.cost + values[self.line])[None, :] - self.shares[:, self.way] * self.minor[None, :]
        group = np.minimum(np.minimum.reduceat(each, self.group_start, axis=1), 0.0)
        sums = np.zeros((len(self.shares), len(self.way_order)))
        for s in range(len(self.shares)):
            sums[s] = np.bincount(self.group_way, group[s], len(self.way_order))
        sums += self.shares * self.way_coins + self.way_cents
        share = sums.argmax(axis=0)
        return each, group, sums[share, np.arange(sums.shape[1])], share

    def _taken(self, each: Floats, group: Floats, share: Whole, ways: Whole) -> Floats:
        """How far each column is taken in the ways chosen: mixed of two neighbouring shares so that the threshold is just met."""
        taken = np.zeros(len(self.line))
        for w in ways:
            columns = slice(*np.searchsorted(self.way, [w, w + 1]))
            s = int(share[w])
            one = self._picked(each[s, columns], group[s], columns)
            if self.way_coins[w]:
                reached = float(self.minor[columns] @ one)
                step = s + 1 if reached < self.way_coins[w] else s - 1
                if 0 <= step < len(self.shares):
                    other = self._picked(each[step, columns], group[step], columns)
                    there = float(self.minor[columns] @ other)
                    if (there - self.way_coins[w]) * (reached - self.way_coins[w]) < 0:
                        mix = (self.way_coins[w] - there) / (reached - there)
                        one = mix * one + (1 - mix) * other
            taken[columns] = one
        return taken

    def _picked(self, each: Floats, group: Floats, columns: slice) -> Floats:
        mine = self.group_of[columns]
        picked = (each <= group[mine]) & (each < 0)
        first = np.zeros(len(each))
        at = np.flatnonzero(picked)
        first[at[np.unique(mine[at], return_index=True)[1]]] = 1.0
        return first

    def forced(self, prices: Floats) -> Floats:
        """For each line what its order comes to at least if the line is bought; infinite for lines that come too late."""
        market = self.market
        result = np.full(len(market.lines), np.inf)
        if not len(self.line):
            return result
        values, _ = self.line_values(prices)
        each, group, _, _ = self._ways(values)
        sums = np.stack([np.bincount(self.group_way, row, len(self.way_order)) for row in group])
        sums += self.shares * self.way_coins + self.way_cents
        with_line = sums[:, self.way] - group[:, self.group_of] + each
        np.minimum.at(result, self.line, with_line.max(axis=0))
        return result


@dataclass(frozen=True)
class Bound:
    """A lower bound on every plan with one wait, and the prices that gave it. `mean`: how often each state was filled."""

    wait: int
    cents: float
    prices: Floats
    orders: Orders
    value: Valued
    mean: Floats


def bound_at(
    market: Market, together: Together, orders: Orders, wait: int, prices: Floats
) -> tuple[float, Valued, Whole]:
    """The bound at some prices of the bought states: wait + combination + orders + what is fixed, in cents.

    L(u) = day W + min_x [sum_s (c_s + u_s) x_s + tasks] + sum_k min(0, V_k(u)) + fixed
    u_s price of bought state s, x_s 1 if its position stands in it: x_s = sum of the lines that bring it about is left out and
    paid for, so that L(u) is at most the cost of every plan with wait W, whatever u is.
    """
    least, chosen = together.least(market.state_cents + prices)
    value = orders.valued(prices)
    return market.day * wait + least + value.total + market.fixed, value, chosen


def ascend(
    market: Market, together: Together, wait: int, start: Floats, target: float, steps: int, stop: float
) -> Bound:
    """Raise the bound by subgradient steps (Held, Wolfe and Crowder, "Validation of subgradient optimization",
    Mathematical Programming 6, 1974), each direction mixed with the last (Camerini, Fratta and Maffioli, Mathematical
    Programming Study 3, 1975).

    Parameters
    ----------
    start : prices to start from, zero on states that are not bought
    target : what the bound is hoped to reach at most, in cents: the cost of a plan
    stop : a bound above this is high enough
    """
    orders = Orders(market, wait)
    supplied = np.zeros(len(start), dtype=bool)
    supplied[market.fill_state[orders.entry]] = True
    # What nobody sends within this wait cannot be bought: any price gives a true bound, one out of all reach the best.
    prices, best = np.where(market.bought_states & ~supplied, OUT_OF_REACH, start), None
    direction = np.zeros(len(start))
    mean: Floats = np.zeros(len(start))
    pace, idle, reach = 1.0, 0, FIRST_REACH
    for _ in range(steps):
        cents, value, chosen = bound_at(market, together, orders, wait, prices)
        mean = 0.9 * mean + 0.1 * value.filled
        if best is None or cents > best.cents:
            idle = 0 if best is None or cents > best.cents + 1e-3 * abs(target - best.cents) else idle + 1
            best = Bound(wait, cents, prices, orders, value, mean)
            if cents > min(stop, OUT_OF_REACH / 2):
                break
        else:
            idle += 1
        if idle >= 6:
            pace, reach, idle = max(0.3, pace * 0.8), reach * 0.6, 0
            if reach < LAST_REACH:
                break
            prices = best.prices
        gap = -value.filled
        gap[chosen] += market.bought_states[chosen]
        gap = np.where(market.bought_states, gap, 0.0)
        direction = gap + 0.6 * direction
        length = float(direction @ direction)
        if length < 1e-9:
            break
        hoped = min(target * 1.001, best.cents + reach * abs(best.cents))
        prices = prices + pace * max(hoped - cents, 1.0) / length * direction
    assert best is not None
    return Bound(wait, best.cents, best.prices, orders, best.value, mean)


def first_prices(market: Market) -> Floats:
    """The price of each bought state to start from: its cheapest line's, an even share of the order with it."""
    prices = np.zeros(len(market.states))
    if not len(market.lines):
        return prices
    shares = np.array([placed.flat + placed.fee for placed in market.orders], dtype=float) / max(
        1, len(market.problem.positions)
    )
    many = np.bincount(market.fill_line, minlength=len(market.lines))[market.fill_line]
    cost = (market.paid + shares[market.order])[market.fill_line] / many + market.fill_cents
    least = np.full(len(market.states), np.inf)
    np.minimum.at(least, market.fill_state, cost)
    return np.where(np.isfinite(least), least, np.where(market.bought_states, OUT_OF_REACH, 0.0))
