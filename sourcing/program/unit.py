"""The variables of what stands in the units of like jobs."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeAlias

import pulp

from sourcing.problem import Problem
from sourcing.program.grouped import grouped
from sourcing.program.ways import Ways

Number: TypeAlias = pulp.LpVariable | pulp.LpAffineExpression | int


@dataclass
class Unit:
    """What stands in the units of like jobs: `count` of them, a number or a variable, at most `most`.

    holds[p, d]       units in which position p holds design d ("none" among them)
    keeps[p]          units in which the found part of p goes back in
    here[p]           units in which the part in hand of p fills it
    goes_back[p]      units whose part in hand of p goes back to its supplier
    fills[o, p, d]    units in which offer o fills position p as design d
    row[t, r]         1 if the combination stands in row r of table t               (where there is one unit)
    way[g, w]         units whose g-th group of positions is made up in its w-th way     (where `ways` lists them)
    does[w]           1 if task w is due                                            (where there is one unit)
    later[i]          1 if something arrives on the i-th of the possible days or later       (where `wait` is None)
    draws[l, d]       pieces of line l that stand in as design d                    (where an offer has several lines)
    carries[l]        units that take a line of which they use nothing              (where it matters who does)
    asks[s]           1 if the unit gets anything from supplier s                   (where its job limits suppliers)

    `wait`: the working days within which everything is here that these units get.
    """

    problem: Problem
    tag: str
    most: int
    count: Number = 1
    wait: int | None = None
    like: int = 0
    ways: tuple[Ways, ...] | None = None
    holds: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    keeps: dict[str, pulp.LpVariable] = field(default_factory=dict)
    here: dict[str, pulp.LpVariable] = field(default_factory=dict)
    goes_back: dict[str, pulp.LpVariable] = field(default_factory=dict)
    fills: dict[tuple[int, str, str], pulp.LpVariable] = field(default_factory=dict)
    row: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    way: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    does: dict[int, pulp.LpVariable] = field(default_factory=dict)
    later: dict[int, pulp.LpVariable] = field(default_factory=dict)
    days: tuple[int, ...] = ()
    draws: dict[tuple[int, str], pulp.LpVariable] = field(default_factory=dict)
    carries: dict[int, pulp.LpVariable] = field(default_factory=dict)
    asks: dict[str, pulp.LpVariable] = field(default_factory=dict)

    @property
    def family(self) -> str:
        return self.problem.family.code

    @cached_property
    def of_offer(self) -> dict[int, list[tuple[str, str]]]:
        """The positions that each offer may fill here, each with the design."""
        return grouped((offer, (position, design)) for offer, position, design in self.fills)

    @cached_property
    def of_position(self) -> dict[str, list[pulp.LpVariable]]:
        """All ways in which bought parts may fill each position."""
        return grouped((position, var) for (_, position, _), var in self.fills.items())

    @cached_property
    def of_place(self) -> dict[tuple[str, str], list[pulp.LpVariable]]:
        """All ways in which bought parts may fill each position as each design."""
        return grouped(((position, design), var) for (_, position, design), var in self.fills.items())

    @cached_property
    def allowed(self) -> frozenset[tuple[int, str]]:
        """The lines that its job may draw from, by offer and mode."""
        return frozenset(
            (line.offer.id, line.mode.mode)
            for line in self.problem.lines
            if self.wait is None or line.workdays <= self.wait
        )
