"""Ahead of the solver: a bound, what it rules out, and a good first plan; each step keeps every plan of least cost."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ahead:
    """Which steps are taken before the solver is asked.

    bound : look for a lower bound at all; without it nothing is ruled out
    fixing : leave out lines, designs and kept parts that no plan of least cost holds
    facility : prove a pure choice of orders without the solver
    start : hand the solver a first plan
    equals : of a large problem, find the orders of every plan of least cost before ties are settled
    dominated : leave out lines that another line beats in every plan
    tables : of a book of large tables, leave out rows that no plan below a cutoff can hold
    ceilings : of a pool, look for plans just above a bound first
    least_lines : problems with fewer lines go straight to the solver, which answers them sooner than the bound is found
    many_lines : problems with at least so many lines are large: `equals` pays
    few_lines : of a large problem ties are settled where fewer lines than these are left, else the plan says that they are not
    least_variables : programs of pools with fewer variables go straight to the solver
    """

    bound: bool = True
    fixing: bool = True
    facility: bool = True
    start: bool = True
    equals: bool = True
    dominated: bool = True
    tables: bool = True
    ceilings: bool = True
    least_lines: int = 100
    many_lines: int = 3000
    few_lines: int = 3000
    least_variables: int = 1500


EVERY_STEP = Ahead()
NOTHING_AHEAD = Ahead(
    bound=False,
    fixing=False,
    facility=False,
    start=False,
    equals=False,
    dominated=False,
    tables=False,
    ceilings=False,
)

__all__ = ["EVERY_STEP", "NOTHING_AHEAD", "Ahead"]
