"""Facility problems made by published recipes, as arrays and as sealed problems.

A facility is a supplier with a flat freight charge, a customer a position with one design, serving a customer from a facility a
price. Costs are whole; a customer that a facility cannot serve has no offer there.

Recipes, all from memory of the papers, none fetched; the root gaps that come out are measured and printed:
uniform    J. Krarup and M. Koerkel's type as D. Ghosh, "Neighborhood search heuristics for the uncapacitated facility location
           problem", European Journal of Operational Research 150, 2003, uses it: serving costs uniform in 1000..2000, placing
           costs uniform in 100..200 (A), 1000..2000 (B) or 10000..20000 (C)
level      Y. Kochetov and D. Ivanenko's uniform class: serving costs uniform in 0..10000, placing costs 3000 each; and a
           variant of Ghosh's with equal placing costs (12000), found by trying: root gaps of 3 to 4 per cent at both sizes
gap        Y. Kochetov and D. Ivanenko, "Computationally difficult instances for the uncapacitated facility location problem",
           2003: each customer is served by ten facilities drawn at random, at 0..4, and by no other; placing costs 3000
plane      the same authors' Euclidean class: points in a square of side 7000, serving costs the distance, placing costs 3000
warehouse  J. E. Beasley, "An algorithm for solving large capacitated warehouse location problems", European Journal of
           Operational Research 33, 1988 (capa, capb, capc: 100 x 1000), without capacities: points in a square of side 1000,
           serving costs demand (1..100) times distance times 1.00..1.25; placing costs about what makes one order in seven pay
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
from outside.test_facilities import SCALE, read_instance
from program.tiny import sold, tiny

from sourcing.prices.offers import Step
from sourcing.problem import Problem

Floats = Any


@dataclass(frozen=True)
class Facilities:
    """What placing each facility costs, and what serving each customer (row) from each costs, in whole cents; inf: it cannot."""

    name: str
    placing: Floats
    serving: Floats


def uniform(kind: str, customers: int, facilities: int, seed: int) -> Facilities:
    """Ghosh's class A, B or C."""
    random = np.random.default_rng(seed)
    low, high = {"A": (100, 200), "B": (1000, 2000), "C": (10000, 20000)}[kind]
    placing = random.integers(low, high + 1, facilities).astype(float)
    serving = random.integers(1000, 2001, (customers, facilities)).astype(float)
    return Facilities(f"uniform {kind} {facilities} x {customers} #{seed}", placing, serving)


def level(cost: int, low: int, high: int, size: int, seed: int) -> Facilities:
    """Equal placing costs."""
    serving = np.random.default_rng(seed).integers(low, high + 1, (size, size)).astype(float)
    return Facilities(f"level {cost} {size} x {size} #{seed}", np.full(size, float(cost)), serving)


def gap(customers: int, facilities: int, seed: int) -> Facilities:
    """Ten facilities a customer."""
    random = np.random.default_rng(seed)
    serving = np.full((customers, facilities), np.inf)
    for row in serving:
        row[random.choice(facilities, 10, replace=False)] = random.integers(0, 5, 10)
    return Facilities(f"gap {facilities} x {customers} #{seed}", np.full(facilities, 3000.0), serving)


def plane(customers: int, facilities: int, seed: int) -> Facilities:
    """Points in a square."""
    random = np.random.default_rng(seed)
    serving = np.floor(_distances(random, customers, facilities, 7000))
    return Facilities(f"plane {facilities} x {customers} #{seed}", np.full(facilities, 3000.0), serving)


def warehouse(customers: int, facilities: int, seed: int) -> Facilities:
    """Demand times distance."""
    random = np.random.default_rng(seed)
    demand = random.integers(1, 101, customers)[:, None]
    serving = np.floor(
        _distances(random, customers, facilities, 1000) * demand * random.uniform(1, 1.25, customers)[:, None]
    )
    placing = random.integers(600_000, 1_200_001, facilities).astype(float)
    return Facilities(f"warehouse {facilities} x {customers} #{seed}", placing, serving)


def _distances(random: Any, customers: int, facilities: int, side: int) -> Floats:
    here, there = random.uniform(0, side, (customers, 1, 2)), random.uniform(0, side, (1, facilities, 2))
    return np.sqrt(((here - there) ** 2).sum(axis=2))


def published(path: Path) -> Facilities:
    """An instance of the OR-Library."""
    read = read_instance(path)
    serving = np.array([[float(cost * SCALE) for cost in row] for row in read.serving])
    return Facilities(path.stem, np.array([float(cost * SCALE) for cost in read.opening]), serving)


def problem_of(given: Facilities, more: int = 1) -> Problem:
    """An instance as a sealed problem that minimises cash; every price `more` cents dearer, since a price of 0 is none.

    Sealed with one facility that serves all, whose lines are then replaced by everybody's: a hundred thousand rows need not
    be read for that.
    """
    customers, facilities = given.serving.shape
    positions = [f"p{i:04d}" for i in range(customers)]
    suppliers = {
        f"s{j:03d}": {"freight": [{"mode": "road", "days": 0, "flat": Decimal(int(given.placing[j])) / 100}]}
        for j in range(facilities)
    }
    rows = [sold("s000", f"N{i:04d}", f"p{i:04d}-0", 1) for i in range(customers)]
    frame = tiny(positions, [f"{p}-0" for p in positions], rows, suppliers=suppliers, job={"minimise": "cash"})
    pattern = {line.offer.id: line for line in frame.lines}
    modes = [frame.terms[f"s{j:03d}"].modes[0] for j in range(facilities)]
    lines = []
    for j in range(facilities):
        for i in range(customers):
            if np.isfinite(given.serving[i, j]):
                offer = pattern[i].offer
                cents = int(given.serving[i, j]) + more
                part = replace(offer.part, supplier=f"s{j:03d}")
                sold_here = replace(offer, id=j * customers + i, part=part, steps=(Step(1, cents, cents),))
                lines.append(replace(pattern[i], offer=sold_here, mode=modes[j]))
    return replace(frame, lines=tuple(lines))
