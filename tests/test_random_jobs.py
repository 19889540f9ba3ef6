"""The tool against independent witnesses, and its laws, on random shops that use every field."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from oracle import brute, cpsat, scipy_milp
from oracle.random_shops import write_shop, write_toml
from oracle.reading import World, read_problem

from sourcing.breaches import breaches
from sourcing.decision.possibilities import Answered, answer_all
from sourcing.folder import Folder
from sourcing.job import InHand
from sourcing.plan import Plan, Status, price
from sourcing.prices.offers import Offers
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.program.build import build
from sourcing.program.solver import Effort, Outcome, solve
from sourcing.quote.record import record
from sourcing.sealing import seal
from sourcing.settings import settings_of

SEEDS = range(1000, 1160)  # two jobs each; other seeds than those on which the witnesses are compared with each other
OTHER_WITNESSES = range(1000, 1032)
SECOND_OPINION = range(1000, 1020)
LAWS = settings(
    max_examples=12, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
)
seeds = st.integers(2000, 9999)


def answered(catalogs: Path, job: Path) -> Answered:
    return answer_all(Folder(catalogs).problems(job), answer)


def as_told(told: dict[str, Any], like: dict[str, Any]) -> dict[str, Any]:
    """An answer cut down to what a witness says too; hours as the witness writes them."""
    cut = {key: told[key] for key in like}
    if "tasks" in like:
        cut["tasks"] = [{**task, "hours": f"{Decimal(str(task['hours'])).normalize():f}"} for task in told["tasks"]]
    lines = like.get("purchases", [])
    if len(cut.get("purchases", [])) == len(lines) > 0:
        pairs = zip(cut["purchases"], lines, strict=True)
        cut["purchases"] = [{key: line.get(key) for key in other} for line, other in pairs]
    if len(cut.get("in_hand", [])) == len(like.get("in_hand", [])) > 0:
        both = zip(cut["in_hand"], like["in_hand"], strict=True)
        cut["in_hand"] = [{key: part.get(key) for key in other} for part, other in both]
    return cut


def plan_in(world: World, found: Answered) -> Plan:
    """The tool's plan for one way in which what is open may turn out."""
    for setting, plan in found.possibilities:
        facts = all(world.facts.get(code) == value for code, value in setting.facts.items())
        if (setting.era, setting.vehicle_era) == (world.era, world.vehicle_era) and facts:
            return plan
    raise AssertionError(f"{world} was not looked at")


def costs(found: Answered, worlds: list[World]) -> list[int | None]:
    plans = [plan_in(world, found) for world in worlds]
    return [None if plan.choice is None else plan.cost for plan in plans]


@pytest.mark.parametrize("seed", SEEDS)
def test_brute_force_gives_the_whole_answer_too(seed: int, tmp_path: Path) -> None:
    """Status, era, combination, kept, lines, freight, returns, tasks and totals: the one answer among equals."""
    for job in write_shop(seed, tmp_path):
        found = answered(tmp_path / "catalogs", job)
        expected = brute.best(tmp_path / "catalogs", job)
        assert as_told(record(found), expected) == expected, job.stem
        if expected["status"] == "open":
            worlds = read_problem(tmp_path / "catalogs", job).job.worlds
            assert costs(found, worlds) == brute.costs(tmp_path / "catalogs", job), job.stem
        for _, plan in found.possibilities:
            if plan.choice is not None:
                assert breaches(plan.problem, plan.choice) == [], job.stem
                assert plan.totals == price(plan.problem, plan.choice)[0]
                assert plan.proof.bound == plan.cost


@pytest.mark.parametrize("seed", OTHER_WITNESSES)
def test_two_independent_programs_cost_the_same_in_every_world(seed: int, tmp_path: Path) -> None:
    for job in write_shop(seed, tmp_path):
        catalogs = tmp_path / "catalogs"
        mine = costs(answered(catalogs, job), read_problem(catalogs, job).job.worlds)
        assert mine == cpsat.costs(catalogs, job), job.stem
        assert mine == scipy_milp.costs(catalogs, job), job.stem


@pytest.mark.parametrize("seed", SECOND_OPINION)
def test_the_second_solver_proves_the_same_cost(seed: int, tmp_path: Path) -> None:
    for job in write_shop(seed, tmp_path):
        for problem in Folder(tmp_path / "catalogs").problems(job)[:2]:
            if problem.fitting is None:
                continue
            model = build(problem).model
            first, second = solve(model, Effort()), solve(model, Effort(engine="cbc"))
            assert first.outcome == second.outcome, job.stem
            if first.outcome == Outcome.OPTIMAL:
                assert first.objective == pytest.approx(second.objective, abs=0.01), job.stem


# Laws


@cache
def drawn(seed: int, folder: Path) -> tuple[Folder, tuple[Path, ...]]:
    jobs = write_shop(seed, folder / str(seed))
    return Folder(folder / str(seed) / "catalogs"), tuple(jobs)


def sealed(shop: Folder, job: Path, change: Callable[[Offers], Offers] = lambda offers: offers, **head: Any) -> Problem:
    """A job's first possible problem, its offers or the head of the job changed."""
    read = shop.read_job(job)
    read = read.model_copy(update={"job": read.job.model_copy(update=head)})
    family, parts = shop.family(read.job.family)
    offers = change(shop.prices.in_force(read.job.date, parts))
    return seal(read, family, shop.shop, shop.terms, offers, settings_of(read, family, "")[0])


