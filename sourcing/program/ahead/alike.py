"""Units that may draw from the same lines, their pieces counted together: a smaller program with the same optimum.

Which of several units a piece fills costs nothing to say, where they are of one family, may draw from the same lines and nobody
limits their suppliers or counts their waiting apart. So instead of f_uopd, pieces of offer o that fill p as d in units u, the
smaller program has F_opd = sum_u f_uopd, and of the rows that hold them for each unit the sum over the units:

    sum_o F_opd + sum_u (k_up + h_up - x_upd) = 0          for sum_o f_uopd + k_up + h_up - x_upd = 0
    k_up + h_up - x_upd <= 0                               for each unit, since f is never below 0
    F_opd <= (sum_u N_u) t_l                               for f_uopd <= N_u t_l; the same for pieces drawn from a line

Every solution of the program is one of the smaller one at the same cost. Back again: for each p and d the pieces F_opd are handed
to the units in turn, each as many as it holds and neither keeps nor has in hand, and so are the lines they come from; as the
sums agree they come out even. So both have the same least cost, at any whole or fractional make-up of the units.

Whether columns may be added up is looked at, not taken on trust: they must cost the same and stand alike in the rows added up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pulp

from sourcing.program.ahead.arrays import Arrays, arrays_of
from sourcing.program.ahead.market import Floats, Truths, Whole
from sourcing.program.unit import Unit
from sourcing.program.variables import Variables

# A unit's column for pieces, told apart by what is drawn: an offer at a place, or a line as a design.
Key = tuple[object, ...]


@dataclass(frozen=True)
class Joined:
    """A pool's program with the pieces of like units added up.

    `into` gives for each variable of the program its column in `arrays`; `units_side` marks columns that only say how units are
    made up, not what is bought.
    """

    program: Variables
    variables: list[pulp.LpVariable]
    arrays: Arrays
    into: Whole
    groups: list[list[Unit]]
    units_side: Truths

    def spread(self, values: Floats) -> dict[str, float]:
        """The program's own values, by variable name, from those of the columns."""
        whole = [var.cat == pulp.LpInteger for var in self.variables]
        each = values[self.into].tolist()
        known = {
            var.name: float(round(value)) if is_whole else value
            for var, value, is_whole in zip(self.variables, each, whole, strict=True)
        }
        for group in self.groups:
            if len(group) > 1:
                known.update(_handed_out(self.program, group, dict(known)))
        return known


def joined(v: Variables) -> Joined:
    """The smaller program of a pool."""
    caps = {var.name: float(v.spans[i][-1].last if v.spans[i] else 0) for i, var in v.piece.items()}
    arrays, variables = arrays_of(v.model, caps)
    at = {var.name: n for n, var in enumerate(variables)}
    number = {name: n for n, name in enumerate(v.model.constraints)}
    columns, rows, own = np.arange(len(variables)), np.arange(len(arrays.least)), list[int]()
    firsts: dict[Key, int] = {}
    groups = _groups(v)
    for g, group in enumerate(groups):
        for unit in group if len(group) > 1 else ():
            for key, var in _pieces(unit):
                columns[at[var.name]] = firsts.setdefault(("column", g, *key), at[var.name])
            for key, name in _rows(v, unit):
                if name in number:
                    rows[number[name]] = firsts.setdefault(("row", g, *key), number[name])
                    own += [number[name]] if key[0] == "source" else []
    small = _added_up(arrays, columns, rows, own)
    if small is None:
        groups, columns, small = [[unit] for unit in v.units], np.arange(len(variables)), arrays
    kept = np.unique(columns)
    side = np.zeros(len(variables), dtype=bool)
    side[[at[var.name] for unit in v.units for var in _make_up(unit)]] = True
    return Joined(v, variables, small, np.searchsorted(kept, columns), groups, side[kept])


def _groups(v: Variables) -> list[list[Unit]]:
    """Units whose pieces may be added up, group by group; every other unit by itself."""
    found: dict[Key, list[Unit]] = {}
    for n, unit in enumerate(v.units):
        apart = bool(unit.asks or unit.later or unit.carries)
        found.setdefault((n,) if apart else (unit.family, unit.allowed), []).append(unit)
    return list(found.values())


def _pieces(unit: Unit) -> Iterator[tuple[Key, pulp.LpVariable]]:
    for place, var in unit.fills.items():
        yield ("fills", *place), var
    for way, var in unit.draws.items():
        yield ("draws", *way), var


def _make_up(unit: Unit) -> Iterator[pulp.LpVariable]:
    for held in (unit.holds, unit.keeps, unit.here, unit.way, unit.row):
        yield from held.values()


def _rows(v: Variables, unit: Unit) -> Iterator[tuple[Key, str]]:
    """The rows that hold a unit's pieces for itself alone, each with what it says."""
    for position, design in unit.of_place:
        i, j = unit.problem.place[position], unit.problem.domains[position].index(design)
        yield ("source", position, design), f"{unit.tag}source_{i}_{j}"
    for offer, held in unit.of_offer.items():
        for position, _ in held:
            n = unit.problem.place[position]
            yield ("drawn", offer, position), f"{unit.tag}drawn_{offer}_{n}"
            for line in v.lines_of(offer):
                yield ("from", line, position), f"{unit.tag}from_{line}_{n}"


