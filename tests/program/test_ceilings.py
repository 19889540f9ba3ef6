"""A pool's plan found below ceilings: the same cost as by the whole program, nothing lost on the way, honest bounds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import numpy as np
import pytest
from oracle import pool as brute_pool
from oracle.random_pools import write_pool

from program.test_together import BY_TWO_MODES, numbered, one_block
from program.tiny import sold, tiny
from sourcing import open_shop
from sourcing.plan import Status
from sourcing.pool.breaches import breaches
from sourcing.pool.lots import Pool, pool_of
from sourcing.pool.plan import PoolPlan
from sourcing.program.ahead import EVERY_STEP, NOTHING_AHEAD
from sourcing.program.ahead.alike import joined
from sourcing.program.ahead.arrays import Arrays, Found, arrays_of, least_of
from sourcing.program.ahead.ceilings import ceilings_of
from sourcing.program.ahead.market import Floats
from sourcing.program.answer import Watch
from sourcing.program.build import build
from sourcing.program.solver import Effort, Outcome, broken_rows
from sourcing.program.together import answer_together

ALWAYS = replace(EVERY_STEP, least_variables=0)


def drawn(catalogs: Path, jobs: Sequence[Path]) -> Pool:
    shop = open_shop(catalogs)
    return pool_of([shop.problems(job)[0] for job in jobs])


def parted(seed: int) -> Pool:
    """Jobs of few kinds that keep and want different things, of suppliers with breaks, packs, stock, modes and thresholds."""
    random = Random(seed)
    places = ["block", "plate", "pump"]
    designs = [
        {"code": f"{place}-{n}", "weight_kg": n, "comeback_rate": f"{n}/100"} for place in places for n in (1, 2, 3)
    ]
    terms = {
        s: {
            "order_minimum": random.choice([0, 60]),
            "freight": [{"mode": "ground", "days": random.randint(2, 5), "flat": random.randint(5, 40),
                         "per_kg": random.choice([0, 2]), "free_over": random.randint(80, 300)},
                        {"mode": "air", "days": 1, "flat": random.randint(10, 60)}][: random.randint(1, 2)],
        }
        for s in "stu"
    }  # fmt: skip
    offers = []
    for s in terms:
        for design in random.sample([str(d["code"]) for d in designs], k=6):
            price = random.randint(10, 60)
            stock = random.choice([None, random.randint(2, 9)])
            more = {
                "core_charge": random.choice([0, 8]),
                "pack": random.choice([1, 1, 3]),
                **({"stock": stock} if stock else {}),
            }
            offers.append(sold(s, f"N-{design}", design, price, {random.choice([4, 6]): price * 0.8}, **more))
    offers.append(sold("s", "KIT", "block-1 + plate-1 + plate-1" if random.random() < 0.3 else "block-1 + plate-1", 40))
    rule = {"allow": {"positions": ["block", "plate"],
                      "rows": [[f"block-{a}", f"plate-{b}"] for a in (1, 2, 3) for b in (1, 2, 3) if a != b]}}  # fmt: skip
    wanted = [{"design": "pump-1", "pieces": 2, "worth": random.randint(5, 50)}] if random.random() < 0.3 else []
    shop = {"labour_rate": 30, "comeback_cost": 100, "day_cost": random.choice([0, 0, 2])}
    made, number = [], 0
    for _ in range(random.randint(2, 4)):
        found = {place: f"{place}-{random.randint(1, 3)}" for place in places}
        limits = {
            "keep": random.sample(places, k=random.randint(0, 2)),
            "exclude": random.sample(["pump-3", "block-3"], k=1),
        }
        limits |= {"max_suppliers": 2} if random.random() < 0.15 else {}
        problem = tiny(places, designs, offers, rules=[rule], tasks=[{"hours": 1, "when": {"block": ["block-1"]}}],
                       suppliers=terms, found=found, shop=shop, limits=limits, wanted=wanted,
                       job={"minimise": "whole"})  # fmt: skip
        count = random.randint(1, 6)
        made += list(numbered(problem, *(f"{n:03}" for n in range(number, number + count))))
        number += count
    return pool_of([problem for problem in made if problem.fitting is not None])


@cache
def plain(seed: int) -> PoolPlan:
    return answer_together(parted(seed), ahead=NOTHING_AHEAD)


def chosen_by(plan: PoolPlan) -> tuple[int, int]:
    """What ties are settled by: designs changed, suppliers."""
    changed = sum(
        bool(one.problem.found[p]) and d not in one.problem.found[p]
        for one in plan.gets
        for p, d in one.choice.combination.items()
    )
    return changed, len({p.line.offer.supplier for p in plan.purchases})


# The same answer


@pytest.mark.parametrize("seed", range(1300, 1360))
def test_a_small_pool_costs_below_ceilings_what_trying_everything_finds(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path)
    plan = answer_together(drawn(tmp_path / "catalogs", jobs), ahead=ALWAYS)
    expected = brute_pool.cost(tmp_path / "catalogs", jobs)
    assert plan.status == (Status.IMPOSSIBLE if expected is None else Status.PROVEN)
    assert (plan.cost if plan.gets else None) == expected
    assert breaches(plan.pool, plan.gets, plan.purchases) == []


@pytest.mark.parametrize("seed", range(1400, 1480))
def test_ceilings_on_or_off_give_the_same_cost_and_settle_ties_alike(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path)
    pool = drawn(tmp_path / "catalogs", jobs)
    on, off = answer_together(pool, ahead=ALWAYS), answer_together(pool, ahead=NOTHING_AHEAD)
    assert (on.status, on.totals.of(pool.minimise)) == (off.status, off.totals.of(pool.minimise))
    if off.gets and not pool.alone:
        assert chosen_by(on) == chosen_by(off)


@pytest.mark.parametrize("seed", range(1, 60, 2))
def test_jobs_of_few_kinds_cost_the_same_below_ceilings(seed: int) -> None:
    on, off = answer_together(parted(seed), ahead=ALWAYS), plain(seed)
    assert on.status == off.status
    if off.gets:
        assert (on.cost, chosen_by(on)) == (off.cost, chosen_by(off))
        assert on.proof.bound == on.cost and on.proof.gap == 0


# Each step keeps an optimum


@pytest.mark.parametrize("seed", range(30))
def test_pieces_of_like_units_added_up_cost_the_same_and_can_be_handed_out(seed: int) -> None:
    v = build(parted(seed))
    small = joined(v)
    found = least_of(small.arrays, Effort())
    if plain(seed).status == Status.IMPOSSIBLE:
        assert found.outcome == Outcome.INFEASIBLE
        return
    assert found.values is not None
    assert round(small.arrays.cents(found.values)) == plain(seed).cost
    values = small.spread(found.values)
    assert broken_rows(v.model, values) == []
    assert all(-1e-9 <= values[var.name] <= (var.upBound or math.inf) + 1e-9 for var in small.variables)


def test_some_pieces_are_added_up() -> None:
    smaller = [joined(build(parted(seed))) for seed in range(10)]
    assert sum(len(small.arrays.cost) < len(small.variables) for small in smaller) >= 3


def test_units_with_other_rights_are_not_added_up() -> None:
    """One job has until Tuesday and may not draw from the slow mode."""
    soon = one_block(
        sold("s", "A", "block-1", 10), suppliers=BY_TWO_MODES, job={"number": "2", "need_by": "2026-03-03"}
    )
    later = one_block(sold("s", "A", "block-1", 10), suppliers=BY_TWO_MODES)
    v = build(pool_of([later, soon]))
    assert [len(group) for group in joined(v).groups] == [1, 1]


@pytest.mark.parametrize("seed", range(30))
def test_no_prices_whatever_give_a_bound_above_the_least_cost(seed: int) -> None:
    if plain(seed).status == Status.IMPOSSIBLE:
        return
    small = joined(build(parted(seed))).arrays
    found = least_of(replace(small, whole=np.zeros(len(small.cost), dtype=bool)), Effort())
    assert found.prices is not None
    noise = np.random.default_rng(seed)
    for size in (0, 0.1, 10, 1000):
        prices = found.prices + size * noise.normal(size=len(found.prices))
        assert small.bound(prices)[0] <= plain(seed).cost
    assert small.bound(found.prices)[0] == pytest.approx(small.cents(found.values), abs=0.01)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(8))
def test_no_plan_at_the_least_cost_is_lost_below_a_ceiling(seed: int) -> None:
    """Whatever is asked of the plans at the least cost, what a ceiling at that cost leaves has as good ones."""
    if plain(seed).status == Status.IMPOSSIBLE:
        return
    cost, v = plain(seed).cost, build(parted(seed))
    ceilings = ceilings_of(v, Watch(None))
    assert ceilings is not None
    whole = ceilings.small.arrays
    left = whole.up_to(ceilings.bound, ceilings.left, cost)
    assert (left.upper - left.lower).sum() < (whole.upper - whole.lower).sum()
    rng = np.random.default_rng(seed)
    bought = np.flatnonzero(whole.whole & ~ceilings.small.units_side)
    for _ in range(3):
        weights = np.zeros(len(whole.cost))
        weights[rng.choice(bought, size=3)] = rng.choice([-1.0, 1.0], size=3)
        least = []
        for arrays in (whole, left):
            row = np.full(len(whole.cost), len(whole.least))
            at_cost = replace(
                arrays, cost=weights, offset=0.0, least=np.append(arrays.least, -np.inf),
                most=np.append(arrays.most, cost - whole.offset + 0.1), row=np.append(arrays.row, row),
                column=np.append(arrays.column, np.arange(len(whole.cost))), value=np.append(arrays.value, whole.cost),
            )  # fmt: skip
            found = least_of(at_cost, Effort(seconds=2.0))
            least.append(found)
        # Some of these questions are hard: asked are those that are answered soon.
        if all(found.outcome == Outcome.OPTIMAL for found in least):
            assert round(float(weights @ least[0].values)) == round(float(weights @ least[1].values))


def test_a_programs_arrays_cost_what_it_costs() -> None:
    v = build(parted(1))
    arrays, variables = arrays_of(v.model, {var.name: 999.0 for var in v.piece.values()})
    found = least_of(arrays, Effort())
    assert found.values is not None and len(variables) == len(found.values)
    assert round(arrays.cents(found.values)) == plain(1).cost


# Honest bounds


def middling() -> Iterator[Pool]:
    """Pools that take some steps."""
    yield from (parted(seed) for seed in (4, 7, 8, 9))


def test_the_bound_that_is_told_on_the_way_never_lies_above_the_least_cost() -> None:
    told: list[float | None] = []
    for pool in middling():
        told.clear()
        plan = answer_together(pool, Watch(None, told=lambda best, bound: told.append(bound)), ties=False, ahead=ALWAYS)
        assert all(bound is None or bound <= plan.cost + 0.01 for bound in told)


def test_the_best_that_is_told_on_the_way_is_what_a_known_plan_costs(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the solver holds for the best below a ceiling may be no plan: its cutoff, or units not made up whole."""
    from sourcing.program.ahead import ceilings

    honest = ceilings.least_of

    def talking(arrays: Arrays, effort: Effort, start: Floats | None = None) -> Found:
        if effort.told is not None:
            effort.told(1.0, None)
        return honest(arrays, effort, start)

    monkeypatch.setattr(ceilings, "least_of", talking)
    told: list[float | None] = []
    for pool in middling():
        told.clear()
        watch = Watch(None, told=lambda best, bound: told.append(best), stop=lambda: False)
        plan = answer_together(pool, watch, ties=False, ahead=ALWAYS)
        assert told and all(best is None or best > plan.cost - 0.01 for best in told)


