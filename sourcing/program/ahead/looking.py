"""From a problem to its plan with the solver asked last: facility proof, bound, fixing, first plan, program."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sourcing.breaches import breaches
from sourcing.plan import Choice, Plan, Status, plan_of, price
from sourcing.problem import Problem
from sourcing.program.ahead import Ahead
from sourcing.program.ties import Settling

if TYPE_CHECKING:
    from sourcing.program.ahead.cheapest import Together
    from sourcing.program.ahead.equals import Pattern
    from sourcing.program.ahead.market import Market
    from sourcing.program.answer import Watch

# Steps towards the bound, for each wait: a first look, and a second once a plan's cost is known.
FIRST_STEPS, MORE_STEPS = 40, 60
# More steps than that, one for each so many lines: the solver takes the longer the more are left.
LINES_A_STEP, MOST_STEPS = 50, 200
# A first plan this near the bound is taken as the ceiling; where it is further off, plans this near are looked for first.
NEAR = 0.01
# Of a large problem plans much nearer are looked for before that: what is left of it is small, and gives a good plan.
NEARER = (0.0005, 0.002)
# Float noise on a bound, in cents.
NOISE = 0.01

# Who proved a pure choice of orders.
BY_ORDERS = "search over the orders"

ByProgram = Callable[[Problem, Choice | None, Settling | None], Plan]
Spent = Callable[[], bool]


@dataclass(frozen=True)
class Seen:
    """What was found before the solver is asked: a bound in cents, a first plan with its cost, and narrower problems.

    `narrower` gives a problem for a ceiling: every plan of at most that cost is a plan of it, at the same cost. `under`: the
    same, of the plans with one of some patterns of orders.
    """

    bound: float
    first: tuple[Choice, int] | None
    narrower: Callable[[float], Problem | None]
    under: Callable[[Sequence[Pattern], float], Problem | None]


def looked_ahead(
    problem: Problem, ahead: Ahead, watch: Watch, settling: Settling | None, by_program: ByProgram
) -> Plan:
    """The plan of a problem, the same as by the program alone.

    Parameters
    ----------
    settling : settles which of several plans at the same cost it is; None where any of them will do
    by_program : the plan of a problem by the program, from a first plan where there is one, its ties settled so
    """

    def spent() -> bool:
        return watch.interrupted or (watch.seconds is not None and watch.spent >= watch.seconds)

    if not (ahead.bound or ahead.facility) or len(problem.lines) < ahead.least_lines:
        return by_program(problem, None, settling)
    try:
        arrays = _arrays(problem)
        if arrays is None:
            return by_program(problem, None, settling)
        if ahead.facility:
            answered = _by_orders(problem, arrays, watch, settling, spent, by_program)
            if answered is not None:
                return answered
        seen = _seen(*arrays, spent) if ahead.bound else None
    except KeyboardInterrupt:
        watch.interrupted = True
        return Plan(problem, Status.NOTHING_FOUND, proof=watch.proof(""))
    if seen is None:
        return by_program(problem, None, settling)
    return _narrower_first(problem, seen, ahead, watch, settling, spent, by_program)


def _narrower_first(
    problem: Problem,
    seen: Seen,
    ahead: Ahead,
    watch: Watch,
    settling: Settling | None,
    spent: Spent,
    by_program: ByProgram,
) -> Plan:
    """The plan by the program, of narrower problems first, where those are asked for."""
    first = seen.first if ahead.start else None
    if ahead.equals and settling is not None:
        by_program = _orders_before_ties(seen, ahead, spent, by_program)
    for ceiling in _ceilings(seen, len(problem.lines) >= ahead.many_lines) if ahead.fixing else ():
        narrower = seen.narrower(ceiling)
        if narrower is None:
            continue
        start = first[0] if first is not None and first[1] <= ceiling else None
        # A large problem's ties wait until its cost is known: most of what is left then goes.
        large = len(problem.lines) >= ahead.many_lines and ahead.equals
        plan = by_program(narrower, start, None if large else settling)
        answered = _of_the_whole(problem, plan, ceiling, seen)
        unsettled = large and settling is not None
        if (answered is None or unsettled) and plan.status == Status.PROVEN and plan.choice is not None:
            # Dearer than the ceiling, but a plan: with its cost as the ceiling nothing is lost.
            narrower = seen.narrower(plan.cost)
            if narrower is not None and not spent():
                again = by_program(narrower, plan.choice if ahead.start else None, settling)
                answered = _of_the_whole(problem, again, plan.cost, seen)
            elif answered is not None:
                answered = replace(answered, proof=replace(answered.proof, settled=False))
        if answered is not None:
            return answered
        if spent():
            return _unproven(problem, seen, plan, watch)
    return by_program(problem, first[0] if first else None, settling)


def _orders_before_ties(seen: Seen, ahead: Ahead, spent: Spent, by_program: ByProgram) -> ByProgram:
    """The program asked so that in a large problem ties are settled among what is left once their orders are known."""
    from sourcing.program.ahead.equals import Patterns

    def answered(problem: Problem, start: Choice | None, settling: Settling | None) -> Plan:
        if settling is None or len(problem.lines) < ahead.many_lines:
            return by_program(problem, start, settling)
        patterns = Patterns(lambda found, cents: _few(seen.under(found, cents), ahead))
        plan = by_program(problem, start, patterns)
        if plan.status != Status.PROVEN or plan.choice is None:
            return plan
        left = seen.under(patterns.found, plan.cost) if patterns.every else seen.narrower(plan.cost)
        settled = None
        if left is not None and _few(left, ahead) and not spent():
            settled = by_program(left, plan.choice, settling)
        if settled is None or settled.status != Status.PROVEN or settled.cost != plan.cost:
            return replace(plan, proof=replace(plan.proof, settled=False))
        return settled

    return answered


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


def _ceilings(seen: Seen, large: bool) -> Iterator[float]:
    """Costs below which to look, cheapest problem first; the last is that of a plan, where one is known."""
    for share in (*NEARER, NEAR) if large else (NEAR,):
        near = math.floor(seen.bound + share * abs(seen.bound) + 1)
        if seen.first is None or seen.first[1] > near:
            yield near
    if seen.first is not None:
        yield seen.first[1]


def _few(problem: Problem | None, ahead: Ahead) -> bool:
    """Whether so little is left that ties are settled; where more is, that would take longer than all the rest."""
    return problem is not None and len(problem.lines) < ahead.few_lines


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
    problem: Problem,
    arrays: tuple[Market, Together],
    watch: Watch,
    settling: Settling | None,
    spent: Spent,
    by_program: ByProgram,
) -> Plan | None:
    """The plan of a pure choice of orders; None where it is none, or the program has to answer all the same."""
    from sourcing.program.ahead.facility import settle_orders
    from sourcing.program.ahead.fixing import narrowed

    settled = settle_orders(*arrays, settling is not None, spent)
    if settled is None:
        return None
    narrower = narrowed(arrays[0], settled.left)
    choice, cents = settled.choice, settled.cents
    if narrower is None or breaches(narrower, choice) or price(problem, choice)[0].of(problem.minimise) != cents:
        return None
    if settled.bound < cents:
        gap = (cents - settled.bound) / max(1, abs(cents))
        return plan_of(problem, choice, Status.BEST_FOUND, watch.proof(BY_ORDERS, settled.bound, gap))
    if settled.sole or settling is None:
        return plan_of(problem, choice, Status.PROVEN, watch.proof(BY_ORDERS, cents, 0.0))
    if not settled.every:
        return None
    plan = by_program(narrower, choice, settling)
    if plan.choice is None or plan.status != Status.PROVEN or plan.cost != cents:
        return None
    return replace(plan, problem=problem, proof=replace(plan.proof, solver=f"{BY_ORDERS}, {plan.proof.solver}"))


def _seen(market: Market, together: Together, spent: Spent) -> Seen | None:
    """The bound, the first plan and what they rule out; None where no bound is to be had."""
    from sourcing.program.ahead.dual import ascend, first_prices
    from sourcing.program.ahead.equals import left_of
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
        steps = min(MOST_STEPS, MORE_STEPS + len(market.lines) // LINES_A_STEP)
        bounds = [
            bound if bound.cents > cost else ascend(market, together, bound.wait, bound.prices, cost, steps, cost)
            for bound in bounds
        ]
    least = min(bound.cents for bound in bounds)

    def narrower(ceiling: float) -> Problem | None:
        return narrowed(market, left_below(market, together, bounds, ceiling))

    def under(patterns: Sequence[Pattern], ceiling: float) -> Problem | None:
        return left_of(market, together, bounds, patterns, ceiling, spent)

    return Seen(least, first, narrower, under)