def _added_up(arrays: Arrays, columns: Whole, rows: Whole, own: list[int]) -> Arrays | None:
    """Columns and rows added up as they are mapped; None where columns of one do not stand alike in the rows of one."""
    kept, kept_rows = np.unique(columns), np.unique(rows)
    to, to_row = np.searchsorted(kept, columns), np.searchsorted(kept_rows, rows)
    members = np.bincount(to)
    together = members > 1
    if not np.array_equal(arrays.cost[kept][to], arrays.cost) or not np.array_equal(
        arrays.whole[kept][to], arrays.whole
    ):
        return None
    own_pieces = together[to[arrays.column]]
    key = to_row[arrays.row] * len(kept) + to[arrays.column]
    cells, cell, count = np.unique(key, return_inverse=True, return_counts=True)
    total = np.bincount(cell, arrays.value)
    # A column of several: each of them stands once in each row added up, with one value.
    alike = members[cells % len(kept)] == count
    first = np.zeros(len(cells))
    first[cell] = arrays.value
    if not alike[cell][own_pieces].all() or not np.array_equal(first[cell][own_pieces], arrays.value[own_pieces]):
        return None
    value = np.where(together[cells % len(kept)], first, total)
    small = Arrays(
        arrays.cost[kept], arrays.lower[kept], _sums(to, arrays.upper), arrays.whole[kept],
        _sums(to_row, arrays.least), _sums(to_row, arrays.most),
        cells // len(kept), cells % len(kept), value, arrays.offset,
    )  # fmt: skip
    return _with_own_rows(small, arrays, to, own, own_pieces)


def _sums(to: Whole, amounts: Floats) -> Floats:
    return np.asarray(np.bincount(to, amounts), dtype=float)


def _with_own_rows(small: Arrays, arrays: Arrays, to: Whole, own: list[int], own_pieces: Truths) -> Arrays:
    """Each unit keeps, and has in hand, no more than it holds: the rows of its places without the pieces bought."""
    number = np.full(len(arrays.least), -1)
    number[own] = np.arange(len(own))
    entries = np.flatnonzero((number[arrays.row] >= 0) & ~own_pieces)
    own_row = number[arrays.row[entries]]
    asks = np.bincount(own_row, minlength=len(own)) > 1
    entries = entries[asks[own_row]]
    place = np.cumsum(asks) - 1
    row = place[number[arrays.row[entries]]] + len(small.least)
    order = np.argsort(row, kind="stable")
    none, count = np.zeros(int(asks.sum())), int(asks.sum())
    return replace(
        small, least=np.concatenate([small.least, np.full(count, -np.inf)]), most=np.concatenate([small.most, none]),
        row=np.concatenate([small.row, row[order]]), column=np.concatenate([small.column, to[arrays.column[entries[order]]]]),
        value=np.concatenate([small.value, arrays.value[entries[order]]]),
    )  # fmt: skip


def _handed_out(v: Variables, group: list[Unit], sums: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    """The pieces of a group's units, from their sums: to each unit in turn as many as it needs."""
    given: dict[tuple[int, str], list[tuple[Unit, float]]] = {}
    places = sorted({(position, design) for unit in group for _, position, design in unit.fills})
    for position, design in places:
        mine = [unit for unit in group if (position, design) in unit.of_place]
        offers = sorted({offer for unit in mine for offer, *place in unit.fills if tuple(place) == (position, design)})
        supply = [(offer, sums[mine[0].fills[offer, position, design].name]) for offer in offers]
        needs = [(unit, _needed(unit, position, design, sums)) for unit in mine]
        for offer, taken in _in_turn(supply, needs):
            given[offer, design] = taken
            yield from ((unit.fills[offer, position, design].name, pieces) for unit, pieces in taken)
    for (offer, design), taken in given.items():
        draws = taken[0][0].draws
        supply = [(line, sums[draws[line, design].name]) for line in v.lines_of(offer) if (line, design) in draws]
        for line, drawn in _in_turn(supply, taken):
            yield from ((unit.draws[line, design].name, pieces) for unit, pieces in drawn)


def _needed(unit: Unit, position: str, design: str, sums: Mapping[str, float]) -> float:
    """Units of which a place asks for a bought piece."""
    problem, pieces = unit.problem, sums[unit.holds[position, design].name]
    if problem.keepable.get(position) == design:
        pieces -= sums[unit.keeps[position].name]
    if position in unit.here and problem.in_hand[position].design == design:
        pieces -= sums[unit.here[position].name]
    return pieces


def _in_turn(
    supply: list[tuple[int, float]], needs: list[tuple[Unit, float]]
) -> Iterator[tuple[int, list[tuple[Unit, float]]]]:
    """What each of a supply gives to whom, in the order of both."""
    left = [pieces for _, pieces in needs]
    for source, there in supply:
        taken = []
        for n, (unit, _) in enumerate(needs):
            pieces = min(there, left[n])
            there, left[n] = there - pieces, left[n] - pieces
            taken.append((unit, pieces))
        yield source, taken
