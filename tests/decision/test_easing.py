"""An impossible job, by brute force: the conflict has no member to spare, each easing frees it and goes no further."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from random import Random

import pytest
from oracle import reading
from oracle.brute import Buyer
from oracle.random_shops import write_shop, write_toml
from program.tiny import MONDAY, sold, tiny

from decision.jobs import cost_only
from sourcing.book.family import Family
from sourcing.breaches import breaches
from sourcing.decision.easing import MOST_AT_ONCE, easings, limits_of, obstacle
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.prices.offers import Offers
from sourcing.problem import Problem
from sourcing.sealing import seal

SEEDS = [*range(500, 524), 10040, 10176, 10199]  # in the last three everything found may go back in
NO_LIMITS = reading.Limits()
# A limit as the job file calls it, and as the oracle does.
NAMES = {"require": "require", "exclude": "exclude", "conditions": "conditions", "suppliers": "suppliers",
         "avoid_suppliers": "avoid", "min_warranty_months": "min_warranty", "max_suppliers": "max_suppliers"}  # fmt: skip
LISTS = ("require", "exclude", "avoid_suppliers")
Bound = tuple[str, str]
"""A limit by its key and, where each value is a limit of its own, the value."""


@dataclass(frozen=True)
class Hard:
    """A job that has no plan, as the tool and as the oracle read it."""

    problem: Problem
    plain: reading.Problem
    folder: Folder

    def seal(self, job: Job, family: Family) -> Problem:
        return self.folder.sealed(job, family, self.problem.setting)

    def bounds(self) -> set[Bound]:
        """Every limit that the job has."""
        limits = self.plain.job.limits
        found = {("need_by", "")} if self.plain.job.need_by else set()
        for key, name in NAMES.items():
            value = getattr(limits, name)
            if key in LISTS:
                found |= {(key, item) for item in value}
            elif value != getattr(NO_LIMITS, name):
                found.add((key, ""))
        return found

    def rules(self) -> set[str]:
        return {rule.code for rule in self.plain.family.rules}

    def cost(self, gone: Iterable[Bound] = (), rules: Iterable[str] | None = None, **moved: object) -> int | None:
        """The least cost without some limits, with some rules only, and with some limits moved to another value."""
        gone, job = set(gone), self.plain.job
        changed: dict[str, object] = {}
        for key, name in NAMES.items():
            value = getattr(job.limits, name)
            if key in LISTS:
                changed[name] = [item for item in value if (key, item) not in gone]
            elif (key, "") in gone:
                changed[name] = getattr(NO_LIMITS, name)
            if key in moved:
                changed[name] = moved[key]
        need_by = moved.get("need_by", None if ("need_by", "") in gone else job.need_by)
        family = self.plain.family
        if rules is not None:
            family = replace(family, rules=[rule for rule in family.rules if rule.code in set(rules)])
        job = replace(job, need_by=need_by, limits=replace(job.limits, **changed))  # type: ignore[arg-type]
        plan = Buyer(replace(self.plain, job=job, family=family), job.worlds[0]).best()
        return None if plan is None else plan.totals[job.minimise]


def tighten(path: Path, seed: int) -> None:
    """Add limits to a job, so that most have no plan."""
    chance, job = Random(seed), reading.load(path)
    limits = job.setdefault("limits", {})
    day = reading.day_of(job["job"]["date"])
    if chance.random() < 0.7:
        job["job"]["need_by"] = day + dt.timedelta(days=chance.randint(1, 7))
    if chance.random() < 0.5:
        limits["min_warranty_months"] = chance.choice([3, 6, 13])
    if chance.random() < 0.7:
        limits["max_suppliers"] = 1
    if chance.random() < 0.4:
        limits["conditions"] = sorted(chance.sample(["new", "reman", "used"], 2))
    if chance.random() < 0.3:
        limits["avoid_suppliers"] = ["s0"]
    write_toml(path, job)


def hard_jobs(seed: int, folder: Path) -> Iterator[Hard]:
    """The jobs of a small shop that the oracle finds no plan for."""
    jobs = write_shop(seed, folder, edges=True)
    shop = Folder(folder / "catalogs")
    for path in jobs:
        tighten(path, seed)
        job = Hard(shop.problems(path)[0], reading.read_problem(folder / "catalogs", path), shop)
        if job.cost() is None:
            assert cost_only(job.problem).choice is None
            yield job


def bound(key: str, value: str) -> Bound:
    return (key, value if key in LISTS else "")


@pytest.mark.parametrize("seed", SEEDS)
def test_no_limit_and_no_rule_of_a_conflict_can_be_spared(seed: int, tmp_path: Path) -> None:
    for job in hard_jobs(seed, tmp_path):
        stands = obstacle(job.problem, job.seal, cost_only)
        held, rules = {bound(limit.key, limit.value) for limit in stands.limits}, set(stands.rules)
        assert held <= job.bounds() and rules <= job.rules()
        gone = job.bounds() - held
        assert job.cost(gone, rules) is None
        for one in held:
            assert job.cost({*gone, one}, rules) is not None, f"{one} is no part of the conflict"
        for code in rules:
            assert job.cost(gone, rules - {code}) is not None, f"{code} is no part of the conflict"


@pytest.mark.parametrize("seed", SEEDS)
def test_every_smallest_set_of_limits_that_frees_a_job_is_told_and_no_other(seed: int, tmp_path: Path) -> None:
    for job in hard_jobs(seed, tmp_path):
        freeing: list[set[Bound]] = []
        for size in range(1, MOST_AT_ONCE + 1):
            for some in map(set, combinations(sorted(job.bounds()), size)):
                if not any(less <= some for less in freeing) and job.cost(some) is not None:
                    freeing.append(some)
        found = easings(job.problem, job.seal, cost_only)
        told = [{bound(limit.key, limit.value) for limit in easing.limits} for easing in found]
        assert sorted(map(sorted, told)) == sorted(map(sorted, freeing))
        assert [easing.plan.cost for easing in found] == sorted(easing.plan.cost for easing in found)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_easing_goes_no_further_than_it_must_and_eases_no_rule(seed: int, tmp_path: Path) -> None:
    for job in hard_jobs(seed, tmp_path):
        said = job.plain.job
        for easing in easings(job.problem, job.seal, cost_only):
            eased, gone = easing.plan.problem.job, {bound(limit.key, limit.value) for limit in easing.limits}
            now: dict[str, object] = {
                "need_by": eased.job.need_by,
                "min_warranty_months": eased.limits.min_warranty_months,
                "max_suppliers": eased.limits.max_suppliers,
            }
            moved = {key: now[key] for key, _ in gone if key in now}
            assert easing.plan.cost == job.cost(gone, **moved)
            assert easing.plan.problem.family.rules == job.problem.family.rules
            assert easing.plan.choice is not None and breaches(easing.plan.problem, easing.plan.choice) == []
            assert {limit.key for limit in limits_of(eased)} >= {key for key, _ in job.bounds() - gone}
            for key in moved:
                assert job.cost(gone, **{**moved, key: nearer(key, now[key], said)}) is None, f"{key} moved too far"


def nearer(key: str, value: object, said: reading.Job) -> object:
    """The value next to an eased one on the side of what the job said."""
    if key == "need_by":
        assert isinstance(value, dt.date), "a day is put off, not dropped"
        return value - dt.timedelta(days=1)
    if key == "min_warranty_months":
        assert isinstance(value, int) and value < said.limits.min_warranty
        return value + 1
    assert isinstance(value, int), "one more supplier, not any number"
    return value - 1


def test_as_many_suppliers_more_as_are_needed_and_a_promise_put_off_to_the_first_day_that_serves() -> None:
    """Three positions, each at a supplier of its own; the third sends by the slow way only."""
    positions, suppliers = ["block", "plate", "body"], {"a": {}, "b": {}, "c": {"lead_days": 3}, "d": {"lead_days": 5}}
    rows = [sold("a", "A", "block-1", 10), sold("b", "B", "plate-1", 10), sold("c", "C", "body-1", 10),
            sold("d", "D", "body-1", 1)]  # fmt: skip
    job = {"need_by": MONDAY + dt.timedelta(days=1)}
    tight = tiny(
        positions, ["block-1", "plate-1", "body-1"], rows, suppliers=suppliers, job=job, limits={"max_suppliers": 2}
    )

    def seal_anew(job: Job, family: Family) -> Problem:
        every = tiny(positions, ["block-1", "plate-1", "body-1"], rows, suppliers=suppliers)
        return seal(job, family, tight.shop, tight.terms, Offers(job.job.date, every.offers), tight.setting)

    assert {limit.key for limit in obstacle(tight, seal_anew, cost_only).limits} < {"need_by", "max_suppliers"}
    (easing,) = easings(tight, seal_anew, cost_only)
    assert {limit.key for limit in easing.limits} == {"need_by", "max_suppliers"}
    eased = easing.plan.problem.job
    assert (eased.limits.max_suppliers, eased.job.need_by) == (3, MONDAY + dt.timedelta(days=3))
    assert easing.plan.cost == 3000, "the cheaper body would be here two days later"
