"""What goes ahead of the program in a large book: bounds from its tables, and what they let go; against plain answers."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path
from random import Random
from typing import Any

import pytest
from benchmarks.scale import sealed
from decision.jobs import possible_problems

from program.tiny import sold, tiny
from sourcing.breaches import breaches
from sourcing.plan import Plan, Status
from sourcing.problem import Problem
from sourcing.program.ahead import NOTHING_AHEAD
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, floor_of
from sourcing.program.ahead.tables import Tables
from sourcing.program.answer import Watch, answer, answer_within

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


def with_terms(seed: int) -> Problem:
    """A small book whose suppliers charge an order and freight, waived from a sum on or never, and send in one to four days."""
    random = Random(seed)
    terms = {f"s{n}": _terms(random) for n in range(4)}
    shape = {"positions": 9, "tables": 8, "rows": 120, "suppliers": 4, "reach": 4}
    return sealed(**shape, seed=seed, spread=(0.4, 0.7), suppliers_terms=terms, day_cost=random.choice((0, 2)))


def _terms(random: Random) -> dict[str, Any]:
    freight = {"mode": "ground", "days": random.randint(1, 4), "flat": random.randint(3, 30)}
    if random.random() < 0.5:
        freight["free_over"] = random.choice((60, 300, 900))
    return {"order_fee": random.choice((0, 4)), "freight": [freight]}


@pytest.mark.parametrize("seed", range(12))
def test_what_every_plan_up_to_a_cost_pays_besides_is_counted_and_changes_no_answer(seed: int) -> None:
    problem = with_terms(seed)
    plain = answer(problem, ahead=NOTHING_AHEAD)
    tables = Tables(problem)
    before = tables.bound
    tables.charge(plain.cost)
    assert before <= tables.bound <= plain.cost
    cut = tables.up_to(plain.cost)
    assert cut is not None
    assert same(answer(cut), plain)


def test_a_fee_that_no_plan_avoids_is_counted() -> None:
    counted = 0
    for seed in range(12):
        problem = with_terms(seed)
        tables = Tables(problem)
        before = tables.bound
        tables.charge(answer(problem, ties=False).cost)
        counted += tables.bound > before
    assert counted >= 6


def test_an_order_and_a_wait_that_no_plan_avoids_are_counted_to_the_cent() -> None:
    """The body comes from one supplier alone, in four days; the blocks from either: 150 + 60, freight 12, four days at 7."""
    slow = {"freight": [{"mode": "ground", "days": 4, "flat": 12}]}
    quick = {"freight": [{"mode": "air", "days": 1, "flat": 9}]}
    offers = [sold("slow", "B1", "body-1", 60), sold("slow", "K1", "block-1", 150), sold("quick", "K2", "block-2", 148)]
    rows = [["block-1", "body-1"], ["block-2", "body-1"]]
    problem = tiny(
        ["block", "body"],
        ["block-1", "block-2", "body-1"],
        offers,
        rules=[{"allow": {"positions": ["block", "body"], "rows": rows}}],
        suppliers={"slow": slow, "quick": quick},
        shop={"day_cost": 7},
    )
    plan = answer(problem)
    workdays = max(line.workdays for line in problem.lines)
    assert plan.cost == 15000 + 6000 + 1200 + 700 * workdays
    tables = Tables(problem)
    assert tables.bound == 14800 + 6000
    tables.charge(plan.cost)
    assert tables.bound == 14800 + 6000 + 1200 + 700 * workdays


@pytest.mark.parametrize(("free_over", "freight"), [(400, 12), (200, 0)])
def test_freight_is_counted_where_no_plan_of_the_cost_buys_for_the_sum_that_waives_it(
    free_over: int, freight: int
) -> None:
    """Block and body, 150 + 60, from one supplier: a plan for 222 never reaches 400, and reaches 200 at once."""
    terms = {"freight": [{"mode": "ground", "days": 1, "flat": 12, "free_over": free_over}]}
    problem = tiny(
        ["block", "body"],
        ["block-1", "body-1"],
        [sold("one", "B1", "body-1", 60), sold("one", "K1", "block-1", 150)],
        suppliers={"one": terms},
    )
    plan = answer(problem)
    assert plan.cost == 21000 + 100 * freight
    tables = Tables(problem)
    assert tables.bound == 21000
    tables.charge(plan.cost)
    assert tables.bound == plan.cost


@pytest.mark.parametrize("seed", range(12))
def test_with_and_without_the_tables_cut_the_answer_is_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sourcing.program.answer.many_rows", lambda problem: True)
    problem = with_terms(seed)
    assert same(answer(problem), answer(problem, ahead=NOTHING_AHEAD))


def test_when_time_is_up_the_best_plan_is_kept_with_a_bound_that_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second program, below the cost of the first plan, is never answered."""
    monkeypatch.setattr("sourcing.program.answer.many_rows", lambda problem: True)
    monkeypatch.setattr(Tables, "guess", lambda self: self.bound)
    seen = 0
    for seed in range(12):
        problem = with_terms(seed)
        least = answer(problem, ties=False, ahead=NOTHING_AHEAD).cost
        stopped = answer_within(problem, _once(), ties=False)
        if stopped.status == Status.BEST_FOUND:
            seen += 1
            assert stopped.proof.bound is not None and stopped.proof.bound <= least <= stopped.cost
            assert breaches(problem, stopped.choice) == []
    assert seen


def test_ctrl_c_between_two_programs_calls_no_plan_proven_that_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """The cheapest below a cutoff that is itself too low may be dearer than others: it is the best so far, no more."""

    def pressed(self: Tables, cost: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("sourcing.program.answer.many_rows", lambda problem: True)
    monkeypatch.setattr(Tables, "guess", lambda self: self.bound)
    monkeypatch.setattr(Tables, "charge", pressed)
    seen = 0
    for seed in range(12):
        problem = with_terms(seed)
        least = answer(problem, ties=False, ahead=NOTHING_AHEAD).cost
        stopped = answer(problem, ties=False)
        if stopped.proof.interrupted:
            seen += 1
            assert stopped.status == Status.BEST_FOUND
            assert stopped.proof.bound is not None and stopped.proof.bound <= least <= stopped.cost
    assert seen


def _once() -> Watch:
    """A watch that runs out as soon as the solver has answered once."""

    class Once(Watch):
        @property
        def out_of_time(self) -> bool:
            return self.solves > 0

    return Once(None)


def test_the_planted_combination_of_a_generated_book_is_valid() -> None:
    problem = sealed(positions=40, tables=45, rows=900, seed=3)
    assert problem.blocked == () and problem.fitting is not None
    assert problem.fitting.first() is not None
