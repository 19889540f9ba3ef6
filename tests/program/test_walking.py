"""The walk through the positions of a book of tables, against every combination of small books."""

from __future__ import annotations

from itertools import product
from math import log, prod
from random import Random

import numpy as np
import pytest
from benchmarks.scale import sealed

from sourcing.problem import Problem
from sourcing.program.ahead import stages as stages_module
from sourcing.program.ahead.course import breadth, course_of
from sourcing.program.ahead.floor import floor_of
from sourcing.program.ahead.messages import Messages, messages_of
from sourcing.program.ahead.outlook import outlooks
from sourcing.program.ahead.stages import BARRED, Stages, stages_of
from sourcing.program.ahead.tables import risen
from sourcing.program.ahead.walking import least_with, walk

SEEDS = range(12)
ALL = int(BARRED) // 2


def small(seed: int) -> Problem:
    return sealed(positions=7, tables=6, rows=90, suppliers=4, seed=seed, reach=3, spread=(0.3, 0.7))


def every(problem: Problem) -> dict[tuple[str, ...], int]:
    """What each valid combination of a book costs at its floors: by going through all of them."""
    assert problem.fitting is not None
    floor = floor_of(problem)
    domains = problem.fitting.domains
    costs = {}
    for values in product(*domains.values()):
        held = dict(zip(domains, values, strict=True))
        if all(table.admits(held) for table in problem.fitting.tables):
            costs[values] = sum(floor.least[position][design] for position, design in held.items())
    return costs


def shifted(problem: Problem) -> Messages:
    assert problem.fitting is not None
    messages = messages_of(problem.fitting, floor_of(problem).least)
    risen(messages)
    return messages


def walked(seed: int) -> tuple[Messages, Stages, dict[tuple[str, ...], int]]:
    problem = small(seed)
    messages = shifted(problem)
    return messages, stages_of(messages), every(problem)


@pytest.mark.parametrize("cells", [1, 40, 10**6])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_whole_walk_finds_the_cheapest_combination(seed: int, cells: int) -> None:
    _, stages, costs = walked(seed)
    found = walk(stages, outlooks(stages, cells), ALL)
    assert found is not None and found.cost is not None
    assert stages.base + found.cost == stages.base + found.bound == min(costs.values())


@pytest.mark.parametrize("spare", [0, 3, 40])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_least_with_each_design_is_that_of_brute_force_up_to_the_cutoff(seed: int, spare: int) -> None:
    messages, stages, costs = walked(seed)
    most = min(costs.values()) + spare * 100 * 1024
    found = walk(stages, outlooks(stages, 30), most - stages.base)
    assert found is not None
    told = least_with(stages, found)
    for n, designs in enumerate(messages.domains.values()):
        for d, design in enumerate(designs):
            least = min((cost for values, cost in costs.items() if values[n] == design), default=ALL)
            if least <= most:
                assert stages.base + told[n][d] == least
            else:
                assert stages.base + told[n][d] > most


@pytest.mark.parametrize("seed", SEEDS)
def test_below_the_least_cost_a_walk_finds_nothing(seed: int) -> None:
    _, stages, costs = walked(seed)
    spare = min(costs.values()) - 1 - stages.base
    found = walk(stages, outlooks(stages, 50), spare)
    assert found is not None and found.cost is None and found.bound > spare


@pytest.mark.parametrize("width", [1, 3, 20])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_narrow_walk_tells_a_bound_and_no_combination_that_is_none(seed: int, width: int) -> None:
    _, stages, costs = walked(seed)
    found = walk(stages, outlooks(stages, 10), ALL, width)
    assert found is not None
    assert stages.base + found.bound <= min(costs.values())
    assert found.cost is None or stages.base + found.cost in costs.values()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_outlook_is_never_above_what_is_still_to_come(seed: int) -> None:
    _, stages, costs = walked(seed)
    for cells in (1, 20, 10**6):
        first = outlooks(stages, cells)[0]
        assert first.over == ()
        assert stages.base + int(first.cost) <= min(costs.values())
        if cells == 10**6:
            assert stages.base + int(first.cost) == min(costs.values())


@pytest.mark.parametrize("seed", SEEDS)
def test_a_table_of_too_many_cells_is_left_out_and_the_bound_still_holds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = small(seed)
    messages, costs = shifted(problem), every(problem)
    cells = [prod(len(messages.domains[p]) for p in factor.table.positions) for factor in messages.factors]
    monkeypatch.setattr(stages_module, "MOST_CELLS", max(cells) - 1)
    stages = stages_of(messages)
    counted = sum(len(factor.table.positions) for factor in messages.factors)
    assert sum(map(len, stages.added)) < counted
    found = walk(stages, outlooks(stages, 100), ALL)
    assert found is not None and found.cost is not None
    assert stages.base + found.cost <= min(costs.values())


def test_a_walk_of_too_many_steps_or_out_of_time_is_given_up() -> None:
    _, stages, _ = walked(1)
    outlook = outlooks(stages, 1)
    assert walk(stages, outlook, ALL, most=5) is None
    assert walk(stages, outlook, ALL, spent=lambda: True) is None


def test_places_past_counting_in_one_number_are_told_apart() -> None:
    """Forty open positions of ten designs: their codes do not fit a whole number of 64 bits."""
    sizes = [10] * 40 + [2]
    own = [np.arange(size, dtype=np.int64) * 7 for size in sizes]
    order = list(range(41))
    stages = Stages(order, sizes, [40] * 41, own, [[] for _ in sizes], 0)
    found = walk(stages, outlooks(stages, 100), 7 * 3)
    assert found is not None and found.cost == 0
    assert len(found.steps[39].cost) == sum(_ways(40, most) for most in range(4))  # sums of nought to three sevens


def _ways(positions: int, most: int) -> int:
    """Ways to write a number as an ordered sum of so many whole numbers."""
    return prod(range(positions, positions + most)) // prod(range(1, most + 1))


@pytest.mark.parametrize("seed", SEEDS)
def test_an_order_holds_every_position_once_and_is_no_broader_than_the_books(seed: int) -> None:
    random = Random(seed)
    sizes = [random.randint(1, 9) for _ in range(30)]
    at = random.sample(range(30), 30)
    scopes = [[at[n], at[n + 1], at[random.randrange(n + 2, min(30, n + 5))]] for n in range(27)]
    order = course_of(sizes, scopes)
    assert sorted(order) == list(range(30))
    near = [{m for scope in scopes if n in scope for m in scope if m != n} for n in range(30)]
    weights = [log(size) for size in sizes]
    assert breadth(order, near, weights) <= breadth(range(30), near, weights)
    assert breadth(order, near, weights) <= breadth(at, near, weights) + log(100)


def test_the_breadth_of_a_chain_is_that_of_its_neighbours() -> None:
    """Three positions of 2, 3 and 5 designs in a chain: 2, then 2 x 3, then 3 x 5 combinations are open: 23 in all."""
    weights = [log(2), log(3), log(5)]
    assert breadth([0, 1, 2], [{1}, {0, 2}, {1}], weights) == pytest.approx(log(2 + 6 + 15))
