"""Random jobs as sealed problems, and their answers without settling ties."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from oracle.random_shops import write_shop

from sourcing.folder import Folder
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.program.answer import answer


def cost_only(problem: Problem) -> Plan:
    return answer(problem, ties=False)


def possible_problems(seed: int, folder: Path) -> Iterator[Problem]:
    """The first setting of each job of a random shop that has a plan."""
    jobs = write_shop(seed, folder)
    shop = Folder(folder / "catalogs")
    for job in jobs:
        problem = shop.problems(job)[0]
        if problem.fitting is not None and cost_only(problem).choice is not None:
            yield problem
