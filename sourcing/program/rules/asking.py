"""Rules that only a question asks: about a price, a part, another plan, a ceiling. No job does."""

from __future__ import annotations

import pulp

from sourcing.book.family import NONE
from sourcing.problem import Told
from sourcing.program.objective import cash, comebacks
from sourcing.program.variables import Variables


def pay_as_many_at_the_first_price_as_is_asked(v: Variables) -> None:
    """A question about a price asks for plans that pay exactly so many pieces at it.

    sum_{l of o, k} (e_lk t_lk + f_lk n_lk) = A_o        for each offer o that is asked about
    e_lk pieces of the first quantity of step k that are paid at the first price, f_lk of each further pack
    """
    for offer, pieces in v.problem.asked.items():
        paid = []
        for line in v.lines_of(offer):
            for k, span in enumerate(v.spans[line]):
                bought = v.lines[line].offer
                first = bought.base_pieces(span.first)
                paid.append(first * v.takes[line, k])
                if (line, k) in v.packs:
                    paid.append((bought.base_pieces(span.first + span.pack) - first) * v.packs[line, k])
        v.model += pulp.lpSum(paid) == pieces, f"asked_{offer}"


def use_the_part_that_is_asked_about(v: Variables) -> None:
    """A question about a part asks for plans in which it fills a position.

    u_o = 1      for each offer o that is asked about; where nothing of o can fill anything, 0 = 1
    """
    for offer in v.problem.using:
        v.model += pulp.lpSum([v.used[offer]] if offer in v.used else []) == 1, f"using_{offer}"


def differ_from_what_was_told(v: Variables) -> None:
    """The next best plan is another combination than those told before, or the same one from other parts where asked.

    sum_p x_{p c_p} <= P - 1      for each combination c told, P the number of positions
    sum_p y_p <= P - 1            for each told with its parts: y_p = f_{o_p p c_p} where offer o_p filled p,
                                  k_p where the found part was kept, h_p where one in hand filled p, x_{p c_p} where
                                  p was left empty
    """
    for n, told in enumerate(v.problem.told):
        same = [var for position in told.combination if (var := _as_told(v, told, position)) is not None]
        if len(same) == len(told.combination):
            v.model += pulp.lpSum(same) <= len(same) - 1, f"told_{n}"


def _as_told(v: Variables, told: Told, position: str) -> pulp.LpVariable | None:
    """What is 1 where a position is as it was told; None where it cannot be."""
    design = told.combination[position]
    if told.fills is None or design == NONE:
        return v.unit.holds.get((position, design))
    if position in told.fills:
        return v.unit.fills.get((told.fills[position], position, design))
    return v.unit.here.get(position) if position in told.in_hand else v.unit.keeps.get(position)


def do_with_a_part_in_hand_what_is_asked(v: Variables) -> None:
    """A question about a part in hand asks for plans that use it, leave it out, or send it back.

    h_p = 1, h_p = 0 or b_p = 1      h_p 1 if the part in hand of p fills it, b_p 1 if it goes back; 0 = 1 where it cannot
    """
    for n, (position, what) in enumerate(v.problem.handled.items()):
        ways = v.unit.goes_back if what == "send back" else v.unit.here
        asked = pulp.lpSum([ways[position]] if position in ways else [])
        v.model += asked == (0 if what == "leave" else 1), f"handled_{n}"


def stay_below_the_ceiling(v: Variables) -> None:
    """Comebacks, or cash, come to at most what is asked.

    the total as the objective counts it <= its ceiling [cents]
    """
    totals = {"comebacks": comebacks, "cash": cash}
    for name, cents in v.problem.ceilings.items():
        v.model += totals[name](v) <= cents, f"ceiling_{name}"
