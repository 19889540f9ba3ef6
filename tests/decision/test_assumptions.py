"""The values at which the choice turns, against plans made anew at each value."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from program.tiny import sold, tiny

from decision.jobs import cost_only, possible_problems
from sourcing.decision.assumptions import Assumption, Carried, assumptions, carried_by
from sourcing.decision.routes import routes
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.supposed import at_comeback_rate, at_core_recovery, at_day_cost, at_exchange_rate, at_labour_cost

# Amounts are rounded piece by piece, so two lines may cross back by this many cents about where they meet.
ROUNDING = 3


def carried(problem: Problem) -> Iterator[tuple[Plan, Carried]]:
    plan = cost_only(problem)
    weighed = tuple(route.plan for route in routes(problem, cost_only, plan) if route.plan.choice)
    for one in assumptions(problem, weighed):
        yield plan, carried_by(one, plan, cost_only)


def best_with(plan: Plan, problem: Problem) -> int:
    """The cost of the best plan that holds a plan's combination."""
    assert plan.choice is not None
    for position, design in plan.choice.combination.items():
        problem = problem.holding(position, design)
    return cost_only(problem).cost


def between(one: Assumption, first: Decimal, last: Decimal, parts: int) -> list[Decimal]:
    steps = int((last - first) / one.step)
    return [first + one.step * (steps * n // parts) for n in range(1, parts)]


@pytest.mark.parametrize("seed", [*range(600, 610), 1075, 1112])
def test_the_choice_stays_up_to_the_turning_value_and_not_beyond(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        for plan, told in carried(problem):
            one = told.assumption
            for turning, end, side in ((told.below, one.low, -1), (told.above, one.high, 1)):
                if turning is None:
                    for value in (*between(one, one.now, end, 4), end):
                        there = one.at(value)
                        assert best_with(plan, there) <= cost_only(there).cost + ROUNDING, (one.kind, value)
                    continue
                there = one.at(turning.value)
                assert cost_only(there).cost == turning.plan.cost < best_with(plan, there)
                nearer = turning.value - side * one.step
                for value in (*between(one, one.now, nearer, 3), nearer):
                    if (value - one.now) * side > 0:
                        here = one.at(value)
                        assert best_with(plan, here) <= cost_only(here).cost + ROUNDING, (one.kind, value)


def two_blocks(**shop: object) -> Problem:
    """A used block-1 for 60.00 that comes back at 20 %, a new block-2 for 90.00 that never does; a comeback costs 100.00."""
    return tiny(["block"], ["block-1", "block-2"],
                [sold("s", "A", "block-1", 60, comeback_rate="0.2"), sold("t", "B", "block-2", 90)],
                shop={"comeback_cost": 100, **shop})  # fmt: skip


def test_a_comeback_rate_turns_the_choice_where_both_cost_the_same() -> None:
    # 60 + 100 r > 90 from r = 0.301 on, a step of a tenth of a percent above the meeting at 0.300.
    told = {one.assumption.of: one for _, one in carried(two_blocks())}
    assert told["new", "block-1"].above is not None
    assert told["new", "block-1"].above.value == Decimal("0.301")
    assert told["new", "block-1"].below is None
    assert told["new", "block-2"].above is None  # it would only get dearer


def test_what_is_not_minimised_is_no_assumption_of_the_decision() -> None:
    problem = tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 60)], shop={"comeback_cost": 100},
                   job={"minimise": "landed"})  # fmt: skip
    assert [one.assumption.kind for _, one in carried(problem)] == []


def test_each_assumption_changes_its_own_number_only() -> None:
    problem = two_blocks()
    before = cost_only(problem).totals
    assert at_day_cost(problem, Decimal("9.99")).shop.day_cents == 999
    assert at_labour_cost(problem, Decimal("50")).shop.hour_costs == 50
    assert at_core_recovery(problem, "s", Decimal("0.5")).terms["s"].core_credit(11) == 6  # 5.5, halves up
    assert cost_only(at_comeback_rate(problem, "new", "block-1", Decimal("0.25"))).totals.comebacks == 25_00
    assert before.comebacks == 20_00
    with pytest.raises(KeyError):
        at_core_recovery(problem, "nobody", Decimal(1))
    assert at_exchange_rate(problem, "XTS", Decimal(2)).lines == problem.lines  # nobody sells in it
