"""What a plan costs, as a sum of named costs in whole cents."""

from __future__ import annotations

import pulp

from sourcing.book.family import NONE
from sourcing.program.variables import Variables


def cost(v: Variables) -> pulp.LpAffineExpression:
    """The figure that the job minimises: cash; landed = cash and cores; whole = landed and what follows from it."""
    total = cash(v)
    if v.pool.minimise != "cash":
        total += core_return(v) - core_credit(v)
    if v.pool.minimise == "whole":
        total += labour(v) + comebacks(v) + waiting(v) - shelf(v)
    return total


def cash(v: Variables) -> pulp.LpAffineExpression:
    return parts(v) + core_charges(v) + freight(v)


def parts(v: Variables) -> pulp.LpAffineExpression:
    """Lines bought; of a part in hand its cost where it counts, less what sending it back brings."""
    hands = []
    for unit in v.units:
        for position, hand in unit.problem.in_hand.items():
            unused, used, back = hand.cents(False, False), hand.cents(True, False), hand.cents(False, True)
            hands.append(unused * unit.count)
            if position in unit.here:
                hands.append((used - unused) * unit.here[position])
            if position in unit.goes_back:
                hands.append((back - unused) * unit.goes_back[position])
    return pulp.lpSum([*(v.cents(i) for i in range(len(v.lines))), *hands])


def core_charges(v: Variables) -> pulp.LpAffineExpression:
    """Of the pieces bought; less those that come back with the parts in hand that go back."""
    bought = [line.offer.core_cents * v.quantity(i) for i, line in enumerate(v.lines) if line.offer.core_cents]
    back = [unit.problem.in_hand[p].core_cents * goes for unit in v.units for p, goes in unit.goes_back.items()]
    return pulp.lpSum(bought) - pulp.lpSum(back)


def freight(v: Variables) -> pulp.LpAffineExpression:
    """A fee for each placed order; flat for each that is not free; by weight for each piece that is not."""
    costs = []
    for order, opens in v.opens.items():
        if v.pool.terms[order[0]].order_fee_cents:
            costs.append(v.pool.terms[order[0]].order_fee_cents * opens)
        mode = next(mode for mode in v.pool.terms[order[0]].modes if mode.mode == order[1])
        if mode.flat_cents:
            costs.append(mode.flat_cents * (opens - v.free[order] if order in v.free else 1 * opens))
        for i in v.lines_in(order):
            piece = v.lines[i].piece_freight_cents
            if piece:
                costs.append(piece * (v.piece[i] if i in v.piece else v.quantity(i)))
    return pulp.lpSum(costs)


def core_credit(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(
        v.pool.terms[v.pool.offer[o].supplier].core_credit(v.pool.offer[o].core_cents) * back
        for (_, _, o), back in v.back.items()
    )


def core_return(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(v.pool.terms[supplier].core_return_cents * sends for supplier, sends in v.sends.items())


def labour(v: Variables) -> pulp.LpAffineExpression:
    """Of the tasks that are due, one by one or with the whole combinations that bring them."""
    tasks = [unit.problem.works[w].cents * does for unit in v.units for w, does in unit.does.items()]
    ways = [
        sum(work.cents for work in unit.ways[g].all[w].works) * way
        for unit in v.units
        if unit.ways is not None
        for (g, w), way in unit.way.items()
        if unit.ways[g].all[w].works
    ]
    return pulp.lpSum([*tasks, *ways])


def comebacks(v: Variables) -> pulp.LpAffineExpression:
    costs = []
    for unit in v.units:
        problem = unit.problem
        costs += [problem.comeback_cents(p, None, problem.keepable[p]) * keeps for p, keeps in unit.keeps.items()]
        costs += [
            problem.comeback_cents(p, problem.offer[o], d) * fill for (o, p, d), fill in unit.fills.items() if d != NONE
        ]
        costs += [problem.in_hand_comeback_cents(problem.in_hand[p]) * var for p, var in unit.here.items()]
    return pulp.lpSum(costs)


def waiting(v: Variables) -> pulp.LpAffineExpression:
    day = v.pool.shop.day_cents
    costs = []
    for unit in v.units:
        steps = zip(unit.days, (0, *unit.days), strict=False)
        costs += [day * (days - before) * unit.later[i] for i, (days, before) in enumerate(steps) if day and unit.later]
        if unit.wait and day:
            costs.append(day * unit.wait * unit.count)
    return pulp.lpSum(costs)


def shelf(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(v.pool.wishes[wanted].worth_cents * var for wanted, var in v.shelf.items())
