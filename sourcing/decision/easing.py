"""An impossible job: a smallest set that stands in the way, and the least easings of its limits that free it.

Rules of fitment are told, never eased.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

from sourcing.book.family import Family
from sourcing.decision import Answer
from sourcing.job import Job, Limits
from sourcing.plan import Plan
from sourcing.problem import Problem

Seal = Callable[[Job, Family], Problem]
MOST_AT_ONCE = 3


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a job: `key` and `value` as the job file has them."""

    key: str
    value: str = ""

    def __str__(self) -> str:
        return f"{self.key} {self.value}".strip()


@dataclass(frozen=True)
class Easing:
    """Limits that were eased, each in words, and the best plan with them eased."""

    limits: tuple[Limit, ...]
    says: str
    plan: Plan


@dataclass(frozen=True)
class Obstacle:
    """A smallest conflict: without any one of its limits or rules (by code) it is none."""

    limits: tuple[Limit, ...]
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Freed:
    """What stands in the way of an impossible job, and what would free it, cheapest first."""

    stands: Obstacle
    easings: tuple[Easing, ...]


def freed(problem: Problem, seal: Seal, answer: Answer) -> Freed:
    """Both sides of an impossible job."""
    return Freed(obstacle(problem, seal, answer), tuple(easings(problem, seal, answer)))


def limits_of(job: Job) -> list[Limit]:
    """Every limit of a job that can stand in the way of a plan."""
    said = job.limits
    found = [Limit("need_by", job.job.need_by.isoformat())] if job.job.need_by else []
    found += [Limit("require", design) for design in said.require]
    found += [Limit("exclude", design) for design in said.exclude]
    found += [Limit("conditions", ", ".join(said.conditions))] if said.conditions is not None else []
    found += [Limit("suppliers", ", ".join(said.suppliers))] if said.suppliers is not None else []
    found += [Limit("avoid_suppliers", code) for code in said.avoid_suppliers]
    found += [Limit("min_warranty_months", str(said.min_warranty_months))] if said.min_warranty_months else []
    found += [Limit("max_suppliers", str(said.max_suppliers))] if said.max_suppliers is not None else []
    return found


def without(job: Job, limits: tuple[Limit, ...]) -> Job:
    """The job with some of its limits removed."""
    keys = {limit.key for limit in limits}
    gone = {(limit.key, limit.value) for limit in limits}
    said = job.limits
    changed: dict[str, object] = {
        name: [item for item in getattr(said, name) if (name, item) not in gone]
        for name in ("require", "exclude", "avoid_suppliers")
    }
    blank = Limits()
    for name in ("conditions", "suppliers", "min_warranty_months", "max_suppliers"):
        if name in keys:
            changed[name] = getattr(blank, name)
    header = job.job.model_copy(update={"need_by": None}) if "need_by" in keys else job.job
    return job.model_copy(update={"job": header, "limits": said.model_copy(update=changed)})


def obstacle(problem: Problem, seal: Seal, answer: Answer) -> Obstacle:
    """A smallest set of limits and rules that leaves no plan, by deletion: what can be spared is dropped for good."""
    job, family = problem.job, problem.family

    def blocked(gone: list[Limit], rules: list[str]) -> bool:
        book = family.model_copy(update={"rules": [rule for rule in family.rules if rule.code in rules]})
        return answer(seal(without(job, tuple(gone)), book)).choice is None

    rules = [rule.code for rule in family.rules]
    gone: list[Limit] = []
    for limit in limits_of(job):
        if blocked([*gone, limit], rules):
            gone.append(limit)
    for code in list(rules):
        fewer = [other for other in rules if other != code]
        if blocked(gone, fewer):
            rules = fewer
    return Obstacle(tuple(limit for limit in limits_of(job) if limit not in gone), tuple(rules))


def easings(problem: Problem, seal: Seal, answer: Answer) -> list[Easing]:
    """Each smallest set of at most three limits whose easing gives a plan, cheapest first.

    A limit with a scale (a date, months, a number) is moved to the next value that gives a plan; others are removed.
    """
    found: list[Easing] = []
    limits = limits_of(problem.job)
    for size in range(1, min(MOST_AT_ONCE, len(limits)) + 1):
        for some in combinations(limits, size):
            if any(set(easing.limits) <= set(some) for easing in found):
                continue
            plan = answer(seal(without(problem.job, some), problem.family))
            if plan.choice is not None:
                found.append(_least(problem, some, plan, seal, answer))
    return sorted(found, key=lambda easing: (easing.plan.cost, easing.says))


def _least(problem: Problem, limits: tuple[Limit, ...], removed: Plan, seal: Seal, answer: Answer) -> Easing:
    """Move the limits that have a scale no further than they must, one after the other."""
    plan, says = removed, []
    job = without(problem.job, limits)
    for limit in limits:
        said = f"without {limit}"
        for moved, words in _nearer(problem, limit, job, seal):
            tried = answer(seal(moved, problem.family))
            if tried.choice is not None:
                plan, job, said = tried, moved, words
                break
        says.append(said)
    return Easing(limits, "; ".join(says), plan)


def _nearer(problem: Problem, limit: Limit, job: Job, seal: Seal) -> Iterator[tuple[Job, str]]:
    """The job with one limit moved step by step, nearest first; nothing for a limit without a scale."""
    said = problem.job.limits
    if limit.key == "need_by" and problem.job.job.need_by:
        days = {line.arrives for line in seal(job, problem.family).lines if line.arrives > problem.job.job.need_by}
        for day in sorted(days):
            yield (
                job.model_copy(update={"job": job.job.model_copy(update={"need_by": day})}),
                f"need_by {day.isoformat()}",
            )
    steps: list[int] = []
    if limit.key == "min_warranty_months":
        offered = {line.offer.part.warranty_months for line in seal(job, problem.family).lines}
        steps = sorted((months for months in offered if 0 < months < said.min_warranty_months), reverse=True)
    elif limit.key == "max_suppliers" and said.max_suppliers is not None:
        steps = list(range(said.max_suppliers + 1, len(problem.terms) + 1))
    for step in steps:
        moved = job.limits.model_copy(update={limit.key: step})
        yield job.model_copy(update={"limits": moved}), f"{limit.key} {step}"
