"""From a problem to its plan with the solver asked last: facility proof, bound, fixing, first plan, program."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sourcing.plan import Choice, Plan, Status, breaches, plan_of, price
from sourcing.problem import Problem
from sourcing.program.ahead import Ahead

if TYPE_CHECKING:
    from sourcing.program.ahead.cheapest import Together
    from sourcing.program.ahead.market import Market
    from sourcing.program.answer import Watch

# Steps towards the bound, for each wait: a first look, and a second once a plan's cost is known.
FIRST_STEPS, MORE_STEPS = 40, 60
# A first plan this near the bound is taken as the ceiling; where it is further off, plans this near are looked for first.
NEAR = 0.01
# Float noise on a bound, in cents.
NOISE = 0.01

# Who proved a pure choice of orders.
BY_ORDERS = "search over the orders"

ByProgram = Callable[[Problem, Choice | None], Plan]
Spent = Callable[[], bool]


@dataclass(frozen=True)
class Seen:
    """What was found before the solver is asked: a bound in cents, a first plan with its cost, and narrower problems.

    `narrower` gives a problem for a ceiling: every plan of at most that cost is a plan of it, at the same cost.
    """

    bound: float
    first: tuple[Choice, int] | None
    narrower: Callable[[float], Problem | None]


def looked_ahead(problem: Problem, ahead: Ahead, watch: Watch, ties: bool, by_program: ByProgram) -> Plan:
    """The plan of a problem, the same as by the program alone.

    Parameters
    ----------
    ties : settle which of several plans at the same cost it is
    by_program : the plan of a problem by the program, from a first plan where there is one
    """

    def spent() -> bool:
        return watch.interrupted or (watch.seconds is not None and watch.spent >= watch.seconds)

    if not (ahead.bound or ahead.facility) or len(problem.lines) < ahead.least_lines:
        return by_program(problem, None)
    try:
        arrays = _arrays(problem)
        if arrays is None:
            return by_program(problem, None)
        if ahead.facility:
            answered = _by_orders(problem, arrays, watch, ties, spent, by_program)
            if answered is not None:
                return answered
        seen = _seen(*arrays, spent) if ahead.bound else None
    except KeyboardInterrupt:
        watch.interrupted = True
        return Plan(problem, Status.NOTHING_FOUND, proof=watch.proof(""))
    if seen is None:
        return by_program(problem, None)
    return _narrower_first(problem, seen, ahead, watch, spent, by_program)


def _narrower_first(
    problem: Problem, seen: Seen, ahead: Ahead, watch: Watch, spent: Spent, by_program: ByProgram
) -> Plan:
    """The plan by the program, of narrower problems first, where those are asked for."""
    first = seen.first if ahead.start else None
    for ceiling in _ceilings(seen) if ahead.fixing else ():
        narrower = seen.narrower(ceiling)
        if narrower is None:
            continue
        start = first[0] if first is not None and first[1] <= ceiling else None
        plan = by_program(narrower, start)
        answered = _of_the_whole(problem, plan, ceiling, seen)
        if answered is None and plan.status == Status.PROVEN and plan.choice is not None:
            # Dearer than the ceiling, but a plan: with its cost as the ceiling nothing is lost.
            narrower = seen.narrower(plan.cost)
            if narrower is not None and not spent():
                again = by_program(narrower, plan.choice if ahead.start else None)
                answered = _of_the_whole(problem, again, plan.cost, seen)
        if answered is not None:
            return answered
        if spent():
            return _unproven(problem, seen, plan, watch)
    return by_program(problem, first[0] if first else None)


def _unproven(problem: Problem, seen: Seen, plan: Plan, watch: Watch) -> Plan:
    """What there is when the time is up: the cheaper of the first plan and one that was found, with the bound."""
    known = [(choice, cost) for choice, cost in [seen.first or (None, 0)] if choice is not None]
    if plan.choice is not None:
        known.append((plan.choice, plan.cost))
    if not known:
        return Plan(problem, Status.NOTHING_FOUND, proof=watch.proof(plan.proof.solver))
    choice, cost = min(known, key=lambda one: one[1])
    bound = min(cost, math.ceil(seen.bound - NOISE))
    proof = watch.proof(plan.proof.solver, bound, (cost - bound) / max(1, abs(cost)))
    return plan_of(problem, choice, Status.BEST_FOUND, proof)


def _ceilings(seen: Seen) -> Iterator[float]:
    """Costs below which to look, cheapest problem first; the last is that of a plan, where one is known."""
    near = math.floor(seen.bound + NEAR * abs(seen.bound) + 1)
    if seen.first is None or seen.first[1] > near:
        yield near
    if seen.first is not None:
        yield seen.first[1]


def _of_the_whole(problem: Problem, plan: Plan, ceiling: float, seen: Seen) -> Plan | None:
    """A narrower problem's plan as that of the whole; None where it says nothing of the whole.

    Every plan that the narrower problem lacks costs more than the ceiling. So a plan proven in it at no more than the ceiling is
    proven, and all its equals were there when ties were settled.
    """
    if plan.choice is None:
        return None
    if plan.status == Status.PROVEN and plan.cost <= ceiling:
        return replace(plan, problem=problem)
    if plan.status != Status.BEST_FOUND:
        return None
    # The time is up. Plans outside cost at least a cent more than the ceiling.
    if seen.first is not None and seen.first[1] < plan.cost:
        plan = plan_of(problem, seen.first[0], Status.BEST_FOUND, plan.proof)
    inside = -math.inf if plan.proof.bound is None else float(plan.proof.bound)
    bound = max(math.ceil(seen.bound - NOISE), min(inside, math.floor(ceiling) + 1))
    bound = min(bound, plan.cost)
    gap = (plan.cost - bound) / max(1, abs(plan.cost))
    return replace(plan, problem=problem, proof=replace(plan.proof, bound=int(bound), gap=gap))


def _arrays(problem: Problem) -> tuple[Market, Together] | None:
    from sourcing.program.ahead.cheapest import Together
    from sourcing.program.ahead.market import NoBound, market_of

    try:
        market = market_of(problem)
        return market, Together(market)
    except NoBound:
        return None


def _by_orders(
    problem: Problem, arrays: tuple[Market, Together], watch: Watch, ties: bool, spent: Spent, by_program: ByProgram
) -> Plan | None:
    """The plan of a pure choice of orders; None where it is none, or the program has to answer all the same."""
    from sourcing.program.ahead.facility import settle_orders
    from sourcing.program.ahead.fixing import narrowed

    settled = settle_orders(*arrays, ties, spent)
    if settled is None:
        return None
    narrower = narrowed(arrays[0], settled.left)
    choice, cents = settled.choice, settled.cents
    if narrower is None or breaches(narrower, choice) or price(problem, choice)[0].of(problem.minimise) != cents:
        return None
    if settled.bound < cents:
        gap = (cents - settled.bound) / max(1, abs(cents))
        return plan_of(problem, choice, Status.BEST_FOUND, watch.proof(BY_ORDERS, settled.bound, gap))
    if settled.sole or not ties:
        return plan_of(problem, choice, Status.PROVEN, watch.proof(BY_ORDERS, cents, 0.0))
    if not settled.every:
        return None
    plan = by_program(narrower, choice)
    if plan.choice is None or plan.status != Status.PROVEN or plan.cost != cents:
        return None
    return replace(plan, problem=problem, proof=replace(plan.proof, solver=f"{BY_ORDERS}, {plan.proof.solver}"))


def _seen(market: Market, together: Together, spent: Spent) -> Seen | None:
    """The bound, the first plan and what they rule out; None where no bound is to be had."""
    from sourcing.program.ahead.dual import ascend, first_prices
    from sourcing.program.ahead.first_plan import first_plan
    from sourcing.program.ahead.fixing import left_below, narrowed

    prices = first_prices(market)
    bounds = []
    for wait in reversed(market.days):
        bound = ascend(market, together, wait, prices, math.inf, FIRST_STEPS, math.inf)
        bounds.append(bound)
        if not math.isfinite(bound.cents):
            return None
        prices = bound.prices
        if spent():
            return None
    first = first_plan(market, together, bounds)
    if first is not None:
        cost = float(first[1])
        bounds = [
            bound if bound.cents > cost else ascend(market, together, bound.wait, bound.prices, cost, MORE_STEPS, cost)
            for bound in bounds
        ]
    least = min(bound.cents for bound in bounds)

    def narrower(ceiling: float) -> Problem | None:
        return narrowed(market, left_below(market, together, bounds, ceiling))

    return Seen(least, first, narrower)