def cost_of(problem: Problem) -> float:
    plan = answer(problem, ties=False)
    assert plan.status in (Status.PROVEN, Status.IMPOSSIBLE)
    if plan.choice is None:
        return float("inf")
    assert breaches(problem, plan.choice) == []
    return plan.cost


@pytest.fixture(scope="module")
def shops(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shops")


@LAWS
@given(seed=seeds, pick=st.integers(0, 1000))
def test_one_more_offer_never_costs_more(shops: Path, seed: int, pick: int) -> None:
    """A plan that buys nothing of an offer stays valid, at the same price, when the offer is there."""
    shop, jobs = drawn(seed, shops)

    def without(offers: Offers) -> Offers:
        gone = pick % len(offers.offers)
        return replace(offers, offers=offers.offers[:gone] + offers.offers[gone + 1 :])

    assert cost_of(sealed(shop, jobs[0])) <= cost_of(sealed(shop, jobs[0], without))


@LAWS
@given(seed=seeds, days=st.integers(0, 6), more=st.integers(1, 6))
def test_a_later_need_by_never_costs_more(shops: Path, seed: int, days: int, more: int) -> None:
    """What arrives by a day arrives by a later day too."""
    shop, jobs = drawn(seed, shops)
    head = shop.read_job(jobs[0]).job
    early = head.date + timedelta(days=days)
    late: date = early + timedelta(days=more)
    first, second = sealed(shop, jobs[0], need_by=early), sealed(shop, jobs[0], need_by=late)
    third = sealed(shop, jobs[0], need_by=None)
    assert cost_of(first) >= cost_of(second) >= cost_of(third)


@LAWS
@given(seed=seeds, pick=st.integers(0, 1000))
def test_a_part_on_the_shelf_never_costs_more_than_none(shops: Path, seed: int, pick: int) -> None:
    """A plan that leaves it there stays valid, at the same price; at a cost that nobody pays it changes nothing."""
    shop, jobs = drawn(seed, shops)
    read = shop.read_job(jobs[0]).model_copy(update={"in_hand": {}})
    family, parts = shop.family(read.job.family)
    design = family.designs[pick % len(family.designs)]

    def priced(**said: Any) -> float:
        here = {design.position: InHand(design=design.code, **said)} if said else {}
        offers = shop.prices.in_force(read.job.date, parts)
        job = read.model_copy(update={"in_hand": here})
        return cost_of(seal(job, family, shop.shop, shop.terms, offers, settings_of(job, family, "")[0]))

    without, free = priced(), priced(source="shelf")
    assert free <= without
    if without < float("inf"):
        assert priced(source="shelf", cost=Decimal(999_999)) == without


@LAWS
@given(seed=seeds)
def test_what_is_minimised_is_the_least_of_its_kind(shops: Path, seed: int) -> None:
    """No plan that is best by another measure is better by this one."""
    shop, jobs = drawn(seed, shops)
    plans = {name: answer(sealed(shop, jobs[1], minimise=name), ties=False) for name in ("cash", "landed", "whole")}
    for name, plan in plans.items():
        assert {other.status for other in plans.values()} == {plan.status}
        if plan.choice is not None:
            assert plan.totals.of(name) == min(other.totals.of(name) for other in plans.values())


def shuffled(catalogs: Path, random: Random) -> None:
    """The same shop with its suppliers, freight modes, parts, rules and price rows in another order."""
    suppliers = load(catalogs / "suppliers.toml")
    random.shuffle(suppliers["supplier"])
    for supplier in suppliers["supplier"]:
        random.shuffle(supplier.get("freight", []))
    write_toml(catalogs / "suppliers.toml", suppliers)
    (book,) = catalogs.glob("*/interchange.toml")
    read = load(book)
    random.shuffle(read["rule"])
    write_toml(book, read)
    parts = book.with_name("parts.csv")
    header, *rows = parts.read_text(encoding="utf-8").splitlines(keepends=True)
    random.shuffle(rows)
    parts.write_text(header + "".join(rows), encoding="utf-8", newline="")
    for sheet in sorted(catalogs.glob("price-sheets/*/*.[ct]sv")):
        header, *rows = sheet.read_bytes().decode().splitlines(keepends=True)
        random.shuffle(rows)
        sheet.write_bytes((header + "".join(rows)).encode())


def load(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)


def as_bytes(found: Answered, rows: bool = False) -> bytes:
    """What scripts are told, less the seconds that it took and, where rows were moved, their numbers."""
    told = record(found)
    told["proof"].pop("seconds")
    for line in told["purchases"]:
        if not rows:
            line["source"].pop("row")
    return json.dumps(told, ensure_ascii=False).encode()


@pytest.mark.parametrize("seed", range(1200, 1220))
def test_the_order_of_rows_suppliers_and_rules_changes_nothing(seed: int, tmp_path: Path) -> None:
    catalogs = tmp_path / "catalogs"
    jobs = write_shop(seed, tmp_path)
    before = [as_bytes(answered(catalogs, job)) for job in jobs]
    shuffled(catalogs, Random(seed))
    assert [as_bytes(answered(catalogs, job)) for job in jobs] == before


@pytest.mark.parametrize("seed", range(1200, 1205))
def test_the_same_job_twice_gives_the_same_bytes(seed: int, tmp_path: Path) -> None:
    catalogs = tmp_path / "catalogs"
    for job in write_shop(seed, tmp_path):
        assert as_bytes(answered(catalogs, job), rows=True) == as_bytes(answered(catalogs, job), rows=True)
