"""How far each order of a plan is from a threshold, a minimum or a break, and what losing a line would cost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sourcing.plan import Order, Plan, Purchase
from sourcing.problem import Problem


@dataclass(frozen=True, slots=True)
class Loss:
    """A line whose loss would carry its order over the edge: `more_cents` what the rest then costs more.

    None where the rest could not be ordered at all.
    """

    purchase: Purchase
    more_cents: int | None


@dataclass(frozen=True, slots=True)
class Cliff:
    """An edge near an order. `distance` in the supplier's smallest coins: what lies above it (positive) or below.

    A break counts pieces instead: how many more reach the next one ("break"), or how many lie above the one that the line
    stands at ("break_reached"). `losses` belong to thresholds and minimums that are reached.
    """

    kind: Literal["free_freight", "order_minimum", "break", "break_reached"]
    order: Order
    distance: int
    losses: tuple[Loss, ...] = ()
    purchase: Purchase | None = None


def cliffs(plan: Plan) -> list[Cliff]:
    """Every edge of a plan's orders: free freight and the minimum by order, the breaks by line."""
    return [cliff for order in plan.orders for cliff in _of(plan.problem, order)]


def _of(problem: Problem, order: Order) -> Iterator[Cliff]:
    over = order.lines[0].line.mode.free_over_minor
    if over is not None:
        distance = order.subtotal_minor - over
        yield Cliff("free_freight", order, distance, tuple(_freight_losses(order, over)) if distance >= 0 else ())
    minimum = problem.terms[order.supplier].order_minimum_minor
    if minimum:
        losses = [Loss(p, None) for p in order.lines if 0 < _without(order, p) < minimum]
        yield Cliff("order_minimum", order, order.subtotal_minor - minimum, tuple(losses))
    for purchase in order.lines:
        reached = purchase.line.offer.step(purchase.quantity).quantity
        if reached > purchase.line.offer.steps[0].quantity:
            yield Cliff("break_reached", order, purchase.quantity - reached, purchase=purchase)
        further = [step.quantity for step in purchase.line.offer.steps if step.quantity > purchase.quantity]
        if further:
            yield Cliff("break", order, further[0] - purchase.quantity, purchase=purchase)


def _without(order: Order, purchase: Purchase) -> int:
    return order.subtotal_minor - purchase.line.offer.minor(purchase.quantity)


def _freight_losses(order: Order, over: int) -> Iterator[Loss]:
    """Lines without which the rest of the order pays its freight."""
    for purchase in order.lines:
        rest = [other for other in order.lines if other is not purchase]
        if rest and _without(order, purchase) < over:
            paid = rest[0].line.mode.flat_cents + sum(p.quantity * p.line.piece_freight_cents for p in rest)
            yield Loss(purchase, paid)
