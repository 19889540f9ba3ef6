"""The program as a table of contents: variables, each rule of the trade, the costs."""

from __future__ import annotations

import pulp

from sourcing.pool.lots import Pool
from sourcing.problem import Problem
from sourcing.program import rules
from sourcing.program.declaring import declare
from sourcing.program.objective import cost
from sourcing.program.variables import Variables


def build(asked: Problem | Pool) -> Variables:
    """The whole program of a problem, or of many bought together; its optimum is the cheapest valid plan, in whole cents."""
    v = declare(pulp.LpProblem("cheapest_valid_plan", pulp.LpMinimize), asked)
    for rule in rules.RULES + (rules.QUESTIONS if v.alone else ()):
        rule(v)
    v.model.setObjective(cost(v))
    return v
