"""The oracle agrees with the worked shops, and its three ways to a cost agree with each other."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from oracle import brute, cpsat, scipy_milp
from oracle.random_shops import write_shop

WORKED = Path(__file__).resolve().parents[2] / "shared" / "worked"
SEEDS = range(40)


FIELDS = {
    "interchange.toml": """code name from to model_years ask values of lead optional comeback_cost conditions
        may_keep position needs fitted retrofits marks weight_kg comeback_rate kept_comeback_rate says source
        caution when need never allow positions rows hours cost replacing era vehicle_era inspection unit accept""",
    "suppliers.toml": """code name currency lead_days order_minimum core_recovery core_return_cost breaks
        freight mode days flat per_kg free_over columns order_fee return_days restock_share core_days core_needs""",
    "shop.toml": """currency labour_rate labour_cost comeback_cost day_cost holidays tax_parts tax_labour
        quote_days worth_changing shop_supplies share cap fx markup up_to factor wanted design pieces
        worth""",
    "job": """number family customer date need_by minimise vehicle built model_year vin facts unit tag found
        limits keep require exclude conditions suppliers avoid_suppliers min_warranty_months max_suppliers
        cores labour base_hours wanted readings unavailable in_hand design source supplier part_number cost came""",
}


def keys_of(value: Any) -> set[str]:
    """Every key in a document, however deep."""
    if isinstance(value, dict):
        return set(value).union(*(keys_of(inner) for inner in value.values()))
    return set().union(*(keys_of(inner) for inner in value)) if isinstance(value, list) else set()


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


def test_the_random_shops_use_every_field_between_them(tmp_path: Path) -> None:
    used: dict[str, set[str]] = {name: set() for name in FIELDS}
    headers: set[str] = set()
    for seed in SEEDS:
        write_shop(seed, tmp_path / str(seed))
    for path in tmp_path.rglob("*.toml"):
        name = path.name if path.name in FIELDS else "job"
        used[name] |= keys_of(tomllib.loads(path.read_text(encoding="utf-8")))
    for path in tmp_path.rglob("parts.csv"):
        headers |= set(path.read_text(encoding="utf-8").splitlines()[0].split(","))
    assert {name: set(fields.split()) - used[name] for name, fields in FIELDS.items()} == {n: set() for n in FIELDS}
    columns = "supplier part_number fills condition warranty_months core_accepts comeback_rate replaced_by note"
    assert headers == set(columns.split())
