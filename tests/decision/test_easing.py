"""An impossible job: the conflict has no member to spare, and each easing frees it."""

from __future__ import annotations

from pathlib import Path

import pytest
from oracle.random_shops import write_shop

from decision.jobs import cost_only
from sourcing.book.family import Family
from sourcing.decision.easing import easings, limits_of, obstacle, without
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.problem import Problem


@pytest.mark.parametrize("seed", range(500, 512))
def test_what_stands_in_the_way_and_what_frees_it(seed: int, tmp_path: Path) -> None:
    jobs = write_shop(seed, tmp_path)
    folder = Folder(tmp_path / "catalogs")
    for path in jobs:
        problem = folder.problems(path)[0]
        if cost_only(problem).choice is not None:
            continue

        def seal(job: Job, family: Family, problem: Problem = problem) -> Problem:
            return folder.sealed(job, family, problem.setting)

        def blocked(gone: tuple, rules: list[str], problem: Problem = problem) -> bool:  # type: ignore[type-arg]
            kept = [rule for rule in problem.family.rules if rule.code in rules]
            book = problem.family.model_copy(update={"rules": kept})
            return cost_only(folder.sealed(without(problem.job, gone), book, problem.setting)).choice is None

        stands = obstacle(problem, seal, cost_only)
        gone = tuple(limit for limit in limits_of(problem.job) if limit not in stands.limits)
        assert blocked(gone, list(stands.rules))
        for limit in stands.limits:
            assert not blocked((*gone, limit), list(stands.rules))
        for code in stands.rules:
            assert not blocked(gone, [other for other in stands.rules if other != code])

        found = easings(problem, seal, cost_only)
        assert [easing.plan.cost for easing in found] == sorted(easing.plan.cost for easing in found)
        for easing in found:
            assert easing.plan.choice is not None
            for limit in easing.limits:
                fewer = tuple(other for other in easing.limits if other != limit)
                assert blocked(fewer, [rule.code for rule in problem.family.rules])
