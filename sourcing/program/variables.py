"""The variables of the program, keyed by short ids of ours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeAlias, TypeVar

import pulp

from sourcing.inhand import Hand, core_pieces
from sourcing.pool.lots import Lot, Pool, Wanted, alone
from sourcing.prices.offers import Offer
from sourcing.problem import Line, Problem
from sourcing.program.ways import Ways, ways_of

Number: TypeAlias = pulp.LpVariable | pulp.LpAffineExpression | int


@dataclass(frozen=True, slots=True)
class Span:
    """Quantities of one line at one price step: first, first + pack, ... last. Cents and minor are of `first` pieces.

    `further_cents` and `further_minor` are what one more pack adds within the step.
    """

    first: int
    last: int
    pack: int
    cents: int
    minor: int
    further_cents: int
    further_minor: int

    @property
    def packs(self) -> int:
        return (self.last - self.first) // self.pack


def spans(offer: Offer, most: int) -> list[Span]:
    """Split the quantities from the smallest line to `most` at the offer's price steps, in whole packs."""
    found = []
    ends = [step.quantity - 1 for step in offer.steps[1:]] + [most]
    for step, end in zip(offer.steps, ends, strict=True):
        first = max(offer.smallest, -(-step.quantity // offer.pack) * offer.pack)
        last = min(end, most) // offer.pack * offer.pack
        if first <= last:
            found.append(Span(first, last, offer.pack, offer.cents(first), offer.minor(first),
                              step.cents * offer.pack, step.minor * offer.pack))  # fmt: skip
    return found


@dataclass
class Unit:
    """What stands in the units of like jobs: `count` of them, a number or a variable, at most `most`.

    holds[p, d]       units in which position p holds design d ("none" among them)
    keeps[p]          units in which the found part of p goes back in
    here[p]           units in which the part in hand of p fills it
    goes_back[p]      units whose part in hand of p goes back to its supplier
    fills[o, p, d]    units in which offer o fills position p as design d
    row[t, r]         1 if the combination stands in row r of table t               (where there is one unit)
    way[g, w]         units whose g-th group of positions is made up in its w-th way     (where `ways` lists them)
    does[w]           1 if task w is due                                            (where there is one unit)
    later[i]          1 if something arrives on the i-th of the possible days or later       (where `wait` is None)
    draws[l, d]       pieces of line l that stand in as design d                    (where an offer has several lines)
    carries[l]        units that take a line of which they use nothing              (where it matters who does)
    asks[s]           1 if the unit gets anything from supplier s                   (where its job limits suppliers)

    `wait`: the working days within which everything is here that these units get.
    """

    problem: Problem
    tag: str
    most: int
    count: Number = 1
    wait: int | None = None
    like: int = 0
    ways: tuple[Ways, ...] | None = None
    holds: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    keeps: dict[str, pulp.LpVariable] = field(default_factory=dict)
    here: dict[str, pulp.LpVariable] = field(default_factory=dict)
    goes_back: dict[str, pulp.LpVariable] = field(default_factory=dict)
    fills: dict[tuple[int, str, str], pulp.LpVariable] = field(default_factory=dict)
    row: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    way: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    does: dict[int, pulp.LpVariable] = field(default_factory=dict)
    later: dict[int, pulp.LpVariable] = field(default_factory=dict)
    days: tuple[int, ...] = ()
    draws: dict[tuple[int, str], pulp.LpVariable] = field(default_factory=dict)
    carries: dict[int, pulp.LpVariable] = field(default_factory=dict)
    asks: dict[str, pulp.LpVariable] = field(default_factory=dict)

    @property
    def family(self) -> str:
        return self.problem.family.code

    @cached_property
    def of_offer(self) -> dict[int, list[tuple[str, str]]]:
        """The positions that each offer may fill here, each with the design."""
        return grouped((offer, (position, design)) for offer, position, design in self.fills)

    @cached_property
    def of_position(self) -> dict[str, list[pulp.LpVariable]]:
        """All ways in which bought parts may fill each position."""
        return grouped((position, var) for (_, position, _), var in self.fills.items())

    @cached_property
    def of_place(self) -> dict[tuple[str, str], list[pulp.LpVariable]]:
        """All ways in which bought parts may fill each position as each design."""
        return grouped(((position, design), var) for (_, position, design), var in self.fills.items())

    @cached_property
    def allowed(self) -> frozenset[tuple[int, str]]:
        """The lines that its job may draw from, by offer and mode."""
        return frozenset(
            (line.offer.id, line.mode.mode)
            for line in self.problem.lines
            if self.wait is None or line.workdays <= self.wait
        )


@dataclass
class Variables:
    """Every variable of one program: what stands in the units, and what is bought for all of them.

    used[o]           1 if offer o fills any position                               (where one line must serve several)
    needs[o]          pieces of offer o that fill positions
    extra[o]          packs of offer o beyond its smallest quantity that serve      (`more` 1 if there are any)
    takes[l, k]       1 if line l is bought at its price step k
    packs[l, k]       packs of line l beyond the first quantity of step k
    opens[s, m]       1 if supplier s gets an order by mode m
    free[s, m]        1 if that order's freight is waived
    piece[l]          pieces of line l whose freight by weight is paid
    buys[s]           1 if supplier s is bought from
    back[f, d, o]     cores of design d of family f that go back against offer o
    sends[s]          1 if any core goes back to supplier s
    shelf[f, d]       wanted pieces of design d of family f that no position uses
    """

    model: pulp.LpProblem
    pool: Pool
    units: list[Unit] = field(default_factory=list)
    lines: tuple[Line, ...] = ()
    offers: tuple[Offer, ...] = ()
    spans: dict[int, list[Span]] = field(default_factory=dict)
    used: dict[int, pulp.LpVariable] = field(default_factory=dict)
    needs: dict[int, Number] = field(default_factory=dict)
    needs_of: dict[tuple[int, str], Number] = field(default_factory=dict)
    binds: dict[tuple[int, str, str], pulp.LpVariable] = field(default_factory=dict)
    parts_of: dict[tuple[int, str], pulp.LpVariable] = field(default_factory=dict)
    most_needed: dict[int, int] = field(default_factory=dict)
    extra: dict[int, pulp.LpVariable] = field(default_factory=dict)
    more: dict[int, pulp.LpVariable] = field(default_factory=dict)
    takes: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    packs: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    opens: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    free: dict[tuple[str, str], pulp.LpVariable] = field(default_factory=dict)
    piece: dict[int, pulp.LpVariable] = field(default_factory=dict)
    buys: dict[str, pulp.LpVariable] = field(default_factory=dict)
    back: dict[tuple[str, str, int], pulp.LpVariable] = field(default_factory=dict)
    sends: dict[str, pulp.LpVariable] = field(default_factory=dict)
    shelf: dict[Wanted, pulp.LpVariable] = field(default_factory=dict)

    @property
    def alone(self) -> bool:
        """Whether it is one job by itself: then whatever is bought is bought for it."""
        return self.pool.alone

    @property
    def unit(self) -> Unit:
        """The unit of a job by itself, of which alone questions are asked."""
        (unit,) = self.units
        return unit

    @property
    def problem(self) -> Problem:
        return self.unit.problem

    def whole(self, name: str, most: int = 1) -> pulp.LpVariable:
        return self.model.add_variable(name, 0, most, pulp.LpInteger)

    def share(self, name: str, most: float | None = 1) -> pulp.LpVariable:
        return self.model.add_variable(name, 0, most, pulp.LpContinuous)

    def quantity(self, line: int) -> pulp.LpAffineExpression:
        """Pieces bought on a line."""
        return self._over(line, lambda span: span.first, lambda span: span.pack)

    def cents(self, line: int) -> pulp.LpAffineExpression:
        return self._over(line, lambda span: span.cents, lambda span: span.further_cents)

    def minor(self, line: int) -> pulp.LpAffineExpression:
        return self._over(line, lambda span: span.minor, lambda span: span.further_minor)

    def hands(self, offer: int) -> pulp.LpAffineExpression:
        """Pieces of an offer that are in hand, can take a core, and are not sent back; a kit is one piece, and stays."""
        terms: list[Number] = []
        for unit in self.units:
            pieces: dict[str, Hand] = {}
            for position, hand in unit.problem.in_hand.items():
                if hand.offer is not None and hand.offer.id == offer and hand.takes_core:
                    pieces["" if hand.kit else position] = hand
            terms += [len(pieces) * unit.count, *(-unit.goes_back[p] for p in pieces if p in unit.goes_back)]
        return pulp.lpSum(terms)

    def taken(self, line: int) -> pulp.LpAffineExpression:
        """1 if the line is bought at all."""
        return pulp.lpSum(self.takes[line, k] for k in range(len(self.spans[line])))

    def drawn(self, unit: Unit, line: int) -> Iterator[Number]:
        """What is more than 0 where a unit gets something from a line; of a job by itself, whether it is bought at all."""
        if self.alone:
            yield self.taken(line)
            return
        bought = self.lines[line]
        if (bought.offer.id, bought.mode.mode) not in unit.allowed:
            return
        if len(self.lines_of(bought.offer.id)) == 1:
            yield from (unit.fills[bought.offer.id, *place] for place in unit.of_offer.get(bought.offer.id, ()))
        else:
            yield from (unit.draws[line, design] for _, design in unit.of_offer.get(bought.offer.id, ()))
        if line in unit.carries:
            yield unit.carries[line]

    def lines_of(self, offer: int) -> Sequence[int]:
        """Lines of an offer, one a mode."""
        return self._of_offer.get(offer, ())

    def lines_in(self, order: tuple[str, str]) -> Sequence[int]:
        """Lines of a supplier's order by one mode."""
        return self._of_order.get(order, ())

    def users(self, offer: int) -> Sequence[Unit]:
        """The units of which an offer may fill a position."""
        return self._users.get(offer, ())

    @cached_property
    def _of_offer(self) -> dict[int, list[int]]:
        return grouped((line.offer.id, i) for i, line in enumerate(self.lines))

    @cached_property
    def _of_order(self) -> dict[tuple[str, str], list[int]]:
        return grouped((line.order, i) for i, line in enumerate(self.lines))

    @cached_property
    def _users(self) -> dict[int, list[Unit]]:
        return grouped((offer, unit) for unit in self.units for offer in unit.of_offer)

    def _over(self, line: int, at_first: object, further: object) -> pulp.LpAffineExpression:
        assert callable(at_first) and callable(further)
        terms = []
        for k, span in enumerate(self.spans[line]):
            terms.append((self.takes[line, k], at_first(span)))
            if (line, k) in self.packs:
                terms.append((self.packs[line, k], further(span)))
        return pulp.LpAffineExpression(terms)


K = TypeVar("K")
T = TypeVar("T")


def grouped(pairs: Iterable[tuple[K, T]]) -> dict[K, list[T]]:
    """The second of each pair by the first, in the order of the pairs."""
    groups: dict[K, list[T]] = {}
    for key, item in pairs:
        groups.setdefault(key, []).append(item)
    return groups


def declare(model: pulp.LpProblem, asked: Problem | Pool) -> Variables:
    """Make the variables that a problem or a pool needs; an offer that fills nothing and is not wanted gets none."""
    v = Variables(model, alone(asked) if isinstance(asked, Problem) else asked)
    v.units = [Unit(lot.problem, "", 1) for lot in v.pool.lots] if v.alone else list(_units(v))
    for unit in v.units:
        _standing(v, unit)
    _offers(v)
    _orders(v)
    for unit in v.units:
        _arrivals(v, unit)
        if not v.alone:
            _drawing(v, unit)
        _combinations(v, unit)
    if v.pool.minimise != "cash":
        _cores(v)
    if v.pool.minimise == "whole":
        for unit in v.units:
            if unit.ways is None:
                works = enumerate(unit.problem.works)
                unit.does.update({w: v.share(f"{unit.tag}does_{w}") for w, work in works if work.cents})
        _shelf(v)
    return v


def _units(v: Variables) -> Iterator[Unit]:
    """The units of a pool: like jobs as one with a count, where every whole combination of theirs can be listed.

    Where waiting costs money the jobs of a lot are counted by how long they wait. A lot is taken apart where its jobs limit
    their suppliers, or where its combinations are too many to list.
    """
    number = 0
    for n, lot in enumerate(v.pool.lots):
        ways = ways_of(lot.problem)
        counted = lot.count > 1 and ways is not None and lot.problem.job.limits.max_suppliers is None
        if not counted:
            for _ in range(lot.count):
                yield Unit(lot.problem, f"u{number}_", 1, like=n, ways=ways)
                number += 1
            continue
        waits = _waits(lot)
        if len(waits) == 1:
            yield Unit(lot.problem, f"u{number}_", lot.count, lot.count, waits[0], n, ways)
            number += 1
            continue
        for wait in waits:
            count = v.whole(f"u{number}_count", lot.count)
            yield Unit(lot.problem, f"u{number}_", lot.count, count, wait, n, ways)
            number += 1


def _waits(lot: Lot) -> list[int]:
    """How long a job of a lot may wait for its parts, in working days, where that costs money."""
    waits = sorted({0, *(line.workdays for line in lot.problem.lines)})
    return waits if lot.problem.minimise == "whole" and lot.problem.shop.day_cents else [waits[-1]]


def _standing(v: Variables, unit: Unit) -> None:
    problem, tag = unit.problem, unit.tag
    for i, position in enumerate(problem.positions):
        for j, design in enumerate(problem.domains[position]):
            unit.holds[position, design] = v.whole(f"{tag}holds_{i}_{j}", unit.most)
        if problem.keepable.get(position) in problem.domains[position]:
            unit.keeps[position] = v.whole(f"{tag}keeps_{i}", unit.most)
        if problem.can_use(position):
            unit.here[position] = v.whole(f"{tag}here_{i}", unit.most)
        if position in problem.in_hand and problem.in_hand[position].restock_cents is not None:
            unit.goes_back[position] = v.whole(f"{tag}goes_back_{i}", unit.most)


def _combinations(v: Variables, unit: Unit) -> None:
    if unit.ways is not None:
        for g, ways in enumerate(unit.ways):
            unit.way.update({(g, w): v.whole(f"{unit.tag}way_{g}_{w}", unit.most) for w in range(len(ways.all))})
        return
    for t, table in enumerate(unit.problem.fitting.tables if unit.problem.fitting else ()):
        for r in range(len(table.rows)):
            unit.row[t, r] = v.whole(f"{unit.tag}row_{t}_{r}")


def _offers(v: Variables) -> None:
    allowed = {unit.tag: {offer for offer, _ in unit.allowed} for unit in v.units}
    for bought in v.pool.offers:
        room = v.pool.shelf_room(bought.id)
        filling = []
        for unit in v.units:
            if bought.id not in allowed[unit.tag]:
                continue
            filling += [
                (unit, position, design)
                for position, designs in unit.problem.fillings(unit.problem.offer[bought.id]).items()
                for design in designs
            ]
        _needed(v, bought, room, filling)
        if filling or room:
            v.offers += (bought,)
    wanted = {offer.id for offer in v.offers}
    v.lines = tuple(line for line in v.pool.lines if line.offer.id in wanted)
    for i, line in enumerate(v.lines):
        v.spans[i] = spans(line.offer, most_bought(v, line.offer))
        for k, span in enumerate(v.spans[i]):
            v.takes[i, k] = v.whole(f"takes_{i}_{k}")
            if span.packs:
                v.packs[i, k] = v.whole(f"packs_{i}_{k}", span.packs)


def most_bought(v: Variables, offer: Offer) -> int:
    """The most pieces of an offer that a plan can hold: need in whole packs, what the shelf wants, and the stock."""
    need = v.most_needed.get(offer.id, 0)
    serves = max(offer.smallest, -(-need // offer.pack) * offer.pack) if need else 0
    most = serves + v.pool.shelf_room(offer.id)
    return most if offer.stock is None else min(most, offer.stock)


def _needed(v: Variables, offer: Offer, room: int, filling: Sequence[tuple[Unit, str, str]]) -> None:
    """Which positions an offer may fill, and how its pieces are counted."""
    if not filling:
        return
    lots = {unit.like: v.pool.lots[unit.like].count for unit, _, _ in filling}
    stock = sum(lots.values()) if offer.stock is None else offer.stock
    most = v.most_needed[offer.id] = min(sum(lots.values()), stock)
    single = sum(lots.values()) == 1
    if single or offer.smallest > 1:
        v.used[offer.id] = v.whole(f"used_{offer.id}")
    for unit, position, design in filling:
        i, j = unit.problem.place[position], unit.problem.domains[position].index(design)
        held = unit.problem.offer[offer.id].part.fills.count(design)  # a piece may hold a design more than once
        cap = min(most * held, unit.most)
        unit.fills[offer.id, position, design] = v.whole(f"{unit.tag}fills_{offer.id}_{i}_{j}", cap)
    if most > offer.smallest and offer.smallest > 1:
        v.extra[offer.id] = v.whole(f"extra_{offer.id}", -(-(most - offer.smallest) // offer.pack))
        v.more[offer.id] = v.whole(f"more_{offer.id}")
    if single:
        v.needs[offer.id] = v.used[offer.id]
        return
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


def _orders(v: Variables) -> None:
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


def _arrivals(v: Variables, unit: Unit) -> None:
    """The days on which something may arrive for a unit; none where it is known how long it waits."""
    if unit.wait is not None:
        return
    lines = v.lines if v.alone else unit.problem.lines
    unit.days = tuple(sorted({line.workdays for line in lines if line.workdays}))
    if v.alone or _waiting_costs(unit):
        unit.later.update({i: v.whole(f"{unit.tag}later_{i}") for i in range(len(unit.days))})


def _waiting_costs(unit: Unit) -> bool:
    return unit.problem.minimise == "whole" and bool(unit.problem.shop.day_cents)


def _drawing(v: Variables, unit: Unit) -> None:
    """Which line each piece comes from, where an offer has several; who takes what only the shelf wants, where it matters."""
    for offer, places in unit.of_offer.items():
        lines = v.lines_of(offer)
        for line in lines if len(lines) > 1 else ():
            if (offer, v.lines[line].mode.mode) in unit.allowed:
                for position, design in places:
                    i = unit.problem.place[position]
                    unit.draws[line, design] = v.whole(f"{unit.tag}draws_{line}_{i}", unit.most)
    limited = unit.problem.job.limits.max_suppliers is not None
    if limited:
        suppliers = sorted({line.offer.supplier for line in unit.problem.lines} & set(v.buys))
        unit.asks.update({s: v.whole(f"{unit.tag}asks_{n}") for n, s in enumerate(suppliers)})
    for i, bought in enumerate(v.lines):
        if v.pool.shelf_room(bought.offer.id) and (bought.offer.id, bought.mode.mode) in unit.allowed:
            unit.carries[i] = v.whole(f"{unit.tag}carries_{i}", unit.most)


def _take_cores(v: Variables) -> list[Offer]:
    """The offers of which a piece can be there to take a core: bought, or in hand."""
    here = {offer.id: offer for unit in v.units for offer in core_pieces(unit.problem.in_hand, ())}
    return list({**here, **{offer.id: offer for offer in v.offers}}.values())


def _cores(v: Variables) -> None:
    cores: dict[Wanted, int] = {}
    for lot in v.pool.lots:
        for design in lot.problem.cores.values():
            cores[lot.family, design] = cores.get((lot.family, design), 0) + lot.count
    takers: dict[Wanted, list[int]] = {}
    for offer in _take_cores(v):
        if v.pool.terms[offer.supplier].core_credit(offer.core_cents):
            for family, known in v.pool.as_known_to[offer.id].items():
                for design in known.part.core_accepts:
                    takers.setdefault((family, design), []).append(offer.id)
    for i, ((family, design), most) in enumerate(cores.items()):
        for taker in takers.get((family, design), ()):
            v.back[family, design, taker] = v.whole(f"back_{i}_{taker}", most)
    for n, supplier in enumerate(sorted({v.pool.offer[offer].supplier for _, _, offer in v.back})):
        v.sends[supplier] = v.whole(f"sends_{n}")


def _shelf(v: Variables) -> None:
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
