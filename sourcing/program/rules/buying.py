"""Rules about lines: what is bought, in which quantity, at which step of its price."""

from __future__ import annotations

import pulp

from sourcing.prices.offers import Offer
from sourcing.program.unit import Number
from sourcing.program.variables import Variables


def buy_only_what_fills_or_is_wanted(v: Variables) -> None:
    """A part counts as used when it fills a position, and only then; of one that several units use so many pieces count.

    f_opd <= u_o               for each offer o, position p and design d        (where one unit at most uses o)
    u_o <= sum_{p, d} f_opd    for each offer o
    u_o 1 if a piece of o fills some position, f_opd 1 if it fills p as d

    Where several units may use o:
    u_o <= n_o <= U_o u_o,     n_o = sum over its families of the pieces m_of that fill positions there
    m_of = sum_p f_opd                             where o holds one design of the family that can fill anything, once
    h_od m_of >= sum_p f_opd                       for each of its designs d otherwise: a kit may be parted
    h_od m_of <= sum_p f_opd + (h_od - 1) + h_od U_o (1 - b_od),  sum_d b_od = 1     so that no kit is bought in vain
    n_o pieces that fill positions, U_o the most there can be, h_od how often a piece holds d, b_od 1 if d asks for the most
    """
    for offer in v.offers:
        units = v.users(offer.id)
        if not units:
            continue
        most = v.most_needed[offer.id]
        if v.needs[offer.id] is v.used.get(offer.id):
            filling = [unit.fills[offer.id, *place] for unit in units for place in unit.of_offer[offer.id]]
            for n, fill in enumerate(filling):
                v.model += v.used[offer.id] - fill >= 0, f"uses_{offer.id}_{n}"
            v.model += pulp.lpSum(filling) - v.used[offer.id] >= 0, f"used_for_something_{offer.id}"
            continue
        _count_pieces_of_kits(v, offer, most)
        if offer.stock is not None and offer.id not in v.used:
            v.model += v.needs[offer.id] <= most, f"needed_of_{offer.id}"
        if offer.id in v.used:
            v.model += v.needs[offer.id] - most * v.used[offer.id] <= 0, f"uses_{offer.id}"
            v.model += v.needs[offer.id] - v.used[offer.id] >= 0, f"used_for_something_{offer.id}"


def _count_pieces_of_kits(v: Variables, offer: Offer, most: int) -> None:
    for n, family in enumerate(known for number, known in v.parts_of if number == offer.id):
        pieces = v.parts_of[offer.id, family]
        binds = {d: var for (number, known, d), var in v.binds.items() if (number, known) == (offer.id, family)}
        for m, (design, bind) in enumerate(binds.items()):
            held = v.pool.as_known_to[offer.id][family].part.fills.count(design)
            filled = _filled(v, offer.id, family, design)
            v.model += held * pieces - filled >= 0, f"kits_{offer.id}_{n}_{m}"
            slack = held - 1 + held * most
            v.model += held * pieces - filled + held * most * bind <= slack, f"kits_in_vain_{offer.id}_{n}_{m}"
        v.model += pulp.lpSum(binds.values()) == 1, f"kits_for_{offer.id}_{n}"


def _filled(v: Variables, offer: int, family: str, design: str) -> pulp.LpAffineExpression:
    """Positions of a family that an offer fills as a design."""
    return pulp.lpSum(
        unit.fills[offer, position, filled]
        for unit in v.users(offer)
        if unit.family == family
        for position, filled in unit.of_offer[offer]
        if filled == design
    )


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


def serves(v: Variables, offer: Offer) -> Number:
    """The smallest quantity of an offer that serves what it fills."""
    if offer.id not in v.needs:
        return 0
    if offer.id not in v.used:
        return v.needs[offer.id]
    more = [offer.pack * v.extra[offer.id]] if offer.id in v.extra else []
    return pulp.lpSum([offer.smallest * v.used[offer.id], *more])


