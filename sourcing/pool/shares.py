"""Which share of a pool's cost each job bears: shares add up to the cent, and no job pays more than alone."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor

from sourcing.money import half_up
from sourcing.plan import comebacks_of, in_hand_parts, waiting_of
from sourcing.pool.plan import PoolPlan, core_credit, line_key

BY_SAVINGS = (
    "each job saves in proportion to what it would cost bought in its turn "
    "(S. Moriarity, Another Approach to Allocating Joint Costs, The Accounting Review 50(4), 1975)"
)
EQUALLY = "the saving is divided equally, since nothing would be paid for the jobs bought one after another"
BY_OWN_COST = (
    "some job has no plan when its turn comes: each bears its own pieces and work, the rest in proportion to them"
)


def shares_of(plan: PoolPlan, alone: Mapping[str, int | None]) -> tuple[dict[str, int], str]:
    """The share of each job by number, in cents, and the rule in words; they add up to the plan's cost.

    With a_j what job j costs in its turn, A their sum and C the cost together: share_j = a_j - (A - C) a_j / A, which never
    exceeds a_j while A >= C and a_j >= 0. Cents that rounding leaves go to the largest fractions.
    """
    numbers = [one.number for one in plan.gets]
    known = {number: cents for number in numbers if (cents := alone.get(number)) is not None}
    if len(known) < len(numbers):
        own = {one.number: cents for one, cents in zip(plan.gets, _own_costs(plan), strict=True)}
        rest = _divided(plan.cost - sum(own.values()), {number: max(0, cents) for number, cents in own.items()})
        return {number: own[number] + rest[number] for number in numbers}, BY_OWN_COST
    weights = {number: max(0, cents) for number, cents in known.items()}
    saved = _divided(sum(known.values()) - plan.cost, weights)
    return {number: known[number] - saved[number] for number in numbers}, BY_SAVINGS if any(
        weights.values()
    ) else EQUALLY


def _divided(cents: int, weights: Mapping[str, int]) -> dict[str, int]:
    """An amount divided in proportion to weights (equally where all are 0), to the cent, by largest remainders."""
    given = weights if any(weights.values()) else dict.fromkeys(weights, 1)
    total = sum(given.values())
    exact = {number: Fraction(cents * weight, total) for number, weight in given.items()}
    parts = {number: floor(share) for number, share in exact.items()}
    left = cents - sum(parts.values())
    for number in sorted(exact, key=lambda number: (parts[number] - exact[number], number))[:left]:
        parts[number] += 1
    return parts


def _own_costs(plan: PoolPlan) -> list[int]:
    """What each job costs without anything that is shared: its pieces at the pool's prices, its cores, work and waiting."""
    price: dict[tuple[int, str], Fraction] = {
        line_key(p): Fraction(p.line.offer.cents(p.quantity), p.quantity) for p in plan.purchases
    }
    whole, cores = plan.pool.minimise == "whole", plan.pool.minimise != "cash"
    costs = []
    for one in plan.gets:
        hands, back = in_hand_parts(one.problem, one.choice)
        cents = hands - back
        cents += sum(half_up(price[line_key(p)] * p.quantity) + p.quantity * p.line.offer.core_cents
                     for p in one.choice.purchases)  # fmt: skip
        if cores:
            cents -= sum(core_credit(plan.pool, item) for item in one.choice.returns)
        if whole:
            cents += sum(work.cents for work in one.works) + comebacks_of(one.problem, one.choice)
            cents += waiting_of(one.problem, one.choice)
        costs.append(cents)
    return costs
