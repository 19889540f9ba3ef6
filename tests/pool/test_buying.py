"""What buying together saves, who pays which share, and which jobs stand in each other's way."""

from __future__ import annotations

import pytest
from program.test_together import numbered, one_block
from program.tiny import sold, tiny

from sourcing.book.rules import Setting
from sourcing.plan import Status
from sourcing.pool.buying import Bought, buy
from sourcing.pool.shares import BY_OWN_COST, BY_SAVINGS, EQUALLY
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.program.together import answer_together
from sourcing.quote.poolrecord import pool_record


def bought(*problems: Problem) -> Bought:
    return buy([[problem] for problem in problems], answer, answer_together)


def checked(result: Bought) -> Bought:
    """Proven; the shares add up, and nobody pays more than in its turn."""
    assert result.plan.status == Status.PROVEN
    assert sum(result.shares.values()) == result.plan.cost
    assert all(result.shares[number] <= cents for number, cents in result.alone.items() if cents is not None)
    return result


FLAT = {"s": {"freight": [{"mode": "ground", "days": 0, "flat": 9}]}}


def test_freight_paid_once_is_saved_by_all_in_proportion() -> None:
    # 10.00 + 9.00 and 20.00 + 9.00 in turn, 39.00 together: 9.00 saved, 19/48 and 29/48 of it.
    small = one_block(sold("s", "A", "block-1", 10), suppliers=FLAT)
    large = tiny(["block"], ["block-2"], [sold("s", "B", "block-2", 20)], suppliers=FLAT, job={"number": "2"})
    result = checked(bought(small, large))
    assert (result.alone_total, result.plan.cost, result.saved) == (48_00, 39_00, 9_00)
    assert result.shares == {"1": 19_00 - 356, "2": 29_00 - 544}  # 3.5625 and 5.4375, the cent left to the larger rest
    assert result.rule == BY_SAVINGS


def test_a_job_in_its_turn_finds_what_the_earlier_ones_left() -> None:
    # The one at 5.00 goes to job 1, job 2 pays 8.00, job 3 finds none.
    problem = one_block(sold("s", "A", "block-1", 5, stock=1), sold("t", "B", "block-1", 8, stock=1))
    assert checked(bought(*numbered(problem, "2", "1"))).alone == {"1": 5_00, "2": 8_00}


def test_the_shelf_is_filled_by_the_first_that_pays() -> None:
    # Two are wanted at 9.00 and cost 5.00: the first job buys both, the others only their own.
    problem = one_block(sold("s", "A", "block-1", 5), wanted=[{"design": "block-1", "pieces": 2, "worth": 9}])
    result = checked(bought(*numbered(problem, "1", "2", "3")))
    assert result.alone == {"1": 5_00 - 8_00, "2": 5_00, "3": 5_00}
    assert result.saved == 0


def test_a_job_without_a_plan_in_its_turn_bears_its_own_cost() -> None:
    # The order minimum of 100.00 is reached by two only.
    problem = one_block(sold("s", "A", "block-1", 60), suppliers={"s": {"order_minimum": 100}})
    result = checked(bought(*numbered(problem, "1", "2")))
    assert (result.alone, result.saved, result.rule) == ({"1": None, "2": None}, None, BY_OWN_COST)
    assert result.shares == {"1": 60_00, "2": 60_00}


def test_where_nothing_is_paid_the_saving_is_divided_equally() -> None:
    kept = one_block(sold("s", "A", "block-1", 5), found={"block": "block-1"}, limits={"keep": ["block"]})
    result = checked(bought(*numbered(kept, "1", "2")))
    assert (result.shares, result.rule) == ({"1": 0, "2": 0}, EQUALLY)


def test_jobs_that_compete_for_one_piece_are_named() -> None:
    scarce = one_block(sold("s", "A", "block-1", 5, stock=1))
    free = one_block(sold("t", "B", "block-1", 9))
    result = bought(*numbered(free, "0"), *numbered(scarce, "1", "2"))
    assert result.plan.status == Status.IMPOSSIBLE
    assert [reason.says for reason in result.plan.reasons][:2] == [
        "jobs 1 and 2 cannot be met together; without any one of them the others can",
        "block: 1 in stock that fit, 2 jobs need one",
    ]


def test_a_job_that_fits_nothing_is_named() -> None:
    nothing = one_block(sold("s", "A", "block-1", 5, stock=0))
    result = bought(*numbered(one_block(sold("s", "A", "block-1", 5)), "1"), *numbered(nothing, "2"))
    assert result.plan.status == Status.IMPOSSIBLE
    assert all(reason.says.startswith("job 2: ") for reason in result.plan.reasons)


def open_fact(number: str) -> list[Problem]:
    """A job whose lever nobody looked at: with a tap only block-1 goes, with a detent only block-2."""
    facts = [{"code": "lever", "ask": "Which lever?", "values": ["tap", "detent"]}]
    rules = [
        {"when": {"lever": ["tap"]}, "need": {"block": ["block-1"]}},
        {"when": {"lever": ["detent"]}, "need": {"block": ["block-2"]}},
    ]
    offers = [sold("s", "A", "block-1", 5), sold("s", "B", "block-2", 5)]
    return [
        tiny(["block"], ["block-1", "block-2"], offers, facts=facts, rules=rules, job={"number": number},
             setting=Setting("e", "e", {"lever": lever}))
        for lever in ("tap", "detent")
    ]  # fmt: skip


def test_what_is_open_and_decides_is_asked_job_by_job() -> None:
    result = buy([open_fact("7"), open_fact("8")], answer, answer_together)
    assert result.plan.status == Status.OPEN
    assert [reason.says for reason in result.plan.reasons] == ["job 7: Which lever?", "job 8: Which lever?"]


def test_more_open_facts_than_can_be_planned_are_asked_at_once() -> None:
    result = buy([open_fact(str(n)) for n in range(5)], answer, answer_together)
    assert result.plan.status == Status.OPEN
    assert len(result.plan.reasons) == 5


def test_the_object_says_who_gets_what_and_pays_what() -> None:
    told = pool_record(bought(*numbered(one_block(sold("s", "A", "block-1", 10), suppliers=FLAT), "1", "2")))
    assert told["alone"] == "38.00" and told["saved"] == "9.00"
    assert [(job["job"], job["share"], job["alone"]) for job in told["jobs"]] == [
        ("1", "14.50", "19.00"),
        ("2", "14.50", "19.00"),
    ]
    (line,) = told["purchases"]
    assert (line["quantity"], line["jobs"]) == (2, {"1": 1, "2": 1})


@pytest.mark.parametrize("count", [2, 7, 40])
def test_like_jobs_bear_like_shares(count: int) -> None:
    problem = one_block(sold("s", "A", "block-1", 10, {5: 9}), suppliers=FLAT)
    shares = checked(bought(*numbered(problem, *(f"{n:03}" for n in range(count))))).shares
    assert max(shares.values()) - min(shares.values()) <= 1


def test_a_pool_of_one_is_the_jobs_own_plan_ties_and_all() -> None:
    # Two plans cost the same; the one with fewer changed designs wins, bought alone or as a pool of one.
    offers = [sold("s", "A", "block-1", 5), sold("s", "B", "block-2", 5)]
    problem = tiny(["block"], ["block-1", "block-2"], offers, found={"block": "block-2"})
    (got,) = checked(bought(problem)).plan.gets
    alone = answer(problem)
    assert alone.choice is not None
    assert (dict(got.choice.combination), alone.cost) == (dict(alone.choice.combination), 5_00)
    assert got.choice.combination == {"block": "block-2"}
