"""Rules about orders: opening, minimums, freight, suppliers, the day on which everything is here."""

from __future__ import annotations

import pulp

from sourcing.program.unit import Number
from sourcing.program.variables import Variables


def open_an_order_for_every_line(v: Variables) -> None:
    """A line belongs to an order, and an order to a supplier that is bought from; no order is empty.

    t_l <= a_sm       for each line l of supplier s by mode m
    a_sm <= sum_{l of s, m} t_l
    a_sm <= b_s       for each order of supplier s
    b_s <= sum_m a_sm
    t_l 1 if l is bought, a_sm 1 if s gets an order by m, b_s 1 if s is bought from
    """
    for n, (order, opens) in enumerate(v.opens.items()):
        lines = v.lines_in(order)
        for i in lines:
            v.model += opens - v.taken(i) >= 0, f"order_{n}_line_{i}"
        v.model += pulp.lpSum(v.taken(i) for i in lines) - opens >= 0, f"order_{n}_not_empty"
        v.model += v.buys[order[0]] - opens >= 0, f"order_{n}_supplier"
    for n, (supplier, buys) in enumerate(v.buys.items()):
        orders = [opens for order, opens in v.opens.items() if order[0] == supplier]
        v.model += pulp.lpSum(orders) - buys >= 0, f"supplier_{n}_not_idle"


def meet_order_minimum(v: Variables) -> None:
    """Every order must reach its supplier's minimum, in the supplier's own money.

    sum_{l of s, m} p_l >= M_s a_sm      for each order of a supplier with a minimum
    p_l price of line l [smallest coins of s], M_s minimum [same], a_sm 1 if the order is placed
    """
    for n, (order, opens) in enumerate(v.opens.items()):
        minimum = v.pool.terms[order[0]].order_minimum_minor
        if minimum:
            subtotal = pulp.lpSum(v.minor(i) for i in v.lines_in(order))
            v.model += subtotal - minimum * opens >= 0, f"order_minimum_{n}"


def earn_free_freight(v: Variables) -> None:
    """Freight is waived only on an order whose parts reach the supplier's threshold.

    g_sm <= a_sm
    sum_{l of s, m} p_l >= F_sm g_sm     for each order with a threshold
    w_l >= q_l - Q_l g_sm                for each of its lines that pays by weight
    g_sm 1 if waived, p_l price of line l and F_sm threshold [smallest coins of s], w_l pieces paid by weight,
    Q_l the most pieces that line l can hold (from its stock and what is wanted)
    """
    for n, (order, free) in enumerate(v.free.items()):
        mode = next(mode for mode in v.pool.terms[order[0]].modes if mode.mode == order[1])
        lines = v.lines_in(order)
        v.model += v.opens[order] - free >= 0, f"free_only_if_placed_{n}"
        if mode.free_over_minor:
            subtotal = pulp.lpSum(v.minor(i) for i in lines)
            v.model += subtotal - mode.free_over_minor * free >= 0, f"free_over_{n}"
        for i in lines:
            if i in v.piece and v.spans[i]:
                most = v.spans[i][-1].last
                v.model += v.piece[i] - v.quantity(i) + most * free >= 0, f"by_weight_{i}"


def limit_suppliers(v: Variables) -> None:
    """No more suppliers than the job allows.

    sum_s b_s <= B       b_s 1 if s is bought from for the job, B the job's limit; silent without one
    g <= W b_s           for whatever g pieces the job gets from s (not for a job by itself, which gets all)
    """
    for unit in v.units:
        most = unit.problem.job.limits.max_suppliers
        if most is None or not v.buys:
            continue
        for i, line in enumerate(v.lines):
            for n, got in enumerate(v.drawn(unit, i) if unit.asks else ()):
                v.model += unit.asks[line.offer.supplier] - got >= 0, f"{unit.tag}asks_{i}_{n}"
        asked = v.buys if v.alone else unit.asks
        v.model += pulp.lpSum(asked.values()) <= most, f"{unit.tag}suppliers"


def wait_for_the_last_arrival(v: Variables) -> None:
    """The unit waits until its slowest line is here.

    t_l <= v_i           for each line l that takes the i-th of the possible waits
    v_i <= v_{i-1}       so that the wait is sum_i (W_i - W_{i-1}) v_i
    v_i <= sum_{l: W_l >= W_i} t_l
    t_l 1 if the unit gets something from l, v_i 1 if something takes W_i working days or longer, W_0 = 0
    Where units are counted by how long they wait: sum of the counts of a lot = its jobs
    """
    for unit in v.units:
        for i, later in unit.later.items():
            slow: list[Number] = []
            for n, line in enumerate(v.lines):
                if line.workdays < unit.days[i]:
                    continue
                got = list(v.drawn(unit, n))
                slow += got
                if line.workdays == unit.days[i]:
                    for m, something in enumerate(got):
                        name = f"{unit.tag}wait_{i}_line_{n}" + (f"_{m}" if m else "")
                        v.model += later - something >= 0, name
            if i:
                v.model += unit.later[i - 1] - later >= 0, f"{unit.tag}wait_{i}"
            v.model += pulp.lpSum(slow) - later >= 0, f"{unit.tag}wait_{i}_for_something"
    for n, lot in enumerate(v.pool.lots):
        counts = [unit.count for unit in v.units if unit.like == n and isinstance(unit.count, pulp.LpVariable)]
        if counts:
            v.model += pulp.lpSum(counts) == lot.count, f"lot_{n}"
