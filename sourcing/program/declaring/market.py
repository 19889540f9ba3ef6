"""The variables of what is bought for all units together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import pulp

from sourcing.inhand import core_pieces
from sourcing.pool.lots import Wanted
from sourcing.prices.offers import Offer
from sourcing.program.grouped import grouped
from sourcing.program.spans import spans
from sourcing.program.unit import Unit
from sourcing.program.variables import Variables

# A unit, and a position of it that an offer fills as some design.
Filling: TypeAlias = tuple[Unit, str, str]


def declare_offers(v: Variables) -> None:
    """What each offer fills and how many pieces that takes; its lines with their price steps."""
    allowed = {unit.tag: {offer for offer, _ in unit.allowed} for unit in v.units}
    for offer in v.pool.offers:
        filling = [
            (unit, position, design)
            for unit in v.units
            if offer.id in allowed[unit.tag]
            for position, designs in unit.problem.fillings(unit.problem.offer[offer.id]).items()
            for design in designs
        ]
        if filling:
            _declare_need(v, offer, filling)
        if filling or v.pool.shelf_room(offer.id):
            v.offers += (offer,)
    wanted = {offer.id for offer in v.offers}
    v.lines = tuple(line for line in v.pool.lines if line.offer.id in wanted)
    for i, line in enumerate(v.lines):
        v.spans[i] = spans(line.offer, v.most_bought(line.offer))
        for k, span in enumerate(v.spans[i]):
            v.takes[i, k] = v.whole(f"takes_{i}_{k}")
            if span.packs:
                v.packs[i, k] = v.whole(f"packs_{i}_{k}", span.packs)


def _declare_need(v: Variables, offer: Offer, filling: Sequence[Filling]) -> None:
    """Which positions an offer may fill, and how its pieces are counted."""
    lots = {unit.like: v.pool.lots[unit.like].count for unit, _, _ in filling}
    units = sum(lots.values())
    most = v.most_needed[offer.id] = units if offer.stock is None else min(units, offer.stock)
    if units == 1 or offer.smallest > 1:
        v.used[offer.id] = v.whole(f"used_{offer.id}")
    for unit, position, design in filling:
        i, j = unit.problem.place[position], unit.problem.domains[position].index(design)
        held = unit.problem.offer[offer.id].part.fills.count(design)  # a piece may hold a design more than once
        cap = min(most * held, unit.most)
        unit.fills[offer.id, position, design] = v.whole(f"{unit.tag}fills_{offer.id}_{i}_{j}", cap)
    if most > offer.smallest and offer.smallest > 1:
        v.extra[offer.id] = v.whole(f"extra_{offer.id}", -(-(most - offer.smallest) // offer.pack))
        v.more[offer.id] = v.whole(f"more_{offer.id}")
    if units == 1:
        v.needs[offer.id] = v.used[offer.id]
    else:
        _count_pieces(v, offer, filling, most)


def _count_pieces(v: Variables, offer: Offer, filling: Sequence[Filling], most: int) -> None:
    """The pieces of an offer that several units need, family by family: as many as fills, or as the design asked for most."""
    for family, known in v.pool.as_known_to[offer.id].items():
        mine = [(unit, (position, design)) for unit, position, design in filling if unit.family == family]
        designs = sorted({design for _, (_, design) in mine})
        if len(designs) == 1 and known.part.fills.count(designs[0]) == 1:
            v.needs_of[offer.id, family] = pulp.lpSum(unit.fills[offer.id, *place] for unit, place in mine)
        elif designs:
            pieces = v.parts_of[offer.id, family] = v.whole(f"pieces_{offer.id}_{len(v.parts_of)}", most)
            v.needs_of[offer.id, family] = pieces
            for design in designs:
                v.binds[offer.id, family, design] = v.whole(f"binds_{offer.id}_{len(v.binds)}")
    v.needs[offer.id] = pulp.lpSum(need for (number, _), need in v.needs_of.items() if number == offer.id)


def declare_orders(v: Variables) -> None:
    """Which orders are opened, whose freight is waived, which suppliers are bought from."""
    orders = sorted({line.order for line in v.lines})
    for n, (supplier, name) in enumerate(orders):
        mode = next(mode for mode in v.pool.terms[supplier].modes if mode.mode == name)
        v.opens[supplier, name] = v.whole(f"opens_{n}")
        by_weight = [i for i in v.lines_in((supplier, name)) if v.lines[i].piece_freight_cents]
        if mode.free_over_minor is not None and (mode.flat_cents or by_weight):
            v.free[supplier, name] = v.whole(f"free_{n}")
            v.piece.update({i: v.share(f"piece_{i}", None) for i in by_weight})
    for n, supplier in enumerate(sorted({supplier for supplier, _ in orders})):
        v.buys[supplier] = v.whole(f"buys_{n}")


def declare_cores(v: Variables) -> None:
    """Which cores go back against which offers, and to whom any does."""
    cores: dict[Wanted, int] = {}
    for lot in v.pool.lots:
        for design in lot.problem.cores.values():
            cores[lot.family, design] = cores.get((lot.family, design), 0) + lot.count
    takers = grouped(
        ((family, design), offer.id)
        for offer in _may_be_there(v)
        if v.pool.terms[offer.supplier].core_credit(offer.core_cents)
        for family, known in v.pool.as_known_to[offer.id].items()
        for design in known.part.core_accepts
    )
    for i, ((family, design), most) in enumerate(cores.items()):
        for taker in takers.get((family, design), ()):
            v.back[family, design, taker] = v.whole(f"back_{i}_{taker}", most)
    for n, supplier in enumerate(sorted({v.pool.offer[offer].supplier for _, _, offer in v.back})):
        v.sends[supplier] = v.whole(f"sends_{n}")


def _may_be_there(v: Variables) -> list[Offer]:
    """The offers of which a piece can be there to take a core: bought, or in hand."""
    here = {offer.id: offer for unit in v.units for offer in core_pieces(unit.problem.in_hand, ())}
    return list({**here, **{offer.id: offer for offer in v.offers}}.values())


def declare_shelf(v: Variables) -> None:
    """How many pieces of each wanted design are left for the shelf, where that is worth money."""
    received = {(unit.family, hand.design) for unit in v.units for hand in unit.problem.in_hand.values() if hand.stocks}
    sold = {
        (family, design)
        for offer in v.offers
        for family, known in v.pool.as_known_to[offer.id].items()
        for design in known.part.fills
    }
    for i, (wanted, wish) in enumerate(v.pool.wishes.items()):
        if wish.pieces and wish.worth_cents and wanted in received | sold:
            v.shelf[wanted] = v.share(f"shelf_{i}", wish.pieces)
