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
    dominated : leave out lines that another line beats in every plan
    tables : of a book of large tables, leave out rows that no plan below a cutoff can hold
    least_lines : problems with fewer lines go straight to the solver, which answers them sooner than the bound is found
    """

    bound: bool = True
    fixing: bool = True
    facility: bool = True
    start: bool = True
    dominated: bool = True
    tables: bool = True
    least_lines: int = 100


EVERY_STEP = Ahead()
NOTHING_AHEAD = Ahead(bound=False, fixing=False, facility=False, start=False, dominated=False, tables=False)

__all__ = ["EVERY_STEP", "NOTHING_AHEAD", "Ahead"]
