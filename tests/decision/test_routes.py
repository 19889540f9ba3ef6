"""Routes: the best one costs what the quote costs, and the causes of a difference add up to it."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from decision.jobs import cost_only, possible_problems
from sourcing.decision.frontier import by_ready_day
from sourcing.decision.routes import causes, compare, routes


@pytest.mark.parametrize("seed", range(330, 338))
def test_the_best_route_costs_what_the_quote_costs(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        found = routes(problem, cost_only)
        assert {route.design for route in found} == set(problem.family.holds[problem.family.lead.code])
        assert found[0].plan.cost == cost_only(problem).cost
        lead = problem.family.lead.code
        for route in found:
            if route.plan.choice is None:
                assert route.reasons
            else:
                assert route.plan.choice.combination[lead] == route.design
                assert sum(causes(route.plan, found[0].plan).values()) == route.plan.cost - found[0].plan.cost


@pytest.mark.parametrize("seed", range(340, 346))
def test_nobody_changes_for_less_than_it_is_worth(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        worth = Decimal(100_000)
        generous = replace(problem, shop=problem.shop.model_copy(update={"worth_changing": worth}))
        found = compare(generous, cost_only)
        exact = [route for route in found.routes if route.exact and route.plan.choice is not None]
        assert found.recommended == (exact or list(found.routes))[0].design
        assert compare(problem, cost_only).recommended == found.routes[0].design


@pytest.mark.parametrize("seed", range(350, 356))
def test_every_point_of_the_frontier_is_cheaper_than_all_sooner_ones(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        points = by_ready_day(problem, cost_only)
        assert points[-1][1].cost == cost_only(problem).cost
        waits = [max((p.line.workdays for p in plan.choice.purchases), default=0) for _, plan in points if plan.choice]
        assert waits == sorted(set(waits))
        for (_, sooner), (_, later) in itertools.pairwise(points):
            assert later.cost < sooner.cost
