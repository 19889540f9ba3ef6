"""What is done ahead of the solver changes no answer: bounds are below every plan, and no plan of least cost is removed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from oracle import brute
from oracle.random_shops import write_shop

from program.hard import hard
from program.pure import pure
from program.tiny import sold, tiny
from sourcing.breaches import breaches
from sourcing.folder import Folder
from sourcing.plan import Plan, Status, price
from sourcing.problem import Problem
from sourcing.program.ahead import EVERY_STEP, NOTHING_AHEAD, Ahead
from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.choosing import Placing, prove
from sourcing.program.ahead.dual import Orders, ascend, bound_at, first_prices
from sourcing.program.ahead.facility import is_a_pure_choice_of_orders, settle_orders
from sourcing.program.ahead.first_plan import first_plan
from sourcing.program.ahead.fixing import left_below, narrowed
from sourcing.program.ahead.market import Market, market_of
from sourcing.program.ahead.starting import values_of
from sourcing.program.answer import answer
from sourcing.program.build import build
from sourcing.program.solver import Effort, Outcome, broken_rows, solve

SEEDS = range(3000, 3050)
STEPS = {
    "bound and fixing": Ahead(facility=False, start=False, least_lines=0),
    "facility": Ahead(bound=False, fixing=False, start=False, least_lines=0),
    "start": Ahead(fixing=False, facility=False, least_lines=0),
    "everything": Ahead(least_lines=0),
    "as if large": Ahead(facility=False, least_lines=0, many_lines=0),
}
FAR = float("inf")


def told(plan: Plan) -> tuple[Any, ...]:
    """Everything of an answer but who proved it."""
    return plan.status, plan.choice, plan.totals, plan.orders, plan.works, plan.reasons


def random_problems(seed: int, folder: Path) -> Iterator[Problem]:
    jobs = write_shop(seed, folder, edges=seed % 3 == 0)
    shop = Folder(folder / "catalogs")
    for job in jobs:
        problem = shop.problems(job)[0]
        if problem.fitting is not None:
            yield problem


def questions(problem: Problem, plan: Plan, random: Random) -> Iterator[Problem]:
    """What a decision asks of a problem beside its cheapest plan."""
    assert plan.choice is not None
    yield problem.unlike(plan.choice.combination)
    yield problem.unlike(plan.choice.combination, plan.choice.fills, plan.choice.in_hand)
    yield problem.below("comebacks", max(0, plan.totals.comebacks - 1))
    yield problem.below("cash", plan.totals.cash - 1)
    for position in problem.in_hand:
        yield problem.handling(position, random.choice(["use", "leave", "send back"]))
    if problem.offers:
        offer = random.choice(problem.offers)
        yield problem.filled_by(offer.id)
        yield problem.not_filled_by(offer.id)
        counts = problem.first_price_counts(offer)
        if counts:
            yield problem.buying(offer.id, random.choice(counts))


@pytest.mark.parametrize("seed", SEEDS)
def test_every_step_alone_and_all_together_give_the_same_answer(seed: int, tmp_path: Path) -> None:
    for problem in random_problems(seed, tmp_path):
        plain = told(answer(problem, ahead=NOTHING_AHEAD))
        for name, ahead in STEPS.items():
            assert told(answer(problem, ahead=ahead)) == plain, name


@pytest.mark.parametrize("seed", SEEDS[:20])
def test_what_a_decision_asks_is_answered_the_same(seed: int, tmp_path: Path) -> None:
    for problem in random_problems(seed, tmp_path):
        plan = answer(problem, ties=False, ahead=NOTHING_AHEAD)
        if plan.choice is None:
            continue
        for asked in questions(problem, plan, Random(seed)):
            assert told(answer(asked, ahead=STEPS["everything"])) == told(answer(asked, ahead=NOTHING_AHEAD))


def arrays(problem: Problem) -> tuple[Market, Together]:
    market = market_of(problem)
    return market, Together(market)


@pytest.mark.parametrize("seed", SEEDS[:25])
def test_no_bound_is_above_brute_force_and_no_cheapest_plan_is_left_out(seed: int, tmp_path: Path) -> None:
    """At the raised prices and at prices drawn at random; the narrower problem has the brute-force optimum as its own."""
    jobs = write_shop(seed, tmp_path, edges=seed % 3 == 0)
    shop = Folder(tmp_path / "catalogs")
    for job in jobs:
        problem, least = shop.problems(job)[0], brute.costs(tmp_path / "catalogs", job)[0]
        if problem.fitting is None or least is None:
            continue
        market, together = arrays(problem)
        prices = np.random.default_rng(seed).uniform(-5000, 30000, len(market.states)) * market.bought_states
        drawn = [
            bound_at(market, together, Orders(market, wait), wait, prices)[0] for wait in market.days
        ]  # fmt: skip
        assert min(drawn) <= least + 0.01
        bounds = [ascend(market, together, wait, first_prices(market), FAR, 40, FAR) for wait in market.days]
        assert min(bound.cents for bound in bounds) <= least + 0.01
        left = narrowed(market, left_below(market, together, bounds, least))
        assert left is not None
        assert answer(left, ties=False, ahead=NOTHING_AHEAD).cost == least


def test_a_first_plan_is_a_valid_plan_at_its_price(tmp_path: Path) -> None:
    made = 0
    for seed in SEEDS[:20]:
        for problem in random_problems(seed, tmp_path / str(seed)):
            market, together = arrays(problem)
            bounds = [ascend(market, together, wait, first_prices(market), FAR, 20, FAR) for wait in market.days]
            found = first_plan(market, together, bounds)
            if found is None:
                continue
            made += 1
            assert breaches(problem, found[0]) == []
            assert price(problem, found[0])[0].of(problem.minimise) == found[1]
            assert found[1] >= min(bound.cents for bound in bounds) - 0.01
    assert made > 20


def test_a_busy_problem_shrinks_to_a_tenth_and_keeps_its_answer() -> None:
    problem = hard(6, 5, 8)
    plain = answer(problem, ahead=NOTHING_AHEAD)
    market, together = arrays(problem)
    bounds = [ascend(market, together, wait, first_prices(market), FAR, 60, FAR) for wait in market.days]
    left = narrowed(market, left_below(market, together, bounds, plain.cost))
    assert left is not None
    assert len(left.lines) < len(problem.lines) / 5
    assert told(answer(problem, ahead=EVERY_STEP)) == told(plain)


def two_suppliers(**terms: Any) -> Problem:
    """A block at 100.00 from either supplier, freight 10.00 and 25.00."""
    return tiny(
        ["block"],
        ["block-1"],
        [sold("near", "A", "block-1", 100), sold("far", "B", "block-1", 100)],
        suppliers={
            "near": {"freight": [{"mode": "road", "days": 1, "flat": 10, **terms}]},
            "far": {"freight": [{"mode": "road", "days": 1, "flat": 25}]},
        },
        job={"minimise": "cash"},
    )


def test_a_dearer_supplier_of_the_same_part_is_left_out() -> None:
    market, together = arrays(two_suppliers())
    bound = ascend(market, together, 1, first_prices(market), FAR, 60, FAR)
    assert 10990 < bound.cents <= 11000 + 0.01  # 100.00 and 10.00 freight
    left = left_below(market, together, [bound], 11000)
    assert [line.offer.supplier for line, stays in zip(market.lines, left.lines, strict=True) if stays] == ["near"]


def test_a_supplier_that_costs_the_same_stays() -> None:
    """From 125.00 of 110.00 the dearer one is no plan of least cost; at its own cost as the ceiling both stay."""
    market, together = arrays(two_suppliers())
    bound = ascend(market, together, 1, first_prices(market), FAR, 60, FAR)
    assert left_below(market, together, [bound], 12500).lines.all()
    assert not left_below(market, together, [bound], 12499).lines.all()


def test_an_order_minimum_is_part_of_the_bound() -> None:
    """A minimum of 150.00 that 100.00 never reaches: only the far supplier is left, at 125.00."""
    dear = tiny(
        ["block"], ["block-1"],
        [sold("near", "A", "block-1", 100), sold("far", "B", "block-1", 100)],
        suppliers={"near": {"order_minimum": 150, "freight": [{"mode": "road", "days": 1, "flat": 10}]},
                   "far": {"freight": [{"mode": "road", "days": 1, "flat": 25}]}},
        job={"minimise": "cash"},
    )  # fmt: skip
    market, together = arrays(dear)
    bound = ascend(market, together, 1, first_prices(market), FAR, 80, FAR)
    assert bound.cents <= 12500 + 0.01
    assert bound.cents > 11500


# A pure choice of orders


@pytest.mark.parametrize("seed", range(120))
def test_a_pure_choice_of_orders_has_the_programs_whole_answer(seed: int) -> None:
    problem = pure(seed)
    plain = told(answer(problem, ahead=NOTHING_AHEAD))
    assert told(answer(problem, ahead=STEPS["facility"])) == plain
    assert told(answer(problem, ahead=STEPS["everything"])) == plain


@pytest.mark.parametrize("seed", range(80))
def test_of_equal_choices_of_orders_the_same_one_wins(seed: int) -> None:
    """One design a position, few prices, orders that cost nothing among them: most jobs have several plans of least cost."""
    random = Random(seed)
    places = [f"p{i}" for i in range(random.randint(2, 5))]
    modes = random.choice([["road"], ["road", "air"]])
    terms = {
        f"s{k}": {"freight": [{"mode": mode, "days": 1, "flat": random.choice([0, 10, 10, 20])} for mode in modes]}
        for k in range(random.randint(2, 4))
    }
    offers = [
        sold(s, f"{random.randint(1, 9)}N{p}", f"{p}-1", random.choice([10, 20, 30])) for s in terms for p in places
    ]
    problem = tiny(places, [f"{p}-1" for p in places], offers, suppliers=terms, job={"minimise": "cash"})
    plan = answer(problem, ahead=STEPS["facility"])
    plain = answer(problem, ahead=NOTHING_AHEAD)
    assert "orders" in plan.proof.solver
    assert plan.proof.settled
    assert plan.cost == plain.cost
    if plain.proof.settled:  # the program has left one of these open
        assert told(plan) == told(plain)


def test_most_of_them_are_proven_without_the_solver() -> None:
    proven = [answer(pure(seed), ties=False, ahead=STEPS["facility"]).proof for seed in range(60)]
    assert sum(proof.solves == 0 and "orders" in proof.solver for proof in proven) > 50


def test_each_thing_that_ties_positions_or_orders_makes_it_no_pure_choice() -> None:
    def is_pure(**changed: Any) -> bool:
        given: dict[str, Any] = {"suppliers": {"s": {"freight": [{"mode": "road", "days": 1, "flat": 10}]}}, **changed}
        offers = given.pop("offers", [sold("s", "A", "a-1", 100), sold("s", "B", "b-1", 50), sold("s", "C", "b-2", 60)])
        return is_a_pure_choice_of_orders(market_of(tiny(["a", "b"], ["a-1", "b-1", "b-2"], offers, **given)))

    road = {"mode": "road", "days": 1, "flat": 10}
    assert is_pure()
    assert is_pure(suppliers={"s": {"freight": [{**road, "free_over": 500}]}})  # never reached
    assert not is_pure(suppliers={"s": {"freight": [{**road, "free_over": 150}]}})
    assert not is_pure(suppliers={"s": {"freight": [road], "order_minimum": 20}})
    assert not is_pure(offers=[sold("s", "A", "a-1 + b-1", 100), sold("s", "C", "b-2", 60)])
    assert not is_pure(tasks=[{"hours": 1, "when": {"a": ["a-1"]}, "replacing": ["b"]}], shop={"labour_rate": 10})
    assert not is_pure(wanted=[{"design": "b-1", "pieces": 1, "worth": 5}])
    assert not is_pure(in_hand={"b": {"design": "b-1", "source": "shelf", "cost": 5}})
    assert not is_pure(offers=[sold("s", "A", "a-1", 100), sold("t", "B", "b-1", 50)], limits={"max_suppliers": 1})


def tried_all(given: Placing) -> tuple[float, set[tuple[int, ...]]]:
    """Least cost and every choice that has it, by trying all; orders that serve nobody are no part of a choice."""
    best, choices = np.inf, set()
    for on in product([False, True], repeat=len(given.placing)):
        orders = np.flatnonzero(on)
        if not len(orders):
            continue
        cents = given.placing[orders].sum() + given.serving[:, orders].min(axis=1).sum()
        if cents < best:
            best, choices = cents, set()
        if cents == best and np.isfinite(cents):
            choices.add(tuple(int(j) for j in orders))
    return float(best), choices


@pytest.mark.parametrize("seed", range(60))
def test_the_search_finds_every_choice_of_least_cost(seed: int) -> None:
    random = np.random.default_rng(seed)
    places, orders = int(random.integers(1, 8)), int(random.integers(1, 8))
    top = int(random.choice([3, 10, 1000]))
    serving = random.integers(0, top, (places, orders)).astype(float)
    serving[random.random(serving.shape) < 0.2] = np.inf
    given = Placing(random.integers(1, 2 * top, orders).astype(float), serving)
    best, choices = tried_all(given)
    found = prove(given, True, lambda: False)
    if not np.isfinite(best):
        assert found is None
        return
    assert found is not None
    assert found.every
    assert (found.cents, found.bound, set(found.choices)) == (best, best, choices)
    one = prove(given, False, lambda: False)
    assert one is not None
    assert one.cents == best
    assert set(one.choices) <= choices


def test_a_search_that_runs_out_of_time_says_so() -> None:
    """Ten of the orders' costs drawn at random, each place in reach of a few: the bound is below the cost, and is a bound."""
    random = np.random.default_rng(1)
    serving = np.full((60, 60), np.inf)
    for row in serving:
        row[random.choice(60, 10, replace=False)] = random.integers(0, 5, 10)
    given = Placing(np.full(60, 3000.0), serving)
    stopped = prove(given, False, lambda: True)
    whole = prove(given, False, lambda: False)
    assert stopped is not None
    assert whole is not None
    assert stopped.bound < whole.cents <= stopped.cents
    assert whole.bound == whole.cents


