"""The units of a pool, each with the variables of what stands in it."""

from __future__ import annotations

from collections.abc import Iterator

from sourcing.pool.lots import Lot
from sourcing.program.unit import Unit
from sourcing.program.variables import Variables
from sourcing.program.ways import ways_of


def units_of(v: Variables) -> Iterator[Unit]:
    """The units of a pool: like jobs as one with a count, where every whole combination of theirs can be listed.

    Where waiting costs money the jobs of a lot are counted by how long they wait. A lot is taken apart where its jobs limit
    their suppliers, or where its combinations are too many to list. A job by itself is its one unit, its rules taken as tables.
    """
    if v.alone:
        yield Unit(v.pool.first, "", 1)
        return
    number = 0
    for n, lot in enumerate(v.pool.lots):
        ways = ways_of(lot.problem)
        counted = lot.count > 1 and ways is not None and lot.problem.job.limits.max_suppliers is None
        if not counted:
            for _ in range(lot.count):
                yield Unit(lot.problem, f"u{number}_", 1, like=n, ways=ways)
                number += 1
            continue
        waits = _waits(lot)
        if len(waits) == 1:
            yield Unit(lot.problem, f"u{number}_", lot.count, lot.count, waits[0], n, ways)
            number += 1
            continue
        for wait in waits:
            count = v.whole(f"u{number}_count", lot.count)
            yield Unit(lot.problem, f"u{number}_", lot.count, count, wait, n, ways)
            number += 1


def _waits(lot: Lot) -> list[int]:
    """How long a job of a lot may wait for its parts, in working days, where that costs money."""
    waits = sorted({0, *(line.workdays for line in lot.problem.lines)})
    return waits if lot.problem.minimise == "whole" and lot.problem.shop.day_cents else [waits[-1]]


def declare_standing(v: Variables, unit: Unit) -> None:
    """What each position holds, whether its found part stays, whether its part in hand is used or goes back."""
    problem, tag = unit.problem, unit.tag
    for i, position in enumerate(problem.positions):
        for j, design in enumerate(problem.domains[position]):
            unit.holds[position, design] = v.whole(f"{tag}holds_{i}_{j}", unit.most)
        if problem.keepable.get(position) in problem.domains[position]:
            unit.keeps[position] = v.whole(f"{tag}keeps_{i}", unit.most)
        if problem.can_use(position):
            unit.here[position] = v.whole(f"{tag}here_{i}", unit.most)
        if position in problem.in_hand and problem.in_hand[position].restock_cents is not None:
            unit.goes_back[position] = v.whole(f"{tag}goes_back_{i}", unit.most)


def declare_combinations(v: Variables, unit: Unit) -> None:
    """How many units are made up in each way; the rows of the book's tables where the ways are not listed."""
    if unit.ways is not None:
        for g, ways in enumerate(unit.ways):
            unit.way.update({(g, w): v.whole(f"{unit.tag}way_{g}_{w}", unit.most) for w in range(len(ways.all))})
        return
    for t, table in enumerate(unit.problem.fitting.tables if unit.problem.fitting else ()):
        for r in range(len(table.rows)):
            unit.row[t, r] = v.whole(f"{unit.tag}row_{t}_{r}")


def declare_arrivals(v: Variables, unit: Unit) -> None:
    """The days on which something may arrive for a unit; none where it is known how long it waits."""
    if unit.wait is not None:
        return
    lines = v.lines if v.alone else unit.problem.lines
    unit.days = tuple(sorted({line.workdays for line in lines if line.workdays}))
    if v.alone or _waiting_costs(unit):
        unit.later.update({i: v.whole(f"{unit.tag}later_{i}") for i in range(len(unit.days))})


def _waiting_costs(unit: Unit) -> bool:
    return unit.problem.minimise == "whole" and bool(unit.problem.shop.day_cents)


def declare_draws(v: Variables, unit: Unit) -> None:
    """Which line each piece comes from, where an offer has several; who takes what only the shelf wants, where it matters."""
    for offer, places in unit.of_offer.items():
        lines = v.lines_of(offer)
        for line in lines if len(lines) > 1 else ():
            if (offer, v.lines[line].mode.mode) in unit.allowed:
                for position, design in places:
                    i = unit.problem.place[position]
                    unit.draws[line, design] = v.whole(f"{unit.tag}draws_{line}_{i}", unit.most)
    limited = unit.problem.job.limits.max_suppliers is not None
    if limited:
        suppliers = sorted({line.offer.supplier for line in unit.problem.lines} & set(v.buys))
        unit.asks.update({s: v.whole(f"{unit.tag}asks_{n}") for n, s in enumerate(suppliers)})
    for i, bought in enumerate(v.lines):
        if v.pool.shelf_room(bought.offer.id) and (bought.offer.id, bought.mode.mode) in unit.allowed:
            unit.carries[i] = v.whole(f"{unit.tag}carries_{i}", unit.most)


def declare_tasks(v: Variables, unit: Unit) -> None:
    """Whether each task is due that costs anything, where the unit's ways do not say so themselves."""
    if unit.ways is None:
        works = enumerate(unit.problem.works)
        unit.does.update({w: v.share(f"{unit.tag}does_{w}") for w, work in works if work.cents})
