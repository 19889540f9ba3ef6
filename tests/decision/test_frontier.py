"""Cost against the ready day, expected comebacks and cash: the undominated of all plans, and nothing else."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from oracle.every import front
from program.tiny import sold, tiny

from decision.jobs import Tried, cost_only, tried_jobs
from sourcing.decision.frontier import by_ready_day, by_total, most_durable, soonest
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.workdays import after

SEEDS = range(420, 440)


def days_and_costs(it: Tried) -> list[tuple[date, int]]:
    """The undominated pairs of arrival and cost among all plans, soonest first."""
    pairs = front([(it.buyer.days(plan), it.cost(plan)) for plan in it.plans])
    return [(it.buyer.problem.arrival(days), cost) for days, cost in pairs]


@pytest.mark.parametrize("seed", SEEDS)
def test_cost_against_the_day_has_every_point_and_no_dominated_one(seed: int, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=seed % 2 == 0):
        head, closed = it.problem.job.job, frozenset(it.problem.shop.holidays)
        found = by_ready_day(it.problem, cost_only)
        assert [(day or after(head.date, 0, closed), plan.cost) for day, plan in found] == days_and_costs(it)
        assert [day for day, _ in found] == [plan.last_arrival for _, plan in found]
        quick = soonest(it.problem, cost_only)
        if found:
            assert (quick.last_arrival, quick.cost) == (found[0][0], found[0][1].cost)
            assert found[-1][1].cost == it.plan.cost
        else:
            assert quick.choice is None


@pytest.mark.parametrize("total", ["comebacks", "cash"])
@pytest.mark.parametrize("seed", SEEDS)
def test_cost_against_a_total_has_every_point_and_no_dominated_one(seed: int, total: str, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=seed % 2 == 0):
        found = by_total(it.problem, total, cost_only)
        expected = front([(it.cost(plan), plan.totals[total]) for plan in it.plans])
        assert [(plan.cost, plan.totals.of(total)) for plan in found] == expected
        if total == "comebacks":
            lasting = most_durable(it.problem, cost_only)
            told = (lasting.cost, lasting.totals.comebacks) if lasting.choice is not None else None
            assert told == (expected[-1] if expected else None)


def with_cores(*rows: tuple[str, str, str]) -> Problem:
    """A block from one of some suppliers, each with its price and its core charge, which comes back."""
    offers = [sold(f"s-{number}", number, "block-1", price, core_charge=core) for number, price, core in rows]
    return tiny(["block"], ["block-1"], offers, job={"minimise": "landed"}, found={"block": "block-1"})


def test_a_cent_less_cash_is_a_point_of_its_own() -> None:
    problem = with_cores(("A", "90.00", "10.01"), ("B", "100.00", "0"))
    assert [(plan.cost, plan.totals.cash) for plan in by_total(problem, "cash", cost_only)] == [
        (9000, 10001),
        (10000, 10000),
    ]


def test_of_two_that_cost_the_same_only_the_one_with_less_cash_is_a_point() -> None:
    """Whichever of the two the solver comes upon first."""
    problem = with_cores(("A", "100.00", "10.00"), ("B", "100.00", "0"))
    for offer in problem.offers:

        def this_one_first(asked: Problem, first: int = offer.id) -> Plan:
            return cost_only(asked if asked.ceilings else asked.filled_by(first))

        assert [(plan.cost, plan.totals.cash) for plan in by_total(problem, "cash", this_one_first)] == [(10000, 10000)]
