"""The ways in which the positions of a unit that hang together can be made up: whole combinations, listed.

Counting designs position by position would not keep together what belongs together: of two units one could be said to hold
the block of one pair and the plate of the other. So like units are counted by whole combinations of each group of positions
that a rule or a task ties; what stands in one group asks nothing of another, so that groups may be counted by themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from sourcing.book.family import NONE
from sourcing.book.fitting import Fitting, joined
from sourcing.problem import Problem, Work

# Beyond so many ways of one group the program takes the rules as tables, unit by unit.
MOST_WAYS = 2_000


@dataclass(frozen=True, slots=True)
class Way:
    """One make-up of a group: its designs, which of its parts are kept or in hand, the works that come with it."""

    designs: tuple[str, ...]
    kept: frozenset[str]
    here: frozenset[str]
    works: tuple[Work, ...]


@dataclass(frozen=True, slots=True)
class Ways:
    """Every way of a group. `sourced`: positions of which each way says whether the part is kept, in hand or bought."""

    positions: tuple[str, ...]
    sourced: frozenset[str]
    all: tuple[Way, ...]


def ways_of(problem: Problem, most: int = MOST_WAYS) -> tuple[Ways, ...] | None:
    """The ways of every group of positions; None where a group has more than `most`, or nothing fits."""
    fitting = problem.fitting
    if fitting is None:
        return None
    works = [work for work in problem.works if work.cents and problem.minimise == "whole"]
    ties = [table.positions for table in fitting.tables]
    ties += [tuple({*(position for position, _ in work.when), *(work.replacing or ())}) for work in works]
    told = {position for work in works for position in work.replacing or ()}
    groups = []
    for group in joined(fitting.domains, [tie for tie in ties if tie]):
        listed = _listed(problem, fitting, group, works, told, most)
        if listed is None:
            return None
        groups.append(listed)
    return tuple(groups)


def _listed(
    problem: Problem, fitting: Fitting, group: Sequence[str], works: Sequence[Work], told: set[str], most: int
) -> Ways | None:
    inside = [table for table in fitting.tables if set(table.positions) <= set(group)]
    mine = [work for work in works if {*(p for p, _ in work.when), *(work.replacing or ())} & set(group)]
    always = [work for work in works if not work.when and not work.replacing and work.replacing is None]
    if group[0] == next(iter(fitting.domains)):
        mine += [work for work in always if work not in mine]
    sourced = frozenset(p for p in group if p in told and (p in problem.keepable or problem.can_use(p)))
    found: list[Way] = []
    for held in Fitting({position: fitting.domains[position] for position in group}, inside).combinations():
        for kept, here in _sources(problem, held, sourced):
            replaced = [p for p, d in held.items() if d != NONE and p not in kept]
            due = tuple(work for work in mine if work.due(held, replaced))
            found.append(Way(tuple(held[p] for p in group), kept, here, due))
            if len(found) > most:
                return None
    return Ways(tuple(group), sourced, tuple(found))


def _sources(
    problem: Problem, held: dict[str, str], sourced: frozenset[str]
) -> Iterator[tuple[frozenset[str], frozenset[str]]]:
    """Where the parts of a combination may come from, at the positions where a task asks."""
    choices = []
    for position in sorted(sourced):
        ways = [""] if held[position] == NONE else ["bought"]
        if problem.keepable.get(position) == held[position]:
            ways.append("kept")
        if problem.can_use(position) and problem.in_hand[position].design == held[position]:
            ways.append("here")
        choices.append([(position, way) for way in ways])
    for chosen in product(*choices):
        yield (
            frozenset(position for position, way in chosen if way == "kept"),
            frozenset(position for position, way in chosen if way == "here"),
        )