def test_a_stopped_search_gives_a_plan_with_an_honest_bound() -> None:
    problem = pure(7)
    plain = answer(problem, ties=False, ahead=NOTHING_AHEAD)
    market, together = arrays(problem)
    settled = settle_orders(market, together, False, lambda: True)
    assert settled is not None
    assert settled.bound <= plain.cost <= settled.cents
    assert breaches(problem, settled.choice) == []


# A first plan for the solver


@pytest.mark.parametrize("seed", SEEDS[:15])
def test_a_plan_as_values_keeps_every_row_and_costs_the_same(seed: int, tmp_path: Path) -> None:
    for problem in random_problems(seed, tmp_path):
        plan = answer(problem, ahead=NOTHING_AHEAD)
        if plan.choice is None:
            continue
        program = build(problem)
        values = values_of(program, plan.choice)
        assert values is not None
        for name, value in values.items():
            program.model.variablesDict()[name].bounds(value, value)
        solved = solve(program.model, Effort())
        assert solved.outcome == Outcome.OPTIMAL
        assert solved.objective == pytest.approx(plan.cost)


def test_a_start_never_changes_what_is_optimal() -> None:
    """Every valid plan handed over as a start, dear ones too: HiGHS with a start has called one optimal that was not."""
    for seed in range(25):
        problem = pure(seed)
        plan = answer(problem, ties=False, ahead=NOTHING_AHEAD)
        if plan.choice is None:
            continue
        others = [answer(problem.not_filled_by(offer), ties=False, ahead=NOTHING_AHEAD) for offer in
                  {*plan.choice.fills.values()}]  # fmt: skip
        for other in others:
            if other.choice is None:
                continue
            program = build(problem)
            start = values_of(program, other.choice)
            solved = solve(program.model, Effort(start=start))
            assert solved.values is not None
            assert broken_rows(program.model, solved.values) == []
            assert solved.objective == pytest.approx(plan.cost)


def test_a_plan_that_the_program_does_not_know_is_no_start() -> None:
    problem = two_suppliers()
    plan = answer(problem, ahead=NOTHING_AHEAD)
    assert plan.choice is not None
    without = build(problem.not_filled_by(next(iter(plan.choice.fills.values()))))
    assert values_of(without, plan.choice) is None


def test_a_time_limit_still_gives_honest_bounds() -> None:
    problem = hard(8, 6, 12)
    for seconds in (0.01, 0.2, 0.6):
        plan = answer(problem, seconds)
        assert plan.status in (Status.PROVEN, Status.BEST_FOUND, Status.NOTHING_FOUND)
        assert plan.proof.bound is None or plan.proof.bound <= 29000  # proven by HiGHS and CP-SAT without any of this
        assert plan.choice is None or plan.cost >= 29000
