"""The oracle agrees with the worked shops, and its three ways to a cost agree with each other."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from oracle import brute, cpsat, scipy_milp
from oracle.random_shops import write_shop

WORKED = Path(__file__).resolve().parents[2] / "shared" / "worked"
SEEDS = range(40)


def worked_jobs() -> list[Any]:
    """Each worked job with its expected answer; one skipped case where the folder is not there."""
    if not (WORKED / "expected.json").is_file():
        return [pytest.param("", {}, marks=pytest.mark.skip(reason=f"no worked shops at {WORKED}"))]
    expected = json.loads((WORKED / "expected.json").read_text(encoding="utf-8"))
    return [pytest.param(job, answer, id=job) for job, answer in expected.items()]


@pytest.mark.parametrize(("job", "expected"), worked_jobs())
def test_brute_force_agrees_with_the_worked_shops(job: str, expected: dict[str, Any]) -> None:
    shop = WORKED / job.split("-")[0]
    answer = brute.best(shop / "catalogs", shop / "scenarios" / f"{job}.toml")
    assert answer["status"] == expected["status"]
    if answer["status"] == "proven":
        assert answer["totals"][expected["minimise"]] == expected["cost"]
        assert answer["combination"] == expected["one_combination"]
        cents = {name: f"{float(amount):.2f}" for name, amount in expected["its_totals"].items()}
        assert answer["totals"] == cents


@pytest.mark.parametrize("seed", SEEDS)
def test_three_ways_to_the_least_cost_agree(seed: int, tmp_path: Path) -> None:
    for job in write_shop(seed, tmp_path):
        by_trying = brute.costs(tmp_path / "catalogs", job)
        assert cpsat.costs(tmp_path / "catalogs", job) == by_trying
        assert scipy_milp.costs(tmp_path / "catalogs", job) == by_trying


def test_a_shop_is_drawn_the_same_from_its_seed(tmp_path: Path) -> None:
    first, second = write_shop(7, tmp_path / "a"), write_shop(7, tmp_path / "b")
    assert [path.read_text() for path in first] == [path.read_text() for path in second]
    answers = [brute.best(tmp_path / n / "catalogs", jobs[0]) for n, jobs in (("a", first), ("b", second))]
    assert answers[0] == answers[1]