def buy_the_smallest_quantity_that_serves(v: Variables) -> None:
    """A part that fills a position is bought in the smallest quantity that serves, over all its lines together.

    sum_{l of o} q_l = Q_o               where no further pieces of o are wanted
    sum_{l of o} q_l >= Q_o              where they are
    sum_{l of o} t_l >= u_o              (the same, said strongly)
    q_l pieces of line l; Q_o = S_o u_o + pack e_o, S_o one piece raised to the minimum and to whole packs
    e_o <= E_o m_o,  m_o <= u_o,  Q_o >= n_o,  n_o >= pack e_o + (S_o - pack + 1) m_o
    e_o packs beyond S_o, m_o 1 if there are any, n_o pieces that fill positions. Without pack or minimum Q_o = n_o.
    """
    for offer in v.offers:
        lines = v.lines_of(offer.id)
        if offer.id not in v.needs:
            continue
        used = v.used.get(offer.id)
        room = v.pool.shelf_room(offer.id)
        if room == 0 and used is not None and offer.id not in v.extra and v.most_needed[offer.id] <= offer.smallest:
            v.model += pulp.lpSum(v.taken(line) for line in lines) - used == 0, f"serves_{offer.id}"
            continue
        pieces = pulp.lpSum(v.quantity(line) for line in lines)
        if room == 0:
            v.model += pieces - serves(v, offer) == 0, f"serves_{offer.id}"
        else:
            v.model += pieces - serves(v, offer) >= 0, f"serves_{offer.id}"
        if used is not None:
            v.model += pulp.lpSum(v.taken(line) for line in lines) - used >= 0, f"bought_{offer.id}"
        if offer.id in v.extra:
            extra, more = v.extra[offer.id], v.more[offer.id]
            v.model += extra - extra.upBound * more <= 0, f"extra_{offer.id}"
            v.model += more - v.used[offer.id] <= 0, f"more_{offer.id}"
            v.model += serves(v, offer) - v.needs[offer.id] >= 0, f"enough_{offer.id}"
            least = offer.pack * extra + (offer.smallest - offer.pack + 1) * more
            v.model += v.needs[offer.id] - least >= 0, f"not_too_much_{offer.id}"


def stock_no_more_than_is_wanted(v: Variables) -> None:
    """Pieces beyond need are at most what the shop wants of each design.

    sum_o h_od (sum_{l of o} q_l - Q_o) <= n_d      for each wanted design d
    h_od how often a piece of o holds d, n_d pieces wanted; o over the offers whose every design is wanted
    """
    for n, ((family, design), wish) in enumerate(v.pool.wishes.items()):
        further = []
        for offer in v.offers:
            if v.pool.shelf_room(offer.id) and v.pool.shelved_as(offer.id) == family:
                held = v.pool.as_known_to[offer.id][family].part.fills.count(design)
                if held:
                    pieces = pulp.lpSum(v.quantity(line) for line in v.lines_of(offer.id)) - serves(v, offer)
                    further.append(held * pieces)
        if further:
            v.model += pulp.lpSum(further) <= wish.pieces, f"wanted_{n}"


def stay_within_stock(v: Variables) -> None:
    """The lines of a part together never exceed its stock.

    sum_{l of o} q_l <= S_o       for each offer o whose stock S_o is stated and can be exceeded
    """
    for offer in v.offers:
        if offer.stock is None:
            continue
        lines = v.lines_of(offer.id)
        if len(lines) == 1 or (v.pool.shelf_room(offer.id) == 0 and v.most_needed.get(offer.id, 0) <= offer.smallest):
            continue  # its one line ends at the stock, or one smallest quantity is all that is bought
        if sum(max((span.last for span in v.spans[line]), default=0) for line in lines) > offer.stock:
            v.model += pulp.lpSum(v.quantity(line) for line in lines) <= offer.stock, f"stock_{offer.id}"


