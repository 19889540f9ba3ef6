"""The variables that a problem or a pool needs, made: in the units, then on the market."""

from __future__ import annotations

import pulp

from sourcing.pool.lots import Pool, alone
from sourcing.problem import Problem
from sourcing.program.declaring.market import declare_cores, declare_offers, declare_orders, declare_shelf
from sourcing.program.declaring.units import (
    declare_arrivals,
    declare_combinations,
    declare_draws,
    declare_standing,
    declare_tasks,
    units_of,
)
from sourcing.program.variables import Variables


def declare(model: pulp.LpProblem, asked: Problem | Pool) -> Variables:
    """Make the variables that a problem or a pool needs; an offer that fills nothing and is not wanted gets none."""
    v = Variables(model, alone(asked) if isinstance(asked, Problem) else asked)
    v.units = list(units_of(v))
    for unit in v.units:
        declare_standing(v, unit)
    declare_offers(v)
    declare_orders(v)
    for unit in v.units:
        declare_arrivals(v, unit)
        if not v.alone:
            declare_draws(v, unit)
        declare_combinations(v, unit)
    if v.pool.minimise != "cash":
        declare_cores(v)
    if v.pool.minimise == "whole":
        for unit in v.units:
            declare_tasks(v, unit)
        declare_shelf(v)
    return v
