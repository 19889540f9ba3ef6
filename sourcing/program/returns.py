"""Which cores go back against which of the pieces bought: a small program of its own.

Whatever a job minimises, the returns are those with the greatest credit less what returning costs, of equal ones the
fewest, then the first by code.
"""

from __future__ import annotations

import pulp

from sourcing.plan import Choice, Return, credit, pieces_of
from sourcing.problem import Problem
from sourcing.program.grouped import grouped
from sourcing.program.solver import Effort, Outcome, solve


def best_returns(problem: Problem, choice: Choice) -> tuple[Return, ...]:
    """The returns of a choice's purchases, sorted by design, supplier and part number.

    max sum_{p, o} (c_o r_po) - sum_s g_s z_s,   sum_o r_po <= 1,   sum_p r_po <= q_o,   r_po <= z_s(o)
    r_po 1 if the core of position p goes back against offer o, c_o its credit [cents], q_o pieces of o bought or in hand,
    z_s 1 if supplier s gets a core back, g_s what returning to s costs [cents]
    """
    pieces = pieces_of(problem, choice)
    takers = grouped(
        (design, offer)
        for offer in pieces
        if credit(problem, offer)
        for design in problem.offer[offer].part.core_accepts
    )
    ways = [
        Return(position, design, offer)
        for position, design in problem.cores.items()
        if position not in choice.kept
        for offer in takers.get(design, ())
    ]
    ways.sort(key=lambda way: _code(problem, way))
    if not ways:
        return ()
    model = pulp.LpProblem("cores", pulp.LpMinimize)
    back = [model.add_variable(f"back_{i}", 0, 1, pulp.LpInteger) for i in range(len(ways))]
    suppliers = sorted({problem.offer[way.offer].supplier for way in ways})
    sends = {s: model.add_variable(f"sends_{n}", 0, 1, pulp.LpInteger) for n, s in enumerate(suppliers)}
    at = grouped((way.position, var) for way, var in zip(ways, back, strict=True))
    for mine in (at[position] for position in problem.cores if position in at):
        if len(mine) > 1:
            model += pulp.lpSum(mine) <= 1
    against = grouped((way.offer, var) for way, var in zip(ways, back, strict=True))
    for offer, bought in pieces.items():
        mine = against.get(offer, [])
        if len(mine) > bought:
            model += pulp.lpSum(mine) <= bought
    for way, var in zip(ways, back, strict=True):
        model += var - sends[problem.offer[way.offer].supplier] <= 0
    cost = pulp.lpSum(problem.terms[s].core_return_cents * var for s, var in sends.items()) - pulp.lpSum(
        credit(problem, way.offer) * var for way, var in zip(ways, back, strict=True)
    )
    # Fewest among equals: one return weighs less than a cent as long as all of them together do.
    model.setObjective((len(ways) + 1) * cost + pulp.lpSum(back))
    chosen = _solved(model, back)
    return tuple(ways[i] for i in _first_by_code(model, back, chosen))


def _code(problem: Problem, way: Return) -> tuple[str, str, str]:
    part = problem.offer[way.offer].part
    return (way.design, part.supplier, part.number.spelt)


def _solved(model: pulp.LpProblem, back: list[pulp.LpVariable]) -> list[int]:
    solved = solve(model, Effort())
    if solved.outcome == Outcome.INFEASIBLE or solved.values is None:
        return []
    return [i for i, var in enumerate(back) if solved.values[var.name] > 0.5]


def _first_by_code(model: pulp.LpProblem, back: list[pulp.LpVariable], chosen: list[int]) -> list[int]:
    """Among equal returns the first by code: equal ones are equally many, so the smallest next one is taken each time."""
    if not chosen or len(chosen) == len(back):
        return chosen
    best = _value(model, chosen)
    model += model.objective <= best
    model += pulp.lpSum(back[i] for i in chosen) <= len(chosen) - 1, "another"
    if not _solved(model, back):
        return chosen
    del model.constraints["another"]
    fixed: list[int] = []
    for i, var in enumerate(back):
        if len(fixed) == len(chosen):
            break
        model += var >= 1, f"try_{i}"
        if _solved(model, back):
            fixed.append(i)
        else:
            del model.constraints[f"try_{i}"]
            model += var <= 0
    return fixed


def _value(model: pulp.LpProblem, chosen: list[int]) -> float:
    """The objective of the returns chosen, each supplier among them paid once."""
    on = {f"back_{i}" for i in chosen}
    for name, row in model.constraints.items():
        del name
        variables = list(row)
        if len(variables) == 2 and variables[0].name in on and variables[1].name.startswith("sends"):
            on.add(variables[1].name)
    return float(sum(coefficient for var, coefficient in model.objective.items() if var.name in on))
