"""Buying for several jobs together against independent witnesses, and its laws, on random pools."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from oracle import brute, pool, pool_check, pool_cpsat, pool_scipy
from oracle.random_pools import write_pool
from oracle.reading import read_problem

from sourcing import buy_jobs, open_shop
from sourcing.pool.buying import Bought
from sourcing.quote.poolrecord import pool_record

SMALL = range(1000, 1080)
# Doubled kits of little stock for like jobs; lines for the shelf alone where nobody waits so long: each went wrong once.
ONCE_WRONG = [153, 203, 355, 377, 428, 502]
MIDDLE = [0, 3, 4, 8, 13]


def bought(catalogs: Path, jobs: Sequence[Path]) -> Bought:
    return buy_jobs(open_shop(catalogs), jobs)


def cost_of(told: dict[str, Any], minimise: str) -> int | None:
    return int(Decimal(told["totals"][minimise]) * 100) if told["totals"] else None


@pytest.mark.parametrize("seed", [*ONCE_WRONG, *SMALL])
def test_a_small_pool_costs_what_trying_everything_finds(seed: int, tmp_path: Path) -> None:
    """Least cost, whole plan, and what the jobs cost one after another."""
    jobs = write_pool(seed, tmp_path)
    catalogs = tmp_path / "catalogs"
    told = pool_record(bought(catalogs, jobs))
    expected = pool.cost(catalogs, jobs)
    assert told["status"] == ("impossible" if expected is None else "proven")
    assert cost_of(told, read_problem(catalogs, jobs[0]).job.minimise) == expected
    assert pool_check.check(catalogs, jobs, told) == []


@pytest.mark.parametrize("seed", MIDDLE)
def test_a_middle_pool_costs_what_two_programs_find(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path, "middle")
    catalogs = tmp_path / "catalogs"
    told = pool_record(bought(catalogs, jobs))
    cost = cost_of(told, read_problem(catalogs, jobs[0]).job.minimise)
    assert cost == pool_scipy.cost(catalogs, jobs)
    assert cost == pool_cpsat.cost(catalogs, jobs)
    assert pool_check.check(catalogs, jobs, told, with_alone=False) == []


@pytest.mark.parametrize("seed", range(1100, 1130))
def test_a_pool_of_one_is_the_quote_of_the_job(seed: int, tmp_path: Path) -> None:
    """Whatever a job by itself costs by brute force; nothing is saved."""
    catalogs = tmp_path / "catalogs"
    for job in write_pool(seed, tmp_path):
        expected = brute.best(catalogs, job)
        told = pool_record(bought(catalogs, [job]))
        assert told["status"] == expected["status"]
        if expected["status"] == "proven":
            minimise = read_problem(catalogs, job).job.minimise
            assert told["totals"][minimise] == expected["totals"][minimise] == told["alone"] == told["jobs"][0]["share"]
            assert told["saved"] == "0.00"


def as_told(told: dict[str, Any]) -> dict[str, Any]:
    """What must not hang on the order in which jobs are named."""
    return {key: value for key, value in told.items() if key != "proof"}


@pytest.mark.parametrize("seed", range(1130, 1150))
def test_the_order_of_the_jobs_changes_nothing(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path)
    first, second = (pool_record(bought(tmp_path / "catalogs", order)) for order in (jobs, jobs[::-1]))
    assert as_told(first) == as_told(second)


def test_a_pool_is_never_dearer_than_its_jobs_one_after_another(tmp_path: Path) -> None:
    """But where laying orders together takes something away: each such pool has a cause that the files show."""
    seen: Counter[str] = Counter()
    for seed in range(1150, 1230):
        catalogs = tmp_path / str(seed) / "catalogs"
        jobs = write_pool(seed, tmp_path / str(seed))
        told = pool_record(bought(catalogs, jobs))
        if told.get("saved") is None:
            seen["not to be compared"] += 1
        elif Decimal(told["saved"]) >= 0:
            seen["saved" if Decimal(told["saved"]) else "the same"] += 1
        else:
            cause = pool.why_dearer(pool.read_pool(catalogs, jobs))
            assert cause, (seed, told["saved"])
            seen["dearer"] += 1
    assert seen["saved"] > 20, seen
    assert seen["the same"] > 3, seen
    assert seen["dearer"] < seen["saved"] / 5, seen
