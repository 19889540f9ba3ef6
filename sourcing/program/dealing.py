"""A pool's program read back: how many units of a lot are made up how, dealt out to its jobs.

Any dealing costs the same: units of a lot cannot be told apart, groups of positions ask nothing of each other, and a piece may
stand in any unit that waits long enough for it. Jobs are served in the order of their numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, repeat

import pulp

from sourcing.book.family import NONE
from sourcing.job import Job
from sourcing.plan import Choice, Purchase
from sourcing.pool.plan import Got, LineKey, line_key
from sourcing.program.unit import Unit
from sourcing.program.variables import Variables

Values = Mapping[str, float]


@dataclass
class _Standing:
    """A unit while its parts are handed out."""

    combination: dict[str, str]
    kept: set[str] = field(default_factory=set)
    here: set[str] = field(default_factory=set)
    back: set[str] = field(default_factory=set)
    fills: dict[str, int] = field(default_factory=dict)
    draws: dict[str, LineKey] = field(default_factory=dict)
    carries: list[int] = field(default_factory=list)


def bought(v: Variables, values: Values) -> tuple[Purchase, ...]:
    """The lines that a program's values buy, sorted by supplier, part number and mode."""
    purchases = []
    for i, line in enumerate(v.lines):
        quantity = 0
        for k, span in enumerate(v.spans[i]):
            if values[v.takes[i, k].name] > 0.5:
                quantity += span.first + span.pack * round(values[v.packs[i, k].name] if (i, k) in v.packs else 0)
        if quantity:
            purchases.append(Purchase(line, quantity))
    return tuple(sorted(purchases, key=lambda purchase: purchase.key))


def deal(v: Variables, values: Values, purchases: Sequence[Purchase]) -> tuple[Got, ...]:
    """What each job of a pool gets, in the order of their numbers; no cores yet."""
    for_nobody = {line_key(purchase) for purchase in purchases}
    waiting: dict[int, Iterator[Job]] = {n: iter(lot.jobs) for n, lot in enumerate(v.pool.lots)}
    made: list[tuple[Unit, list[_Standing]]] = []
    gets = []
    for unit in v.units:
        count = unit.count if isinstance(unit.count, int) else round(values[unit.count.name])
        units = _made_up(unit, values, count)
        _hand_out(v, unit, values, units)
        for_nobody -= {key for standing in units for key in standing.draws.values()}
        made.append((unit, units))
    for unit, units in made:
        for standing in units:
            standing.carries = [line for line in standing.carries if _key(v, line) in for_nobody]
            for_nobody -= {_key(v, line) for line in standing.carries}
            gets.append(_got(v, unit, next(waiting[unit.like]), standing))
    return tuple(sorted(gets, key=lambda one: one.number))


def _made_up(unit: Unit, values: Values, count: int) -> list[_Standing]:
    """So many units, each with a whole combination, and the source of each part that the program says group by group."""
    problem = unit.problem
    if unit.ways is None:
        held = {p: d for (p, d), var in unit.holds.items() if values[var.name] > 0.5}
        return [_Standing({p: held[p] for p in problem.positions})] if count else []
    units = [_Standing(dict.fromkeys(problem.positions, NONE)) for _ in range(count)]
    for g, ways in enumerate(unit.ways):
        expanded = chain.from_iterable(
            repeat(way, round(values[unit.way[g, w].name])) for w, way in enumerate(ways.all)
        )
        for standing, way in zip(units, expanded, strict=True):
            standing.combination.update(zip(ways.positions, way.designs, strict=True))
            standing.kept |= way.kept
            standing.here |= way.here
    return units


def _hand_out(v: Variables, unit: Unit, values: Values, units: Sequence[_Standing]) -> None:
    """Keep, use and draw as often as the program says, position by position."""
    problem = unit.problem
    sourced = {p for ways in unit.ways or () for p in ways.sourced}
    places: dict[tuple[str, str], list[tuple[int, pulp.LpVariable]]] = {}
    for (offer, position, design), var in unit.fills.items():
        places.setdefault((position, design), []).append((offer, var))
    for position in problem.positions:
        for name, sources, wanted in (
            ("kept", unit.keeps, problem.keepable.get(position)),
            ("here", unit.here, problem.in_hand[position].design if position in problem.in_hand else None),
        ):
            if position in sources and position not in sourced:
                open_here = (one for one in units if one.combination[position] == wanted
                             and position not in one.kept | one.here)  # fmt: skip
                for one, _ in zip(open_here, range(round(values[sources[position].name])), strict=False):
                    getattr(one, name).add(position)
        if position in unit.goes_back:
            unused = (one for one in units if position not in one.here)
            for one, _ in zip(unused, range(round(values[unit.goes_back[position].name])), strict=False):
                one.back.add(position)
        for design in problem.domains[position]:
            if design != NONE:
                open_here = (one for one in units if one.combination[position] == design
                             and position not in one.kept | one.here)  # fmt: skip
                ways = sorted(places.get((position, design), ()), key=lambda way: _code(v, way[0]))
                for one, key in zip(open_here, _pieces(v, unit, values, ways, design), strict=True):
                    one.fills[position], one.draws[position] = key[0], key
    for line, var in unit.carries.items():
        if units and values[var.name] > 0.5:
            units[0].carries.append(line)


def _key(v: Variables, line: int) -> LineKey:
    return (v.lines[line].offer.id, v.lines[line].mode.mode)


def _code(v: Variables, offer: int) -> tuple[str, str]:
    part = v.pool.offer[offer].part
    return (part.supplier, part.number.spelt)


def _pieces(
    v: Variables, unit: Unit, values: Values, ways: Sequence[tuple[int, pulp.LpVariable]], design: str
) -> Iterator[LineKey]:
    """The lines from which a position's pieces come, one key a piece."""
    for offer, var in ways:
        lines = v.lines_of(offer)
        if len(lines) == 1:
            yield from repeat((offer, v.lines[lines[0]].mode.mode), round(values[var.name]))
            continue
        for line in lines:
            if (line, design) in unit.draws:
                yield from repeat((offer, v.lines[line].mode.mode), round(values[unit.draws[line, design].name]))


def _got(v: Variables, unit: Unit, job: Job, standing: _Standing) -> Got:
    problem = replace(unit.problem, job=job)
    held: dict[LineKey, Counter[str]] = {}
    for position, key in standing.draws.items():
        held.setdefault(key, Counter())[standing.combination[position]] += 1
    own = {(line.offer.id, line.mode.mode): line for line in problem.lines}
    pieces = {}
    for key, designs in held.items():
        fills = own[key].offer.part.fills
        pieces[key] = max(-(-count // fills.count(design)) for design, count in designs.items())
    for line in standing.carries:
        pieces.setdefault(_key(v, line), 0)
    purchases = tuple(sorted((Purchase(own[key], n) for key, n in pieces.items()), key=lambda p: p.key))
    in_order = [p for p in problem.positions if p in standing.fills]
    return Got(
        problem,
        Choice(
            standing.combination,
            tuple(p for p in problem.positions if p in standing.kept),
            {p: standing.fills[p] for p in in_order},
            purchases,
            (),
            tuple(p for p in problem.positions if p in standing.here),
            tuple(p for p in problem.positions if p in standing.back),
        ),
        {p: standing.draws[p] for p in in_order},
    )
