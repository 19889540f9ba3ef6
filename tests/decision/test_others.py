"""Other plans than the cheapest, against asking for every combination one by one."""

from __future__ import annotations

from itertools import islice, pairwise
from pathlib import Path

import pytest

from decision.jobs import cost_only, possible_problems
from sourcing.decision.frontier import by_total, most_durable, soonest
from sourcing.decision.others import asks, best, with_part
from sourcing.problem import Problem

MOST_COMBINATIONS = 40


def cost_of_each(problem: Problem) -> list[int]:
    """The best cost of every combination that has a plan, cheapest first."""
    assert problem.fitting is not None
    costs = []
    for combination in problem.fitting.combinations():
        held = problem
        for position, design in combination.items():
            held = held.holding(position, design)
        plan = cost_only(held)
        if plan.choice is not None:
            costs.append(plan.cost)
    return sorted(costs)


@pytest.mark.parametrize("seed", range(400, 410))
def test_the_next_best_plans_come_in_order_and_none_is_left_out(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        assert problem.fitting is not None
        if len(list(islice(problem.fitting.combinations(), MOST_COMBINATIONS))) == MOST_COMBINATIONS:
            continue
        plans = list(islice(best(problem, cost_only), 6))
        assert [plan.cost for plan in plans] == cost_of_each(problem)[: len(plans)]
        told = [tuple(plan.choice.combination.items()) for plan in plans if plan.choice]
        assert len(set(told)) == len(plans)


@pytest.mark.parametrize("seed", range(420, 426))
def test_a_losing_part_wins_at_its_ask_and_not_a_coin_above(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        plan = cost_only(problem)
        for ask in asks(problem, plan, cost_only):
            if ask.wins_at_minor is None:
                cheapest = with_part(problem.priced(ask.offer.id, 1), ask.offer.id, cost_only)
                assert cheapest.choice is None or cheapest.cost >= cost_only(problem.priced(ask.offer.id, 1)).cost
                continue
            won = cost_only(problem.priced(ask.offer.id, ask.wins_at_minor))
            assert won.cost < plan.cost
            if ask.wins_at_minor < ask.offer.steps[0].minor:
                assert cost_only(problem.priced(ask.offer.id, ask.wins_at_minor + 1)).cost >= plan.cost


@pytest.mark.parametrize("total", ["comebacks", "cash"])
@pytest.mark.parametrize("seed", range(430, 434))
def test_less_of_a_total_is_bought_with_more_cost(seed: int, total: str, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        points = by_total(problem, total, cost_only)
        assert points[0].cost == cost_only(problem).cost
        for one, other in pairwise(points):
            assert other.cost > one.cost
            assert other.totals.of(total) < one.totals.of(total)
        assert cost_only(problem.below(total, points[-1].totals.of(total) - 1)).choice is None


@pytest.mark.parametrize("seed", range(440, 444))
def test_the_ends_of_the_frontiers_are_the_quotes_own_options(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        quick, lasting = soonest(problem, cost_only), most_durable(problem, cost_only)
        waits = [p.line.workdays for p in quick.choice.purchases] if quick.choice else []
        if waits:
            assert cost_only(problem.within(max(waits) - 1)).choice is None
        assert lasting.totals.comebacks == by_total(problem, "comebacks", cost_only)[-1].totals.comebacks
