"""What a plan costs, as a sum of named costs in whole cents."""

from __future__ import annotations

import pulp

from sourcing.book.family import NONE
from sourcing.program.variables import Variables


def cost(v: Variables) -> pulp.LpAffineExpression:
    """The figure that the job minimises: cash; landed = cash and cores; whole = landed and what follows from it."""
    total = cash(v)
    if v.problem.minimise != "cash":
        total += core_return(v) - core_credit(v)
    if v.problem.minimise == "whole":
        total += labour(v) + comebacks(v) + waiting(v) - shelf(v)
    return total


def cash(v: Variables) -> pulp.LpAffineExpression:
    return parts(v) + core_charges(v) + freight(v)


def parts(v: Variables) -> pulp.LpAffineExpression:
    """Lines bought; of a part in hand its cost where it counts, less what sending it back brings."""
    hands = []
    for position, hand in v.problem.in_hand.items():
        unused, used, back = hand.cents(False, False), hand.cents(True, False), hand.cents(False, True)
        hands.append(pulp.LpAffineExpression(unused))
        if position in v.here:
            hands.append((used - unused) * v.here[position])
        if position in v.goes_back:
            hands.append((back - unused) * v.goes_back[position])
    return pulp.lpSum([*(v.cents(i) for i in range(len(v.lines))), *hands])


def core_charges(v: Variables) -> pulp.LpAffineExpression:
    """Of the pieces bought; less those that come back with the parts in hand that go back."""
    bought = [line.offer.core_cents * v.quantity(i) for i, line in enumerate(v.lines) if line.offer.core_cents]
    back = [v.problem.in_hand[p].core_cents * goes for p, goes in v.goes_back.items()]
    return pulp.lpSum(bought) - pulp.lpSum(back)


def freight(v: Variables) -> pulp.LpAffineExpression:
    """A fee for each placed order; flat for each that is not free; by weight for each piece that is not."""
    costs = []
    for order, opens in v.opens.items():
        if v.problem.terms[order[0]].order_fee_cents:
            costs.append(v.problem.terms[order[0]].order_fee_cents * opens)
        mode = next(mode for mode in v.problem.terms[order[0]].modes if mode.mode == order[1])
        if mode.flat_cents:
            costs.append(mode.flat_cents * (opens - v.free[order] if order in v.free else 1 * opens))
        for i in v.lines_in(order):
            piece = v.lines[i].piece_freight_cents
            if piece:
                costs.append(piece * (v.piece[i] if i in v.piece else v.quantity(i)))
    return pulp.lpSum(costs)


def core_credit(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(
        v.problem.terms[v.problem.offer[o].supplier].core_credit(v.problem.offer[o].core_cents) * back
        for (_, o), back in v.back.items()
    )


def core_return(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(v.problem.terms[supplier].core_return_cents * sends for supplier, sends in v.sends.items())


def labour(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(v.problem.works[w].cents * does for w, does in v.does.items())


def comebacks(v: Variables) -> pulp.LpAffineExpression:
    kept = [v.problem.comeback_cents(p, None, v.problem.keepable[p]) * keeps for p, keeps in v.keeps.items()]
    bought = [
        v.problem.comeback_cents(p, v.problem.offer[o], d) * fill for (o, p, d), fill in v.fills.items() if d != NONE
    ]
    here = [v.problem.in_hand_comeback_cents(v.problem.in_hand[p]) * var for p, var in v.here.items()]
    return pulp.lpSum(kept + bought + here)


def waiting(v: Variables) -> pulp.LpAffineExpression:
    day = v.problem.shop.day_cents
    steps = zip(v.days, (0, *v.days), strict=False)
    return pulp.lpSum(day * (days - before) * v.later[i] for i, (days, before) in enumerate(steps) if day)


def shelf(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(v.problem.wishes[design].worth_cents * var for design, var in v.shelf.items())
