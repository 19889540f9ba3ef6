"""A pure choice of orders, recognised and proven without the solver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sourcing.plan import Choice
from sourcing.problem import Problem
from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.choosing import Placing, Proven, prove
from sourcing.program.ahead.first_plan import Draft, choice_of_draft
from sourcing.program.ahead.fixing import Left
from sourcing.program.ahead.market import Floats, Market, Truths, Whole
from sourcing.program.returns import best_returns


@dataclass(frozen=True)
class Settled:
    """What a search over the orders proved: the least cost, one plan that has it, and what all such plans hold.

    `bound` is below `cents` where the time was up. `sole`: it is the only plan of that cost, or wins among them; `every`: `left`
    holds them all.
    """

    cents: int
    bound: int
    choice: Choice
    left: Left
    sole: bool
    every: bool


def is_a_pure_choice_of_orders(market: Market) -> bool:
    """Whether a plan costs the sum of what its orders cost to place and what each position's cheapest way out of them costs.

    So it is where no rule or task ties positions, each line fills one position and nothing else is bought, freight is never
    waived (or nothing is saved by it), no order has a minimum, suppliers are not limited, and a core goes back, if at all, at no
    cost against the part that takes its place; where nothing is in hand, and no decision asks for more than the cheapest plan.
    """
    problem = market.problem
    if problem.using or problem.asked or problem.told or problem.ceilings or problem.handled or problem.in_hand:
        return False
    if problem.fitting is None or problem.fitting.tables or _tasks_tie(problem):
        return False
    if not len(market.lines) or not market.single.all() or market.alone.any():
        return False
    wanted = {design for design, wish in problem.wishes.items() if wish.pieces}
    if wanted and any(wanted & set(offer.part.fills) for offer in problem.offers):
        return False
    most = problem.job.limits.max_suppliers
    if most is not None and most < len({placed.key[0] for placed in market.orders}):
        return False
    return _orders_are_plain(market) and _cores_are_plain(market)


def _tasks_tie(problem: Problem) -> bool:
    if problem.minimise != "whole":
        return False
    return any(
        work.cents and len({*(position for position, _ in work.when), *(work.replacing or ())}) > 1
        for work in problem.works
    )


def _orders_are_plain(market: Market) -> bool:
    position = market.fill_position[np.argsort(market.fill_line, kind="stable")]
    for k, placed in enumerate(market.orders):
        if placed.minimum:
            return False
        if placed.free_over is None:
            continue
        mine = np.flatnonzero(market.order == k)
        saves = placed.flat or (market.paid[mine] > market.waived[mine]).any()
        dearest = np.zeros(len(market.problem.positions))
        np.maximum.at(dearest, position[mine], market.minor[mine])
        if saves and dearest.sum() >= placed.free_over:
            return False
    return True


def _cores_are_plain(market: Market) -> bool:
    problem = market.problem
    if problem.minimise == "cash" or not problem.cores:
        return True
    for offer in problem.offers:
        terms = problem.terms[offer.supplier]
        taken = [position for position, design in problem.cores.items() if design in offer.part.core_accepts]
        if not taken or not terms.core_credit(offer.core_cents):
            continue
        into = {problem.family.design[design].position for design in offer.part.fills}
        if terms.core_return_cents or set(taken) != into:
            return False
    return True


def settle_orders(market: Market, together: Together, gather: bool, spent: Callable[[], bool]) -> Settled | None:
    """Prove the cheapest plan of a pure choice of orders; None where it is none, has no plan, or nothing was found in time.

    A plan has one wait W: for each the orders that can be here by then are searched, waiting W paid. (A plan that is here sooner
    is dearer there than in the search of its own wait, so that the least over all waits is right.) Of the plans of least cost
    none is lost: a search gathers every choice of orders that has it, and each position keeps every way that is cheapest.
    """
    if not is_a_pure_choice_of_orders(market):
        return None
    best, bound = np.inf, np.inf
    found: list[tuple[int, Placing, Proven]] = []
    every = gather
    for wait in sorted(market.days):
        placing = _placing(market, together, wait)
        if placing is None:
            continue
        offset = float(market.day * wait + market.fixed)
        proven = prove(placing, gather, spent, best - offset)
        if proven is None:
            return None
        bound = min(bound, proven.bound + offset)
        every = every and proven.every
        if proven.choices and proven.cents + offset <= best:
            found = found if proven.cents + offset == best else []
            best = proven.cents + offset
            found.append((wait, placing, proven))
    if not found:
        return None
    return _settled(market, together, round(best), bound, found, every)


def _placing(market: Market, together: Together, wait: int) -> Placing | None:
    """Positions against orders, and one order more, of no cost, for what is not bought; None where a position has no way."""
    serving = np.full((len(market.problem.positions), len(market.orders) + 1), np.inf)
    np.minimum.at(serving, (market.fill_position, market.order[market.fill_line]), _ways(market, together, wait))
    free = np.flatnonzero(~market.bought_states)
    np.minimum.at(serving[:, -1], market.state_position[free], (market.state_cents + together.unary)[free])
    if not np.isfinite(serving.min(axis=1)).all():
        return None
    placing = np.array([*(float(placed.flat + placed.fee) for placed in market.orders), 0.0])
    return Placing(placing, serving)


def _ways(market: Market, together: Together, wait: int) -> Floats:
    """What filling a position by each line costs, all that follows with it; infinite where it comes too late."""
    state = market.state_cents + together.unary
    cents = market.paid[market.fill_line] + market.fill_cents + state[market.fill_state]
    return np.where(market.waits[market.fill_line] <= wait, cents, np.inf)


def _settled(
    market: Market,
    together: Together,
    cents: int,
    bound: float,
    found: list[tuple[int, Placing, Proven]],
    every: bool,
) -> Settled:
    lines = np.zeros(len(market.lines), dtype=bool)
    states = np.zeros(len(market.states), dtype=bool)
    plans = 0
    drafts: list[Draft] = []
    plain = every and _ties_are_plain(market)
    for wait, placing, proven in found:
        ways = _ways(market, together, wait)
        for orders in proven.choices:
            entries, free = _cheapest(market, together, placing, ways, np.array(orders, dtype=np.int64))
            lines[market.fill_line[entries]] = True
            states[market.fill_state[entries]] = True
            states |= free
            per_position = np.bincount(market.fill_position[entries], minlength=len(market.problem.positions))
            per_position += np.bincount(market.state_position[free], minlength=len(market.problem.positions))
            plans += 1 if (per_position == 1).all() else 2
            plain = plain and _is_decided(market, entries, per_position)
            if plain or not drafts:
                drafts.append(_draft(market, entries, free, float(cents)))
    first = min(drafts, key=lambda draft: _by_code(market, draft)) if plain else drafts[0]
    return Settled(
        cents, min(cents, int(np.ceil(bound - 0.01))), choice_of_draft(market, first, best_returns), Left(lines, states),
        sole=every and (plans == 1 or plain), every=every,
    )  # fmt: skip


def _ties_are_plain(market: Market) -> bool:
    """Whether plans of least cost can only differ in who sends a part: then the fewest suppliers and the first codes win.

    So it is where each position holds one design that must be bought and everything arrives on one day.
    """
    return (
        len(market.states) == len(market.problem.positions)
        and bool(market.bought_states.all())
        and len(set(market.waits.tolist())) == 1
    )


def _is_decided(market: Market, entries: Whole, ways: Whole) -> bool:
    """Whether every order of the cheapest fillings is sure to be placed, whichever of them are taken.

    One that costs something is: it stands in no choice of least cost if it need not serve anybody. One that costs nothing is
    where some position has no other cheapest way.
    """
    orders = market.order[market.fill_line[entries]]
    sure = {int(k) for k in orders[ways[market.fill_position[entries]] == 1]}
    return all(int(k) in sure or market.orders[k].flat + market.orders[k].fee > 0 for k in set(orders.tolist()))


def _by_code(market: Market, draft: Draft) -> tuple[int, list[tuple[str, str, str]]]:
    """How equal plans are ranked where ties are plain: suppliers, then lines in the order of their codes."""
    keys = sorted(market.lines[line].key for line in draft.lines)
    return len({key[0] for key in keys}), keys


def _cheapest(
    market: Market, together: Together, placing: Placing, ways: Floats, orders: Whole
) -> tuple[Whole, Truths]:
    """The fillings, and the states that are not bought, that cost a position no more than any other way out of these orders."""
    least = placing.serving[:, orders].min(axis=1)
    placed = np.zeros(len(placing.placing), dtype=bool)
    placed[orders] = True
    if not placed[-1]:
        least = np.minimum(least, placing.serving[:, -1])
    good = placed[market.order[market.fill_line]] & (ways <= least[market.fill_position])
    free = ~market.bought_states & (market.state_cents + together.unary <= least[market.state_position])
    return np.flatnonzero(good), free


def _draft(market: Market, entries: Whole, free: Truths, cents: float) -> Draft:
    states = [-1] * len(market.problem.positions)
    lines = [-1] * len(market.problem.positions)
    for s in np.flatnonzero(free):
        states[market.state_position[s]] = int(s)
    # Of lines that cost a position the same the first by code: a smaller line in any place makes a smaller list.
    for entry in sorted(entries, key=lambda entry: market.lines[market.fill_line[entry]].key, reverse=True):
        position = market.fill_position[entry]
        states[position], lines[position] = int(market.fill_state[entry]), int(market.fill_line[entry])
    return Draft(cents, tuple(states), tuple(lines))
