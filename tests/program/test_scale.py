"""What goes ahead of the program in a large book: bounds from its tables, and what they let go; against plain answers."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from benchmarks.scale import sealed
from decision.jobs import possible_problems

from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, floor_of
from sourcing.program.ahead.tables import Tables
from sourcing.program.answer import answer

SHOPS = range(700, 712)
BOOKS = range(6)


def same(one: Plan, other: Plan) -> bool:
    """The whole answer, to the line."""
    return (one.choice, one.totals, one.orders) == (other.choice, other.totals, other.orders)


def small(seed: int) -> Problem:
    return sealed(positions=9, tables=8, rows=120, suppliers=4, seed=seed, reach=4, spread=(0.4, 0.7))


@pytest.mark.parametrize("seed", BOOKS)
def test_what_is_let_go_of_a_book_of_tables_changes_no_answer(seed: int) -> None:
    problem = small(seed)
    plain = answer(problem)
    tables = Tables(problem)
    assert tables.bound <= plain.cost
    for spare in (0, 1, 500, 10**7):
        cut = tables.up_to(plain.cost + spare)
        assert cut is not None
        assert same(answer(cut), plain), (seed, spare)


@pytest.mark.parametrize("seed", BOOKS)
def test_below_the_least_cost_nothing_is_left_that_costs_so_little(seed: int) -> None:
    problem = small(seed)
    least = answer(problem, ties=False).cost
    cut = Tables(problem).up_to(least - 1)
    assert cut is None or answer(cut, ties=False).choice is None or answer(cut, ties=False).cost >= least


@pytest.mark.parametrize("minimise", ["cash", "landed", "whole"])
@pytest.mark.parametrize("seed", SHOPS)
def test_what_is_let_go_of_a_random_shop_changes_no_answer(seed: int, minimise: str, tmp_path: Path) -> None:
    """Kits, packs, cores, parts in hand, shelves, tasks: the floor of a plan lies under its cost, whatever it holds."""
    for problem in possible_problems(seed, tmp_path):
        head = problem.job.job.model_copy(update={"minimise": minimise})
        asked = replace(problem, job=problem.job.model_copy(update={"job": head}))
        plain = answer(asked)
        floor = floor_of(asked)
        assert plain.choice is not None
        held = sum(floor.least[position][design] for position, design in plain.choice.combination.items())
        assert floor.always + held <= plain.cost * PARTS_OF_A_CENT
        cut = Tables(asked).up_to(plain.cost)
        assert cut is not None
        assert same(answer(cut), plain), seed


@pytest.mark.parametrize("seed", BOOKS)
def test_every_row_that_goes_costs_more_than_the_cutoff_by_brute_force(seed: int) -> None:
    """All combinations of a small book by their floors alone: none at or below the cutoff loses a design or a row."""
    problem = sealed(positions=5, tables=4, rows=60, suppliers=3, seed=seed, reach=3, spread=(0.3, 0.6))
    assert problem.fitting is not None
    floor = floor_of(problem)
    valid = [
        dict(zip(problem.domains, values, strict=True))
        for values in product(*problem.domains.values())
        if all(table.admits(dict(zip(problem.domains, values, strict=True))) for table in problem.fitting.tables)
    ]
    costs = [floor.always + sum(floor.least[p][d] for p, d in one.items()) for one in valid]
    cutoff = sorted(costs)[len(costs) // 4] // PARTS_OF_A_CENT
    cut = Tables(problem).up_to(cutoff)
    assert cut is not None and cut.fitting is not None
    kept = {tuple(one.values()) for one in cut.fitting.combinations()}
    for one, cost in zip(valid, costs, strict=True):
        assert cost > (cutoff + 1) * PARTS_OF_A_CENT - 1 or tuple(one.values()) in kept
    assert len(kept) < len(valid)


def test_the_planted_combination_of_a_generated_book_is_valid() -> None:
    problem = sealed(positions=40, tables=45, rows=900, seed=3)
    assert problem.blocked == () and problem.fitting is not None
    assert problem.fitting.first() is not None