def test_out_of_time_nothing_is_called_proven_that_is_not() -> None:
    for pool in middling():
        least = answer_together(pool, ahead=NOTHING_AHEAD).cost
        for seconds in (0.0, 0.02, 0.05):
            plan = answer_together(pool, Watch(seconds), ahead=ALWAYS)
            if plan.status == Status.PROVEN:
                assert plan.cost == least
            elif plan.gets:
                assert plan.cost >= least
                assert plan.proof.bound is None or plan.proof.bound <= least


def test_whoever_may_stop_has_a_plan_before_the_cheapest_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first ceiling holds none, the clock strikes in the second: there is a plan all the same, with an honest bound."""
    from sourcing.program.ahead import ceilings

    asked: list[float | None] = []
    honest = ceilings.least_of

    def slow(arrays: Arrays, effort: Effort, start: Floats | None = None) -> Found:
        asked.append(effort.cutoff)
        if len([cutoff for cutoff in asked if cutoff is not None]) > 1:
            return Found(Outcome.UNKNOWN)
        return honest(arrays, effort, start)

    monkeypatch.setattr(ceilings, "least_of", slow)
    found = []
    for seed in (4, 7, 8, 9):
        asked.clear()
        plan = answer_together(parted(seed), Watch(1000), ahead=ALWAYS)
        if len([cutoff for cutoff in asked if cutoff is not None]) > 1 and plan.gets:
            least = plain(seed).cost
            assert plan.status == Status.BEST_FOUND or plan.cost == least
            assert plan.proof.bound is not None and plan.proof.bound <= least <= plan.cost
            found.append(seed)
    assert found


def test_a_gap_that_is_good_enough_is_told_as_such() -> None:
    for pool in middling():
        least = answer_together(pool, ahead=NOTHING_AHEAD).cost
        plan = answer_together(pool, Watch(None, gap=0.05), ties=False, ahead=ALWAYS)
        assert least <= plan.cost <= least * 1.06 + 1
        assert plan.proof.bound is not None and plan.proof.bound <= least
        assert plan.status == Status.BEST_FOUND or plan.cost == least
