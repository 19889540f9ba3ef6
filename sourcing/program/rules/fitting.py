"""Rules about what stands in the units."""

from __future__ import annotations

from itertools import pairwise

import pulp

from sourcing.book.family import NONE
from sourcing.program.unit import Unit
from sourcing.program.variables import Variables
from sourcing.program.ways import Ways


def fill_every_position(v: Variables) -> None:
    """Every position holds one design, or nothing where it is optional; what it holds is kept, in hand or bought.

    sum_{d in D_p} x_pd = n                      for each position p
    x_pd = [d is the found part] k_p + [d is in hand for p] h_p + sum_{o} f_opd   for each p and each design d but "none"
    x_pd units in which p holds d, k_p in which the found part goes back in, h_p in which the part in hand fills p,
    f_opd in which a piece of offer o fills p as d, n the units (1 for a job by itself)
    """
    for unit in v.units:
        problem, tag = unit.problem, unit.tag
        for i, position in enumerate(problem.positions):
            held = problem.domains[position]
            v.model += pulp.lpSum(unit.holds[position, d] for d in held) == unit.count, f"{tag}fill_{i}"
            for j, design in enumerate(held):
                if design == NONE:
                    continue
                ways = list(unit.of_place.get((position, design), ()))
                if problem.keepable.get(position) == design:
                    ways.append(unit.keeps[position])
                if position in unit.here and problem.in_hand[position].design == design:
                    ways.append(unit.here[position])
                v.model += pulp.lpSum(ways) - unit.holds[position, design] == 0, f"{tag}source_{i}_{j}"


def use_a_part_in_hand_or_send_it_back(v: Variables) -> None:
    """A part in hand that fills its position does not go back.

    h_p + b_p <= n      h_p units in which the part in hand of p fills it (absent where it cannot), b_p from which it goes
                        back to its supplier, n the units
    """
    for unit in v.units:
        for i, position in enumerate(unit.problem.positions):
            if position in unit.goes_back:
                here = [unit.here[position]] if position in unit.here else []
                rule = pulp.lpSum([*here, unit.goes_back[position]]) <= unit.count
                v.model += rule, f"{unit.tag}here_or_back_{i}"


def keep_to_the_book(v: Variables) -> None:
    """The combination stands in a row of every table of the book.

    sum_r y_tr = n                               for each table t
    x_pd = sum_{r: d in r_p} y_tr                where the rows of t that hold d at p exclude no other design
    x_pd <= sum_{r: d in r_p} y_tr               for each position p of t and each design d
    y_tr <= sum_{d in r_p} x_pd                  for each row r and position p that r narrows
    y_tr 1 if the combination stands in row r of t; r_p the designs that r admits at p. Silent where reduction left no table.

    Where whole combinations are listed, group of positions by group:
    sum_w y_gw = n,   x_pd = sum_{w: w holds d at p} y_gw,   k_p (h_p) = sum_{w: w keeps p (uses the part in hand)} y_gw
    y_gw units whose group g is made up in way w, n the units
    """
    for unit in v.units:
        for g, ways in enumerate(unit.ways or ()):
            _one_of_the_ways(v, unit, g, ways)
        if unit.ways is None:
            _a_row_of_every_table(v, unit)


def _one_of_the_ways(v: Variables, unit: Unit, g: int, ways: Ways) -> None:
    all_ways = range(len(ways.all))
    v.model += pulp.lpSum(unit.way[g, w] for w in all_ways) - unit.count == 0, f"{unit.tag}way_of_{g}"
    for place, position in enumerate(ways.positions):
        for j, design in enumerate(unit.problem.domains[position]):
            these = [unit.way[g, w] for w in all_ways if ways.all[w].designs[place] == design]
            v.model += pulp.lpSum(these) - unit.holds[position, design] == 0, f"{unit.tag}made_{g}_{place}_{j}"
        if position in ways.sourced:
            for name, sources in (("kept", unit.keeps), ("here", unit.here)):
                if position in sources:
                    these = [unit.way[g, w] for w in all_ways if position in getattr(ways.all[w], name)]
                    rule = pulp.lpSum(these) - sources[position] == 0
                    v.model += rule, f"{unit.tag}made_{name}_{g}_{place}"


def _a_row_of_every_table(v: Variables, unit: Unit) -> None:
    fitting, tag = unit.problem.fitting, unit.tag
    for t, table in enumerate(fitting.tables if fitting else ()):
        v.model += pulp.lpSum(unit.row[t, r] for r in range(len(table.rows))) == unit.count, f"{tag}row_of_{t}"
        for place, position in enumerate(table.positions):
            held = unit.problem.domains[position]
            for j, design in enumerate(held):
                rows = [unit.row[t, r] for r, row in enumerate(table.rows) if design in row[place]]
                if len(rows) < len(table.rows):
                    rule = pulp.lpSum(rows) - unit.holds[position, design] >= 0
                    v.model += rule, f"{tag}stands_{t}_{place}_{j}"
            for r, row in enumerate(table.rows):
                if 1 < len(row[place]) < len(held):
                    inside = pulp.lpSum(unit.holds[position, d] for d in held if d in row[place])
                    v.model += inside - unit.row[t, r] >= 0, f"{tag}narrows_{t}_{place}_{r}"


def tell_like_units_apart(v: Variables) -> None:
    """Of like units that are declared one by one, the one with the earlier lead design comes first: a swap is no new plan.

    sum_i i x_u,lead,i <= sum_i i x_w,lead,i      for each two such units u, w that follow each other in a lot
    i the place of a design among those that the lead position may hold. Units with a count need no such row.
    """
    for one, other in pairwise(v.units):
        if one.like != other.like or not (isinstance(one.count, int) and isinstance(other.count, int)):
            continue
        lead = one.problem.family.lead.code
        ranks = enumerate(one.problem.domains[lead])
        rank = pulp.lpSum(i * (other.holds[lead, design] - one.holds[lead, design]) for i, design in ranks)
        if len(rank):
            v.model += rank >= 0, f"{one.tag}before_the_next"


def do_the_work_that_comes_with_it(v: Variables) -> None:
    """A task is done where its condition holds and, if it says so, one of its positions is filled by a bought part or one in hand.

    z_w >= sum_{i=1..m} sum_{d in W_i} x_{p_i d} + b - (m - 1) - [w hangs on replacing]
    b = sum_{o, d} f_opd + h_p for each position p that w names as replaced (absent otherwise)
    z_w 1 if task w is due, m the number of positions that its condition names. Silent for tasks that cost nothing, and where
    whole combinations are listed: each of them knows its tasks.
    """
    for unit in v.units:
        for w, does in unit.does.items():
            work = unit.problem.works[w]
            domains = unit.problem.domains
            holding = [unit.holds[p, d] for p, values in work.when for d in domains[p] if d in values]
            slack = len(work.when) - 1
            if work.replacing is None:
                v.model += does - pulp.lpSum(holding) >= -slack, f"{unit.tag}work_{w}"
                continue
            for n, replaced in enumerate(work.replacing):
                bought = list(unit.of_position.get(replaced, ()))
                bought += [unit.here[replaced]] if replaced in unit.here else []
                v.model += does - pulp.lpSum(holding + bought) >= -slack - 1, f"{unit.tag}work_{w}_{n}"
