"""Rules about lines: what is bought, in which quantity, at which step of its price."""

from __future__ import annotations

import pulp

from sourcing.program.variables import Variables


def buy_only_what_fills_or_is_wanted(v: Variables) -> None:
    """A part counts as used when it fills a position, and only then.

    f_opd <= u_o               for each offer o, position p and design d
    u_o <= sum_{p, d} f_opd    for each offer o
    u_o 1 if a piece of o fills some position, f_opd 1 if it fills p as d
    """
    for offer, used in v.used.items():
        filling = [(key, fill) for key, fill in v.fills.items() if key[0] == offer]
        for n, (_, fill) in enumerate(filling):
            v.model += used - fill >= 0, f"uses_{offer}_{n}"
        v.model += pulp.lpSum(fill for _, fill in filling) - used >= 0, f"used_for_something_{offer}"


def choose_one_price_step(v: Variables) -> None:
    """A line is priced by the one step that its own quantity reaches.

    sum_k t_lk <= 1                      for each line l
    n_lk <= N_lk t_lk                    for each step k that holds more than one quantity
    quantity of l = sum_k (first_k t_lk + pack n_lk)
    t_lk 1 if l is bought at step k, n_lk packs beyond first_k, N_lk = (last_k - first_k) / pack exactly
    """
    for line, steps in v.spans.items():
        if len(steps) > 1:
            v.model += v.taken(line) <= 1, f"step_of_{line}"
        for k, span in enumerate(steps):
            if (line, k) in v.packs:
                v.model += v.packs[line, k] - span.packs * v.takes[line, k] <= 0, f"within_step_{line}_{k}"


def buy_the_smallest_quantity_that_serves(v: Variables) -> None:
    """A part that fills a position is bought in the smallest quantity that serves, over all its lines together.

    sum_{l of o} q_l = Q_o u_o           where no further pieces of o are wanted
    sum_{l of o} q_l >= Q_o u_o          where they are
    sum_{l of o} t_l >= u_o              (the same, said strongly)
    q_l pieces of line l, Q_o one piece raised to the minimum and to whole packs
    """
    for offer in v.offers:
        lines = v.lines_of(offer.id)
        used = v.used.get(offer.id)
        if used is None:
            continue
        if v.problem.shelf_room(offer) == 0:
            v.model += pulp.lpSum(v.taken(line) for line in lines) - used == 0, f"serves_{offer.id}"
            continue
        pieces = pulp.lpSum(v.quantity(line) for line in lines)
        v.model += pieces - offer.smallest * used >= 0, f"serves_{offer.id}"
        v.model += pulp.lpSum(v.taken(line) for line in lines) - used >= 0, f"bought_{offer.id}"


def stock_no_more_than_is_wanted(v: Variables) -> None:
    """Pieces beyond need are at most what the shop wants of each design.

    sum_o h_od (sum_{l of o} q_l - Q_o u_o) <= n_d      for each wanted design d
    h_od how often a piece of o holds d, n_d pieces wanted; o over the offers whose every design is wanted
    """
    for n, (design, wish) in enumerate(v.problem.wishes.items()):
        further = []
        for offer in v.offers:
            if v.problem.shelf_room(offer) and design in offer.part.fills:
                pieces = pulp.lpSum(v.quantity(line) for line in v.lines_of(offer.id))
                if offer.id in v.used:
                    pieces = pieces - offer.smallest * v.used[offer.id]
                further.append(offer.part.fills.count(design) * pieces)
        if further:
            v.model += pulp.lpSum(further) <= wish.pieces, f"wanted_{n}"


def stay_within_stock(v: Variables) -> None:
    """The lines of a part together never exceed its stock.

    sum_{l of o} q_l <= S_o       for each offer o whose stock S_o is stated and can be exceeded
    """
    for offer in v.offers:
        if offer.stock is None or v.problem.shelf_room(offer) == 0:
            continue
        lines = v.lines_of(offer.id)
        if sum(max((span.last for span in v.spans[line]), default=0) for line in lines) > offer.stock:
            v.model += pulp.lpSum(v.quantity(line) for line in lines) <= offer.stock, f"stock_{offer.id}"


def count_what_reaches_the_shelf(v: Variables) -> None:
    """A piece is worth something on the shelf only where no position uses it.

    e_d <= sum_o h_od sum_{l of o} q_l - sum_{o, p} f_opd + sum_p (1 - h_p - b_p)     for each wanted design d
    e_d wanted pieces that reach the shelf (at most the pieces wanted), h_od how often a piece of o holds d; p over the
    positions for which a d was received: h_p 1 if it fills p, b_p 1 if it goes back
    """
    for n, (design, shelf) in enumerate(v.shelf.items()):
        bought = [
            v.lines[line].offer.part.fills.count(design) * v.quantity(line)
            for line in range(len(v.lines))
            if design in v.lines[line].offer.part.fills
        ]
        spent = [fill for (_, _, filled), fill in v.fills.items() if filled == design]
        mine = [p for p, hand in v.problem.in_hand.items() if hand.stocks and hand.design == design]
        spent += [ways[p] for p in mine for ways in (v.here, v.goes_back) if p in ways]
        v.model += pulp.lpSum(bought) + len(mine) - pulp.lpSum(spent) - shelf >= 0, f"left_over_{n}"
