"""Which combinations the book allows in one world."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from .reading import NONE, Problem, Rule, Task, When, World


def combinations(problem: Problem, world: World) -> Iterator[dict[str, str]]:
    """Every valid combination in that world that the job's require and exclude leave, one by one."""
    family, limits = problem.family, problem.job.limits
    choices = [
        [d.code for d in family.designs_of(p.code) if world.era in d.eras and d.code not in limits.exclude]
        + ([NONE] if p.optional else [])
        for p in family.positions
    ]
    for designs in product(*choices):
        combination = {p.code: d for p, d in zip(family.positions, designs, strict=True)}
        if set(limits.require) <= set(designs) and not any(breaks(rule, combination, world) for rule in family.rules):
            yield combination


def breaks(rule: Rule, combination: dict[str, str], world: World) -> bool:
    """Whether a combination breaks a rule."""
    if not holds(rule.when, combination, world):
        return False
    if rule.need is not None:
        return any(combination[position] not in designs for position, designs in rule.need.items())
    if rule.never is not None:
        return all(combination[position] in designs for position, designs in rule.never.items())
    stands = [combination[position] for position in rule.allow_positions or []]
    return not any(
        all(cell in ("*", design) for cell, design in zip(row, stands, strict=True)) for row in rule.allow_rows
    )


def holds(when: When, combination: dict[str, str], world: World) -> bool:
    """Whether every key of `when` stands at one of its values."""
    return all((combination[key] if key in combination else world.value(key)) in values for key, values in when.items())


def tasks_done(problem: Problem, combination: dict[str, str], world: World, bought: frozenset[str]) -> list[Task]:
    """The tasks that apply where the positions in `bought` are filled by bought parts."""
    return [
        task
        for task in problem.family.tasks
        if holds(task.when, combination, world) and (task.replacing is None or bought & set(task.replacing))
    ]