def draw_from_what_is_bought(v: Variables) -> None:
    """What fills a position comes from a line that its job may draw from, and no line gives more than it holds.

    sum_{l of o} w_uld = sum_p f_uopd                 for each unit u, offer o of several lines and design d
    sum_u w_uld <= h_od q_l                           for each line l and design d
    w_uld <= W_u t_l   (f_uopd <= W_u t_l where o has one line)
    sum_l (h_od q_l) for its one line: said by the smallest quantity that serves
    t_l <= sum_u (w_ul + c_ul)                        for each line l of a part that only the shelf may want
    c_ul <= n_u                                       for each unit u of which there are n_u, where that is open
    w_uld pieces of l that stand in units u as d, c_ul units that take l for the shelf, W_u the units there are

    Silent for a job by itself, which gets all that is bought.
    """
    if v.alone:
        return
    for offer in v.offers:
        lines = v.lines_of(offer.id)
        for unit in v.users(offer.id):
            for position, design in unit.of_offer[offer.id]:
                fill, n = unit.fills[offer.id, position, design], unit.problem.positions.index(position)
                most = fill.upBound
                if len(lines) == 1:
                    v.model += most * v.taken(lines[0]) - fill >= 0, f"{unit.tag}from_{lines[0]}_{n}"
                    continue
                drawn = [unit.draws[line, design] for line in lines if (line, design) in unit.draws]
                v.model += pulp.lpSum(drawn) - fill == 0, f"{unit.tag}drawn_{offer.id}_{n}"
                for line in lines:
                    if (line, design) in unit.draws:
                        rule = most * v.taken(line) - unit.draws[line, design] >= 0
                        v.model += rule, f"{unit.tag}from_{line}_{n}"
        if len(lines) > 1:
            for line in lines:
                _give_what_it_holds(v, offer, line)
    for i, bought in enumerate(v.lines):
        if v.pool.shelf_room(bought.offer.id):
            somebody = [part for unit in v.units for part in v.drawn(unit, i)]
            v.model += pulp.lpSum(somebody) - v.taken(i) >= 0, f"for_somebody_{i}"
            for unit in v.units:
                if i in unit.carries and not isinstance(unit.count, int):
                    v.model += unit.count - unit.carries[i] >= 0, f"{unit.tag}is_there_for_{i}"


def _give_what_it_holds(v: Variables, offer: Offer, line: int) -> None:
    families = sorted({unit.family for unit in v.users(offer.id)})
    parted = len(families) > 1 and any((offer.id, family) in v.parts_of for family in families)
    pieces = {}
    for n, family in enumerate(families):
        pieces[family] = v.whole(f"of_{line}_{n}", v.most_bought(offer)) if parted else v.quantity(line)
    drawn_of: dict[tuple[str, str], list[pulp.LpVariable]] = {}
    for unit in v.users(offer.id):
        for (drawn_line, design), var in unit.draws.items():
            if drawn_line == line:
                drawn_of.setdefault((unit.family, design), []).append(var)
    if len(families) > 1 and not parted:
        every = [var for drawn in drawn_of.values() for var in drawn]
        v.model += v.quantity(line) - pulp.lpSum(every) >= 0, f"gives_{line}"
        return
    for n, ((family, design), drawn) in enumerate(drawn_of.items()):
        held = v.pool.as_known_to[offer.id][family].part.fills.count(design)
        v.model += held * pieces[family] - pulp.lpSum(drawn) >= 0, f"gives_{line}_{n}"
    if parted:
        v.model += v.quantity(line) - pulp.lpSum(pieces.values()) >= 0, f"gives_{line}"


def count_what_reaches_the_shelf(v: Variables) -> None:
    """A piece is worth something on the shelf only where no position uses it.

    e_d <= sum_o h_od sum_{l of o} q_l - sum_{o, p} f_opd + sum_p (n - h_p - b_p)     for each wanted design d
    e_d wanted pieces that reach the shelf (at most the pieces wanted), h_od how often a piece of o holds d; p over the
    positions for which a d was received: h_p units in which it fills p, b_p from which it goes back, n the units.
    A piece that another family uses is gone whole.
    """
    for n, ((family, design), shelf) in enumerate(v.shelf.items()):
        bought, spent, mine = [], [], []
        for offer in v.offers:
            held = (
                v.pool.as_known_to[offer.id][family].part.fills.count(design)
                if v.pool.left_as(offer.id) == family
                else 0
            )
            if held:
                bought += [held * v.quantity(line) for line in v.lines_of(offer.id)]
                others = {other for number, other in v.needs_of if number == offer.id} - {family}
                spent += [held * v.needs_of[offer.id, other] for other in sorted(others)]
                spent += [unit.fills[offer.id, p, d] for unit in v.users(offer.id) if unit.family == family
                          for p, d in unit.of_offer[offer.id] if d == design]  # fmt: skip
        for unit in v.units:
            for p, hand in unit.problem.in_hand.items() if unit.family == family else ():
                if hand.stocks and hand.design == design:
                    mine.append(unit.count)
                    spent += [ways[p] for ways in (unit.here, unit.goes_back) if p in ways]
        v.model += pulp.lpSum([*bought, *mine]) - pulp.lpSum(spent) - shelf >= 0, f"left_over_{n}"
