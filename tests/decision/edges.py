"""Small random jobs near edges, and the part of each whose price alone carries an order over one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from oracle.random_shops import write_shop

from decision.jobs import cost_only
from sourcing.folder import Folder
from sourcing.plan import Order, Plan, Purchase
from sourcing.prices.offers import Offer
from sourcing.problem import Problem


@dataclass(frozen=True)
class Studied:
    """A job with its plan and the part whose first price is studied from `low` to `high`."""

    catalogs: Path
    job: Path
    problem: Problem
    plan: Plan
    offer: Offer
    low: int
    high: int


def jobs_near_edges(seed: int, folder: Path) -> Iterator[Studied]:
    """The jobs of a small shop in whose plan a part's own price crosses an edge."""
    for job in write_shop(seed, folder, edges=True):
        problem = Folder(folder / "catalogs").problems(job)[0]
        plan = cost_only(problem)
        for order in plan.orders:
            crossing = [p for p in order.lines if crosses(problem, order, p)]
            if crossing:
                offer = crossing[seed % len(crossing)].line.offer
                yield Studied(folder / "catalogs", job, problem, plan, offer, *prices_around(offer))
                break


def prices_around(offer: Offer) -> tuple[int, int]:
    """From an eighth of a part's price to two and a half times."""
    now = offer.steps[0].minor
    return max(1, now // 8), now * 5 // 2


def crosses(problem: Problem, order: Order, purchase: Purchase) -> bool:
    """Whether a price of that range puts an order on the other side of an edge than another price does."""
    offer = purchase.line.offer
    paid, now = offer.base_pieces(purchase.quantity), offer.steps[0].minor
    low, high = (order.subtotal_minor + paid * (price - now) for price in prices_around(offer))
    edges = (order.lines[0].line.mode.free_over_minor, problem.terms[order.supplier].order_minimum_minor)
    return any(edge and low < edge <= high for edge in edges) or (
        len(offer.steps) > 1 and problem.shelf_room(offer) > 0
    )
