"""Rules about what stands in the unit."""

from __future__ import annotations

import pulp

from sourcing.book.family import NONE
from sourcing.program.variables import Variables


def fill_every_position(v: Variables) -> None:
    """Every position holds one design, or nothing where it is optional; what it holds is kept, in hand or bought.

    sum_{d in D_p} x_pd = 1                      for each position p
    x_pd = [d is the found part] k_p + [d is in hand for p] h_p + sum_{o} f_opd   for each p and each design d but "none"
    x_pd 1 if p holds d, k_p 1 if the found part goes back in, h_p 1 if the part in hand fills p,
    f_opd 1 if a piece of offer o fills p as d
    """
    for i, position in enumerate(v.problem.positions):
        held = v.problem.domains[position]
        v.model += pulp.lpSum(v.holds[position, d] for d in held) == 1, f"fill_{i}"
        for j, design in enumerate(held):
            if design == NONE:
                continue
            ways = [v.fills[o.id, position, design] for o in v.offers if (o.id, position, design) in v.fills]
            if v.problem.keepable.get(position) == design:
                ways.append(v.keeps[position])
            if position in v.here and v.problem.in_hand[position].design == design:
                ways.append(v.here[position])
            v.model += pulp.lpSum(ways) - v.holds[position, design] == 0, f"source_{i}_{j}"


def use_a_part_in_hand_or_send_it_back(v: Variables) -> None:
    """A part in hand that fills its position does not go back.

    h_p + b_p <= 1      h_p 1 if the part in hand of p fills it (absent where it cannot), b_p 1 if it goes back to its
                        supplier
    """
    for i, position in enumerate(v.problem.positions):
        if position in v.goes_back:
            here = [v.here[position]] if position in v.here else []
            v.model += pulp.lpSum([*here, v.goes_back[position]]) <= 1, f"here_or_back_{i}"


def keep_to_the_book(v: Variables) -> None:
    """The combination stands in a row of every table of the book.

    sum_r y_tr = 1                               for each table t
    x_pd = sum_{r: d in r_p} y_tr                where the rows of t that hold d at p exclude no other design
    x_pd <= sum_{r: d in r_p} y_tr               for each position p of t and each design d
    y_tr <= sum_{d in r_p} x_pd                  for each row r and position p that r narrows
    y_tr 1 if the combination stands in row r of t; r_p the designs that r admits at p. Silent where reduction left no table.
    """
    fitting = v.problem.fitting
    for t, table in enumerate(fitting.tables if fitting else ()):
        v.model += pulp.lpSum(v.row[t, r] for r in range(len(table.rows))) == 1, f"row_of_{t}"
        for place, position in enumerate(table.positions):
            held = v.problem.domains[position]
            for j, design in enumerate(held):
                rows = [v.row[t, r] for r, row in enumerate(table.rows) if design in row[place]]
                if len(rows) < len(table.rows):
                    v.model += pulp.lpSum(rows) - v.holds[position, design] >= 0, f"stands_{t}_{place}_{j}"
            for r, row in enumerate(table.rows):
                if 1 < len(row[place]) < len(held):
                    inside = pulp.lpSum(v.holds[position, d] for d in held if d in row[place])
                    v.model += inside - v.row[t, r] >= 0, f"narrows_{t}_{place}_{r}"


def do_the_work_that_comes_with_it(v: Variables) -> None:
    """A task is done where its condition holds and, if it says so, one of its positions is filled by a bought part or one in hand.

    z_w >= sum_{i=1..m} sum_{d in W_i} x_{p_i d} + b - (m - 1) - [w hangs on replacing]
    b = sum_{o, d} f_opd + h_p for each position p that w names as replaced (absent otherwise)
    z_w 1 if task w is due, m the number of positions that its condition names. Silent for tasks that cost nothing.
    """
    for w, does in v.does.items():
        work = v.problem.works[w]
        holding = [
            v.holds[position, d] for position, values in work.when for d in v.problem.domains[position] if d in values
        ]
        slack = len(work.when) - 1
        if work.replacing is None:
            v.model += does - pulp.lpSum(holding) >= -slack, f"work_{w}"
            continue
        for n, replaced in enumerate(work.replacing):
            bought = [fill for (_, position, _), fill in v.fills.items() if position == replaced]
            bought += [here for position, here in v.here.items() if position == replaced]
            v.model += does - pulp.lpSum(holding + bought) >= -slack - 1, f"work_{w}_{n}"
