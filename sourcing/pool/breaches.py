"""Every rule that a pool's plan breaks, in words: the check of an answer that no solver has a part in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sourcing.breaches import smallest_serving, standing_breaches, whole_line
from sourcing.plan import Purchase, orders_of
from sourcing.pool.lots import Pool, Wanted
from sourcing.pool.plan import Got, core_room, drawn, kinds_of, line_key, pieces_for


def breaches(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> list[str]:
    """Every rule that a pool's plan breaks, in words; empty for a sound one."""
    return [
        *(f"job {group[0].number}: {wrong}" for group in kinds_of(gets) for wrong in _wrong_with(group[0])),
        *_wrong_lines(pool, gets, purchases),
        *_wrong_quantities(pool, gets, purchases),
        *_wrong_cores(pool, gets, purchases),
    ]


def _wrong_with(one: Got) -> Iterator[str]:
    allowed = {(line.offer.id, line.mode.mode) for line in one.problem.lines}
    got = {line_key(purchase) for purchase in one.choice.purchases}
    for key in sorted(got - allowed):
        yield f"gets {one.problem.offer[key[0]].part.number} by {key[1]}, which its limits do not allow"
    for position, key in one.draws.items():
        if key not in got or one.choice.fills.get(position) != key[0]:
            yield f"{position} is filled from a line that the job gets nothing of"
    if set(one.draws) != set(one.choice.fills):
        yield "a position is filled from nowhere"
    yield from standing_breaches(one.problem, one.choice)


def _wrong_lines(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> Iterator[str]:
    filled = drawn(pool, gets)
    keys = [line_key(purchase) for purchase in purchases]
    if len(set(keys)) < len(keys):
        yield "one line stands twice"
    for strange in sorted(set(filled) - set(keys)):
        yield f"{pool.offer[strange[0]].part.number} fills a position and is not bought"
    got = {line_key(purchase) for one in gets for purchase in one.choice.purchases}
    for purchase in purchases:
        key, part = line_key(purchase), purchase.line.offer.part
        if not whole_line(purchase):
            yield f"{purchase.quantity} of {part.number} is no whole line"
        if sum(pieces_for(pool, key[0], filled.get(key, {})).values()) > purchase.quantity:
            yield f"{purchase.quantity} of {part.number} by {key[1]} do not reach"
        if key not in got:
            yield f"{part.number} by {key[1]} is bought for no job"
    for order in orders_of(pool.terms, purchases):
        if order.subtotal_minor < pool.terms[order.supplier].order_minimum_minor:
            yield f"the order to {order.supplier} by {order.mode} is below its minimum"


def _wrong_quantities(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> Iterator[str]:
    bought: Counter[int] = Counter()
    filled: dict[int, Counter[Wanted]] = {}
    for purchase in purchases:
        bought[purchase.line.offer.id] += purchase.quantity
    for (used, _), positions in drawn(pool, gets).items():
        filled.setdefault(used, Counter()).update(positions)
    spare: Counter[Wanted] = Counter()
    for number, quantity in bought.items():
        offer = pool.offer[number]
        if offer.stock is not None and quantity > offer.stock:
            yield f"{quantity} of {offer.part.number}, {offer.stock} in stock"
        need = smallest_serving(offer, sum(pieces_for(pool, number, filled.get(number, {})).values()))
        family = pool.shelved_as(number)
        if quantity < need or (quantity > need and family is None):
            yield f"{quantity} of {offer.part.number} is not the smallest quantity that serves"
        if family is not None:
            for design in pool.as_known_to[number][family].part.fills:
                spare[family, design] += quantity - need
    for wanted, wish in pool.wishes.items():
        if spare[wanted] > wish.pieces:
            yield f"{spare[wanted]} further pieces of {wanted[1]}, {wish.pieces} wanted"


def _wrong_cores(pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...]) -> Iterator[str]:
    room = core_room(pool, gets, purchases)
    for one in gets:
        family = one.problem.family.code
        for item in one.choice.returns:
            room[item.offer] -= 1
            if room[item.offer] < 0:
                yield "more cores go back than pieces were bought"
            if item.position in one.choice.kept or one.problem.cores.get(item.position) != item.design:
                yield f"job {one.number}: the core of {item.position} is not there to go back"
            known = pool.as_known_to[item.offer].get(family)
            if known is None or item.design not in known.part.core_accepts:
                yield f"{pool.offer[item.offer].part.number} takes no {item.design} as a core"
        if len({item.position for item in one.choice.returns}) < len(one.choice.returns):
            yield f"job {one.number}: one core goes back twice"
