"""What no plan at or below a cost can hold, removed: lines, designs, kept parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sourcing.problem import Problem
from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.dual import Bound
from sourcing.program.ahead.market import KEPT, Market, Truths

# Float noise on sums of whole cents: a bound counts as above a cost only where it is above by more than this.
NOISE_CENTS = 0.01


@dataclass(frozen=True)
class Left:
    """The lines and states that a plan at or below the ceiling may hold."""

    lines: Truths
    states: Truths


def left_below(market: Market, together: Together, bounds: Sequence[Bound], ceiling: float) -> Left:
    """What is left for plans that cost at most `ceiling` cents: every such plan holds only this.

    A plan has one wait W, and L_W bounds it. Let it buy line l, which fills position p as d alone. Then in the relaxation that
    gives L_W the order of l comes to at least its value with l forced, the combination to at least its value with p held to d,
    and everything else to at least what it came to: L_W - V_k + V_k(l) - C + C(p, d) <= cost. Where that is above the ceiling for
    every wait, no such plan buys l. Kits and lines that may be bought for the shelf: the order's part alone. States likewise.
    """
    lines = np.zeros(len(market.lines), dtype=bool)
    states = np.zeros(len(market.states), dtype=bool)
    most = ceiling + NOISE_CENTS
    tied = market.single & ~market.alone
    for bound in bounds:
        if bound.cents > most:
            continue
        prices = market.state_cents + bound.prices
        each = together.with_each(prices)
        holding = bound.cents - together.least(prices)[0] + each
        held = holding <= most
        more = np.zeros(len(market.lines))
        own = tied[market.fill_line]
        more[market.fill_line[own]] = holding[market.fill_state[own]] - bound.cents
        buying = bound.cents + bound.orders.forced(bound.prices) - bound.value.orders[market.order] + more
        bought = (buying <= most) & (market.waits <= bound.wait)
        supplied = np.zeros(len(market.states), dtype=bool)
        supplied[market.fill_state[bought[market.fill_line]]] = True
        states |= held & (supplied | ~market.bought_states)
        lines |= bought
    return Left(lines, states)


def narrowed(market: Market, left: Left) -> Problem | None:
    """The same problem with only what is left; None where nothing stands together any more."""
    problem = market.problem
    if problem.fitting is None:
        return None
    alive = {
        (problem.positions[state.position], state.design, state.source)
        for state, stays in zip(market.states, left.states, strict=True)
        if stays
    }
    designs = {(position, design) for position, design, _ in alive}
    domains = {
        position: tuple(design for design in held if (position, design) in designs)
        for position, held in problem.domains.items()
    }
    if not all(domains.values()):
        return None
    fitting = problem.fitting.within(domains).reduced()
    if fitting is None:
        return None
    keepable = {p: d for p, d in problem.keepable.items() if (p, d, KEPT) in alive and d in fitting.domains[p]}
    lines = tuple(line for line, stays in zip(market.lines, left.lines, strict=True) if stays)
    return replace(problem, fitting=fitting, keepable=keepable, lines=lines)
