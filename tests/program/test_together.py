"""Jobs bought for together: what they share, what stays each one's own; and the golden algebra of a pool."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pulp
import pytest

from program.test_rules import IN_HAND, two_lines, written
from program.tiny import Table, sold, tiny
from sourcing.faults import BadInput
from sourcing.plan import Status
from sourcing.pool.breaches import breaches
from sourcing.pool.lots import Pool, pool_of
from sourcing.pool.plan import PoolPlan, price
from sourcing.problem import Problem
from sourcing.program import rules
from sourcing.program.declaring import declare
from sourcing.program.objective import cost
from sourcing.program.solver import Effort, solve
from sourcing.program.together import answer_together
from sourcing.program.variables import Variables

GOLDEN = Path(__file__).resolve().parent / "golden" / "pool"


def numbered(problem: Problem, *numbers: str) -> Iterator[Problem]:
    """The same job under other numbers."""
    for number in numbers:
        head = problem.job.job.model_copy(update={"number": number})
        yield replace(problem, job=problem.job.model_copy(update={"job": head}))


def together(*problems: Problem) -> PoolPlan:
    """The proven plan of jobs, checked by itself."""
    pool = pool_of(problems)
    plan = answer_together(pool)
    assert plan.status == Status.PROVEN
    assert breaches(pool, plan.gets, plan.purchases) == []
    assert price(pool, plan.gets, plan.purchases)[0] == plan.totals
    return plan


def bought(plan: PoolPlan) -> dict[str, int]:
    return {p.line.offer.part.number.spelt: p.quantity for p in plan.purchases}


def pieces(plan: PoolPlan) -> dict[str, dict[str, int]]:
    """Of each part number and mode, the pieces that each job gets."""
    lines = {(p.line.offer.id, p.line.mode.mode): p.line for p in plan.purchases}
    return {f"{lines[key].offer.part.number} {key[1]}": dict(got) for key, got in plan.pieces.items()}


def one_block(*offers: Table, **rest: object) -> Problem:
    return tiny(["block"], ["block-1"], list(offers), **rest)


# What is shared


def test_a_price_break_is_reached_together() -> None:
    # One costs 10.00, three cost 7.00 each: 21.00 instead of 30.00.
    plan = together(*numbered(one_block(sold("s", "A", "block-1", 10, {3: 7})), "1", "2", "3"))
    assert (plan.cost, bought(plan)) == (21_00, {"A": 3})


def test_freight_is_paid_once_for_all() -> None:
    flat = {"s": {"freight": [{"mode": "ground", "days": 0, "flat": 9}]}}
    plan = together(*numbered(one_block(sold("s", "A", "block-1", 10), suppliers=flat), "1", "2"))
    assert plan.cost == 29_00


def test_what_is_in_stock_goes_to_one_job_only() -> None:
    # One piece at 5.00, the other job takes the one at 8.00.
    plan = together(*numbered(one_block(sold("s", "A", "block-1", 5, stock=1), sold("t", "B", "block-1", 8)), "1", "2"))
    assert (plan.cost, bought(plan)) == (13_00, {"A": 1, "B": 1})


def test_a_pack_serves_several_jobs() -> None:
    # A pack of four at 3.00 a piece serves four jobs for 12.00; five jobs need two packs.
    problem = one_block(sold("s", "A", "block-1", 3, pack=4))
    assert together(*numbered(problem, "1", "2", "3", "4")).cost == 12_00
    assert bought(together(*numbered(problem, "1", "2", "3", "4", "5"))) == {"A": 8}


def test_a_minimum_above_need_is_bought_once() -> None:
    plan = together(*numbered(one_block(sold("s", "A", "block-1", 3, minimum=5)), "1", "2"))
    assert bought(plan) == {"A": 5}


def test_an_order_minimum_is_reached_together() -> None:
    # 60.00 alone is below the minimum of 100.00, 120.00 is not.
    problem = one_block(sold("s", "A", "block-1", 60), suppliers={"s": {"order_minimum": 100}})
    assert answer_together(pool_of(list(numbered(problem, "1")))).status == Status.IMPOSSIBLE
    assert together(*numbered(problem, "1", "2")).cost == 120_00


def test_a_kit_is_parted_between_jobs() -> None:
    # Job 1 keeps its plate and needs a block, job 2 keeps its block and needs a plate: one kit serves both.
    offers = [sold("s", "KIT", "block-1 + plate-1", 50), sold("s", "A", "block-1", 40), sold("s", "B", "plate-1", 30)]
    kit = lambda found, keep, number: tiny(  # noqa: E731
        ["block", "plate"], ["block-1", "plate-1"], offers, found=found, limits={"keep": keep}, job={"number": number}
    )
    plan = together(kit({"plate": "plate-1"}, ["plate"], "1"), kit({"block": "block-1"}, ["block"], "2"))
    assert (plan.cost, bought(plan)) == (50_00, {"KIT": 1})
    assert pieces(plan) == {"KIT counter": {"1": 1, "2": 1}}


def test_a_core_of_one_job_goes_against_a_piece_of_another() -> None:
    # Job 1's found block is no core of what it buys; the piece of job 2 takes it: 20.00 back.
    designs = [{"code": "block-1", "fitted": ["e"]}, {"code": "block-2", "fitted": ["e"]}]
    offers = [
        sold("s", "A", "block-1", 10, core_charge=20, core_accepts=["block-2"]),
        sold("s", "B", "block-2", 10),
    ]
    first = tiny(["block"], designs, offers, found={"block": "block-2"}, limits={"require": ["block-2"]})
    second = tiny(
        ["block"], designs, offers, found={"block": "block-1"}, limits={"require": ["block-1"]}, job={"number": "2"}
    )
    plan = together(first, second)
    assert plan.cost == 20_00  # 10.00 and 10.00, and 20.00 charged that come back
    assert [(one.number, len(one.choice.returns)) for one in plan.gets] == [("1", 1), ("2", 0)]


def test_the_shelf_is_filled_once() -> None:
    # Two pieces are wanted at 9.00 each and cost 5.00: two are bought for it, not two for each job.
    problem = one_block(sold("s", "A", "block-1", 5), wanted=[{"design": "block-1", "pieces": 2, "worth": 9}])
    plan = together(*numbered(problem, "1", "2", "3"))
    assert (bought(plan), plan.totals.shelf) == ({"A": 5}, 18_00)


def test_the_shops_own_shelf_is_a_supplier() -> None:
    # What lies there is cheaper and lasts for two of three.
    problem = one_block(sold("our-shelf", "A", "block-1", 1, stock=2), sold("s", "B", "block-1", 5))
    assert bought(together(*numbered(problem, "1", "2", "3"))) == {"A": 2, "B": 1}


# What stays each job's own

BY_TWO_MODES = {
    "s": {"freight": [{"mode": "air", "days": 1, "flat": 9}, {"mode": "ground", "days": 4, "flat": 2}]},
}


def in_time(number: str, need_by: str | None = None, **shop: object) -> Problem:
    job = {"number": number, **({"need_by": need_by} if need_by else {})}
    return one_block(sold("s", "A", "block-1", 10), suppliers=BY_TWO_MODES, shop=shop or None, job=job)


def test_only_the_job_in_a_hurry_needs_the_fast_mode() -> None:
    # Air brings both for 9.00 of freight, which is less than air and ground together: 29.00.
    assert together(in_time("1", "2026-03-03"), in_time("2")).cost == 29_00
    # Where nobody is in a hurry ground does: 22.00.
    assert together(in_time("1"), in_time("2")).cost == 22_00


def test_each_job_waits_for_its_own_pieces() -> None:
    # 3.00 a day: by ground 4 days for each job, 2.00 + 24.00; by air 9.00 + 6.00.
    plan = together(in_time("1", day_cost=3), in_time("2", day_cost=3))
    assert (plan.cost, plan.totals.waiting) == (35_00, 6_00)
    # One job of another day needs nothing: nobody waits.
    kept = one_block(
        sold("s", "A", "block-1", 10), suppliers=BY_TWO_MODES, shop={"day_cost": 3}, job={"number": "3"},
        found={"block": "block-1"}, limits={"keep": ["block"]},
    )  # fmt: skip
    assert together(in_time("1", day_cost=3), kept).totals.waiting == 3_00


def test_a_jobs_limits_hold_for_the_pieces_that_it_gets() -> None:
    # Job 2 takes nothing used; job 1 may.
    offers = [sold("s", "A", "block-1", 4, condition="used"), sold("s", "B", "block-1", 9)]
    plan = together(one_block(*offers), one_block(*offers, job={"number": "2"}, limits={"conditions": ["new"]}))
    assert pieces(plan) == {"A counter": {"1": 1}, "B counter": {"2": 1}}


def test_a_job_limits_the_suppliers_of_its_own_pieces() -> None:
    offers = [sold("s", "A", "block-1", 1), sold("t", "B", "plate-1", 1), sold("s", "C", "plate-1", 3)]
    one = tiny(["block", "plate"], ["block-1", "plate-1"], offers, limits={"max_suppliers": 1})
    two = tiny(["block", "plate"], ["block-1", "plate-1"], offers, job={"number": "2"})
    plan = together(one, two)
    assert pieces(plan) == {"A counter": {"1": 1, "2": 1}, "C counter": {"1": 1}, "B counter": {"2": 1}}


def test_pairs_stay_together_in_a_lot() -> None:
    # block-1 goes with plate-1, block-2 with plate-2; one of each block is to be had and two of each plate.
    offers = [
        sold("s", "A", "block-1", 10, stock=1), sold("s", "B", "block-2", 20, stock=2),
        sold("s", "C", "plate-1", 9, stock=2), sold("s", "D", "plate-2", 1, stock=1), sold("s", "E", "plate-2", 30),
    ]  # fmt: skip
    rule = {"allow": {"positions": ["block", "plate"], "rows": [["block-1", "plate-1"], ["block-2", "plate-2"]]}}
    problem = tiny(["block", "plate"], ["block-1", "block-2", "plate-1", "plate-2"], offers, rules=[rule])
    plan = together(*numbered(problem, "1", "2"))
    held = sorted(tuple(one.choice.combination.values()) for one in plan.gets)
    assert held == [("block-1", "plate-1"), ("block-2", "plate-2")]
    assert plan.cost == 40_00


def test_work_is_done_for_each_unit_that_needs_it() -> None:
    # block-1 needs an hour of 50.00; block-2 costs 30.00 more and there is one of it.
    problem = tiny(
        ["block"], ["block-1", "block-2"],
        [sold("s", "A", "block-1", 10), sold("s", "B", "block-2", 40, stock=1)],
        tasks=[{"hours": 1, "when": {"block": ["block-1"]}}], shop={"labour_rate": 50},
    )  # fmt: skip
    plan = together(*numbered(problem, "1", "2", "3"))
    assert (plan.totals.labour, plan.cost) == (100_00, 160_00)


# What cannot be


def test_jobs_of_two_days_are_not_bought_together() -> None:
    late = one_block(sold("s", "A", "block-1", 1), job={"number": "2", "date": "2026-03-09"})
    with pytest.raises(BadInput, match="the day of job 1"):
        pool_of([one_block(sold("s", "A", "block-1", 1)), late])


def test_a_number_stands_for_one_job() -> None:
    problem = one_block(sold("s", "A", "block-1", 1))
    with pytest.raises(BadInput, match="this number twice"):
        pool_of([problem, problem])


def test_two_lists_for_one_shelf_are_refused() -> None:
    wants = one_block(
        sold("s", "A", "block-1", 1), job={"number": "2"}, wanted=[{"design": "block-1", "pieces": 1, "worth": 9}]
    )
    with pytest.raises(BadInput, match="one order fills one shelf"):
        pool_of([one_block(sold("s", "A", "block-1", 1)), wants])


def test_stock_for_one_of_two_jobs_makes_them_impossible_together() -> None:
    problem = one_block(sold("s", "A", "block-1", 1, stock=1))
    assert answer_together(pool_of(list(numbered(problem, "1", "2")))).status == Status.IMPOSSIBLE


def test_the_order_of_the_jobs_changes_nothing() -> None:
    offers = [sold("s", "A", "block-1", 5, stock=1), sold("t", "B", "block-1", 8)]
    jobs = [*numbered(one_block(*offers), "1", "2"), *numbered(one_block(*offers, limits={"suppliers": ["t"]}), "3")]
    assert [answer_together(pool_of(order)).gets for order in (jobs, jobs[::-1], [jobs[1], jobs[2], jobs[0]])] == [
        answer_together(pool_of(jobs)).gets
    ] * 3


# The algebra of a pool


def four_jobs() -> Pool:
    """Two like jobs that are counted, and two that limit their suppliers and are declared one by one, on the two lines of
    `two_lines`."""
    like = two_lines(in_hand=IN_HAND)
    free = replace(
        like, job=like.job.model_copy(update={"limits": like.job.limits.model_copy(update={"max_suppliers": None})})
    )
    return pool_of([*numbered(free, "1", "2"), *numbered(like, "3", "4")])


@pytest.mark.parametrize("rule", rules.RULES, ids=[rule.__name__ for rule in rules.RULES])
def test_the_algebra_of_a_pool_is_the_approved_one(rule: Callable[[Variables], None]) -> None:
    """UPDATE_GOLDEN=1 in the environment writes the files anew, for a reviewer to read."""
    path = GOLDEN / f"{rule.__name__}.lp"
    text = written(declare(pulp.LpProblem("four_jobs", pulp.LpMinimize), four_jobs()), rule)
    if os.environ.get("UPDATE_GOLDEN"):
        path.write_text(text, encoding="utf-8", newline="\n")
    assert path.is_file(), f"{path.name} is missing: run once with UPDATE_GOLDEN=1 and read what it wrote"
    assert text == path.read_text(encoding="utf-8")


def without(rule: Callable[[Variables], None], problems: Sequence[Problem]) -> float:
    """What the program of a pool says where one rule is left out."""
    v = declare(pulp.LpProblem("without", pulp.LpMinimize), pool_of(problems))
    for other in rules.RULES:
        if other is not rule:
            other(v)
    v.model.setObjective(cost(v))
    solved = solve(v.model, Effort())
    assert solved.objective is not None
    return solved.objective


def test_without_knowing_who_draws_a_slow_piece_would_serve_the_job_in_a_hurry() -> None:
    jobs = [in_time("1", "2026-03-03"), in_time("2")]
    assert without(rules.draw_from_what_is_bought, jobs) < together(*jobs).cost - 0.5


def test_which_of_two_like_units_is_which_costs_nothing_to_say() -> None:
    # Each may get from one supplier only, so that they are declared one by one; one of each block is to be had.
    offers = [sold("s", "A", "block-1", 10, stock=1), sold("t", "B", "block-2", 20, stock=1)]
    problem = tiny(["block"], ["block-1", "block-2"], offers, limits={"max_suppliers": 1})
    jobs = list(numbered(problem, "1", "2"))
    plan = together(*jobs)
    assert [one.choice.combination["block"] for one in plan.gets] == ["block-1", "block-2"]
    assert without(rules.tell_like_units_apart, jobs) == plan.cost == 30_00


def test_without_counting_pieces_one_would_serve_two_jobs() -> None:
    jobs = list(numbered(one_block(sold("s", "A", "block-1", 10)), "1", "2"))
    assert without(rules.buy_the_smallest_quantity_that_serves, jobs) < together(*jobs).cost - 0.5
