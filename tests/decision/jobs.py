"""Random jobs as sealed problems, their answers without settling ties, and every plan that they have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from oracle.brute import Found
from oracle.every import EveryPlan, TooMany, buyer
from oracle.random_shops import write_shop

from sourcing.folder import Folder
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.program.answer import answer


def cost_only(problem: Problem) -> Plan:
    return answer(problem, ties=False)


def possible_problems(seed: int, folder: Path, edges: bool = False) -> Iterator[Problem]:
    """The first setting of each job of a random shop that has a plan."""
    jobs = write_shop(seed, folder, edges)
    shop = Folder(folder / "catalogs")
    for job in jobs:
        problem = shop.problems(job)[0]
        if problem.fitting is not None and cost_only(problem).choice is not None:
            yield problem


@dataclass(frozen=True)
class Tried:
    """A job in which everything was tried: every plan by brute force, beside the sealed problem and its plan."""

    folder: Path
    job: Path
    problem: Problem
    plan: Plan
    buyer: EveryPlan
    plans: tuple[Found, ...]

    def cost(self, found: Found) -> int:
        return found.totals[self.problem.minimise]

    def least(self, *plans: Found) -> int | None:
        """The least cost of some plans; None of none."""
        return min((self.cost(plan) for plan in plans), default=None)


def tried_jobs(seed: int, folder: Path, edges: bool = False) -> Iterator[Tried]:
    """Every job of a random shop, those without a plan too, that is small enough to try everything in."""
    jobs = write_shop(seed, folder, edges)
    shop = Folder(folder / "catalogs")
    for job in jobs:
        who = buyer(folder / "catalogs", job)
        try:
            plans = tuple(who.every())
        except TooMany:
            continue
        problem = shop.problems(job)[0]
        yield Tried(folder / "catalogs", job, problem, cost_only(problem), who, plans)
