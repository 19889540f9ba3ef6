"""The waist of the house: a job, its book, the offers of its day and its limits, joined once and sealed.

Everything before a problem is reading; everything after it is reasoning. A problem is one setting of a unit: one era,
one value of every fact that a rule asks for. A changed problem is a new problem (`dataclasses.replace`).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from functools import cached_property

from sourcing.book.family import Family
from sourcing.book.fitting import Fitting, Reason
from sourcing.book.rules import Setting
from sourcing.inhand import Hand
from sourcing.job import Job
from sourcing.money import half_up, to_cents
from sourcing.prices.offers import Offer
from sourcing.shop import Shop
from sourcing.terms import Mode, Terms

KEPT = "kept"
# Sizes of a line beyond which a part's price is not studied: every size may take solves of its own.
MOST_QUANTITIES = 100


@dataclass(frozen=True, slots=True)
class Wish:
    """Pieces of a design that the shop would put on its shelf, and what a piece is worth there."""

    pieces: int
    worth_cents: int


@dataclass(frozen=True, slots=True)
class Work:
    """A task whose facts and eras hold: done when its positions' condition holds and, if it says so, one is replaced."""

    code: str
    name: str
    hours: str
    cents: int
    when: tuple[tuple[str, frozenset[str]], ...]
    replacing: tuple[str, ...] | None
    caution: str

    def due(self, combination: Mapping[str, str], bought: Iterable[str]) -> bool:
        """Whether a plan makes the task due; `bought` are the positions filled by bought parts."""
        holds = all(combination[position] in values for position, values in self.when)
        return holds and (self.replacing is None or bool(set(self.replacing) & set(bought)))


@dataclass(frozen=True, slots=True)
class Line:
    """One part number in one order: an offer sent by one mode of its supplier."""

    offer: Offer
    mode: Mode
    workdays: int
    arrives: date
    piece_freight_cents: int

    @property
    def key(self) -> tuple[str, str, str]:
        return (self.offer.supplier, self.offer.part.number.spelt, self.mode.mode)

    @property
    def order(self) -> tuple[str, str]:
        return (self.offer.supplier, self.mode.mode)


@dataclass(frozen=True, slots=True)
class Told:
    """A combination that was told; with `fills` (the offer at each position that a bought part fills) only from those, and
    from the parts in hand at the positions of `in_hand`."""

    combination: Mapping[str, str]
    fills: Mapping[str, int] | None = None
    in_hand: tuple[str, ...] = ()


@dataclass(frozen=True)
class Problem:
    """A sealed purchasing problem. Money in whole cents of the shop; thresholds in suppliers' smallest coins.

    `fitting` is None where the book and the limits leave no combination; `blocked` says why; `fits` are
    the designs that the book lets stand in this unit, whether they can be had or not.
    `found` are the designs that each found part can be (empty: nothing found); `keepable` and `cores` the design of a
    found part that may go back in, or back to a supplier. `lines` are all that can be bought in time. `asked` gives, for
    an offer, how many pieces must be paid at its first price; `using` offers that must fill a position, `sparing` those
    that must not; `told` what an answer must differ from; `ceilings` the most that comebacks or cash may come to, in cents;
    `handled` what a plan must do with a part in hand: "use", "leave" (send back, or keep unused) or "send back".
    These are questions that a decision asks; no job does. `rates` are comeback rates that are supposed instead of the
    book's, by condition ("kept" for a part that goes back in) and design. `bench` are those of the notes
    that speak of what was found.
    """

    job: Job
    family: Family
    shop: Shop
    setting: Setting
    fitting: Fitting | None
    keepable: Mapping[str, str]
    cores: Mapping[str, str]
    found: Mapping[str, tuple[str, ...]]
    lines: tuple[Line, ...]
    terms: Mapping[str, Terms]
    wishes: Mapping[str, Wish]
    works: tuple[Work, ...]
    blocked: tuple[Reason, ...]
    refusals: tuple[Reason, ...]
    fits: frozenset[str]
    notes: tuple[str, ...]
    asked: Mapping[int, int] = field(default_factory=dict)
    using: tuple[int, ...] = ()
    sparing: tuple[int, ...] = ()
    told: tuple[Told, ...] = ()
    ceilings: Mapping[str, int] = field(default_factory=dict)
    rates: Mapping[tuple[str, str], Fraction] = field(default_factory=dict)
    bench: tuple[str, ...] = ()
    in_hand: Mapping[str, Hand] = field(default_factory=dict)
    handled: Mapping[str, str] = field(default_factory=dict)

    @property
    def minimise(self) -> str:
        return self.job.job.minimise

    @property
    def positions(self) -> tuple[str, ...]:
        return tuple(self.family.position)

    @property
    def domains(self) -> Mapping[str, tuple[str, ...]]:
        return self.fitting.domains if self.fitting else {}

    @property
    def question(self) -> Hashable:
        """What the settings of one job may ask alike: designs left, tables and tasks; None where nothing fits."""
        return None if self.fitting is None else (tuple(self.domains.items()), self.fitting.tables, self.works)

    @cached_property
    def offers(self) -> tuple[Offer, ...]:
        return tuple({line.offer.id: line.offer for line in self.lines}.values())

    @cached_property
    def line(self) -> dict[tuple[str, str, str], Line]:
        """Every line by its key."""
        return {line.key: line for line in self.lines}

    @cached_property
    def offer(self) -> dict[int, Offer]:
        """Every offer that a plan can speak of by its number: what can be bought, and what is in hand."""
        here = {hand.offer.id: hand.offer for hand in self.in_hand.values() if hand.offer is not None}
        return {**here, **{offer.id: offer for offer in self.offers}}

    def may_fill(self, offer: Offer, position: str) -> tuple[str, ...]:
        """Designs with which an offer may fill a position."""
        if offer.id in self.sparing:
            return ()
        return fillers(self.family, offer, position, self.domains.get(position, ()))

    def fillings(self, offer: Offer) -> dict[str, tuple[str, ...]]:
        """The positions that a piece of an offer may fill, each with the designs that it may fill it with."""
        at = {self.family.design[design].position for design in offer.part.fills}
        places = sorted(at, key=self.place.__getitem__) if len(at) > 1 else at
        filling = {position: self.may_fill(offer, position) for position in places}
        return {position: designs for position, designs in filling.items() if designs}

    @cached_property
    def place(self) -> dict[str, int]:
        """Where each position stands among them."""
        return {position: n for n, position in enumerate(self.family.position)}

    def lines_of(self, offer: Offer) -> tuple[Line, ...]:
        """The lines of an offer, one a mode."""
        return self._lines_of.get(offer.id, ())

    @cached_property
    def _lines_of(self) -> dict[int, tuple[Line, ...]]:
        found: dict[int, list[Line]] = {}
        for line in self.lines:
            found.setdefault(line.offer.id, []).append(line)
        return {offer: tuple(lines) for offer, lines in found.items()}

    def comeback_cents(self, position: str, rate_of: Offer | None, design: str) -> int:
        """Expected comebacks of a filled position: rate x cost of one, rounded. `rate_of` None: the part is kept."""
        return half_up(self.comeback_rate(rate_of, design) * self.comeback_cost_cents(position))

    def comeback_rate(self, offer: Offer | None, design: str) -> Fraction:
        """The share of a design's parts that come back; `offer` None: the part is kept."""
        supposed = self.rates.get((KEPT if offer is None else offer.part.condition, design))
        if supposed is not None:
            return supposed
        if offer is not None:
            return offer.part.comeback_rate(self.family, design)
        made = self.family.design[design]
        return made.comeback_rate if made.kept_comeback_rate is None else made.kept_comeback_rate

    def can_use(self, position: str) -> bool:
        """Whether the part in hand of a position can fill it."""
        hand = self.in_hand.get(position)
        return hand is not None and hand.fits and hand.design in self.domains.get(position, ())

    def in_hand_rate(self, hand: Hand) -> Fraction:
        """The comeback rate of a part in hand: its number's where it is that number, the design's otherwise."""
        part = hand.part
        if hand.source == "customer" or part is None or hand.design not in part.fills:
            return self.family.design[hand.design].comeback_rate
        return self.rates.get((part.condition, hand.design), part.comeback_rate(self.family, hand.design))

    def in_hand_comeback_cents(self, hand: Hand) -> int:
        """Expected comebacks of a position that the part in hand fills: rate x cost of one, rounded."""
        return half_up(self.in_hand_rate(hand) * self.comeback_cost_cents(hand.position))

    def comeback_cost_cents(self, position: str) -> int:
        """What one comeback of a position costs."""
        return self._comeback_costs[position]

    @cached_property
    def _comeback_costs(self) -> dict[str, int]:
        usual = to_cents(self.shop.comeback_cost)
        costs = {code: position.comeback_cost for code, position in self.family.position.items()}
        return {code: usual if cost is None else to_cents(cost) for code, cost in costs.items()}

    def handling(self, position: str, what: str) -> Problem:
        """The same problem in which the part in hand of a position is used, left out, or sent back: see `handled`."""
        return replace(self, handled={**self.handled, position: what})

    def holding(self, position: str, design: str) -> Problem:
        """The same problem with one position held to one design; without a fitting where it cannot hold it."""
        if self.fitting is None:
            return self
        held = tuple(value for value in self.fitting.domains[position] if value == design)
        return replace(self, fitting=Fitting({**self.fitting.domains, position: held}, self.fitting.tables).reduced())

    def priced(self, offer: int, minor: int) -> Problem:
        """The same problem with another first price of one offer, in its supplier's smallest coins."""
        terms = self.terms[self.offer[offer].supplier]
        changed = self.offer[offer].priced(minor, terms.cents(minor))
        lines = (replace(line, offer=changed) if line.offer.id == offer else line for line in self.lines)
        return replace(self, lines=tuple(lines))

    def buying(self, offer: int, base_pieces: int) -> Problem:
        """The same problem in which exactly so many pieces of an offer are paid at its first price."""
        return replace(self, asked={**self.asked, offer: base_pieces})

    def filled_by(self, offer: int) -> Problem:
        """The same problem in which an offer must fill some position."""
        return replace(self, using=(*self.using, offer))

    def not_filled_by(self, offer: int) -> Problem:
        """The same problem in which an offer fills no position; it may still be bought for the shelf."""
        return replace(self, sparing=(*self.sparing, offer))

    def unlike(
        self, combination: Mapping[str, str], fills: Mapping[str, int] | None = None, in_hand: tuple[str, ...] = ()
    ) -> Problem:
        """The same problem without one combination; with `fills`, only without that combination from those parts."""
        return replace(self, told=(*self.told, Told(combination, fills, in_hand)))

    def below(self, total: str, cents: int) -> Problem:
        """The same problem in which `comebacks` or `cash` come to at most so much."""
        return replace(self, ceilings={**self.ceilings, total: cents})

    def within(self, workdays: int) -> Problem:
        """The same problem in which everything must be here after so many working days."""
        return replace(self, lines=tuple(line for line in self.lines if line.workdays <= workdays))

    def shelf_room(self, offer: Offer) -> int:
        """Pieces of an offer that may be bought for the shelf: 0 unless every design of it is wanted."""
        fills = offer.part.fills
        if not all(design in self.wishes for design in fills):
            return 0
        return min(self.wishes[design].pieces // fills.count(design) for design in fills)

    def most(self, offer: Offer) -> int:
        """The most pieces of an offer that a plan can hold: need, what the shelf wants, and the stock."""
        most = offer.smallest + self.shelf_room(offer)
        return most if offer.stock is None else min(most, offer.stock)

    def first_price_counts(self, offer: Offer) -> tuple[int, ...] | None:
        """How many pieces of an offer a plan may pay at its first price, over all its lines together.

        None where there are more than `MOST_QUANTITIES` sizes of a line: each would be a question of its own.
        """
        most = self.most(offer)
        lines = range(offer.smallest, most + 1, offer.pack)
        if len(lines) > MOST_QUANTITIES:
            return None
        held = {(0, 0)}
        for _ in range(sum(line.offer.id == offer.id for line in self.lines)):
            more = {(q + line, n + offer.base_pieces(line)) for q, n in held for line in lines if q + line <= most}
            if more <= held:
                break
            held |= more
        return tuple(sorted({count for _, count in held}))


def grams(family: Family, offer: Offer) -> int:
    """What a piece weighs: the sum of its designs."""
    return sum(family.design[design].grams for design in offer.part.fills)


def fillers(family: Family, offer: Offer, position: str, held: Sequence[str]) -> tuple[str, ...]:
    """Designs of an offer that a position can take, in the order of `held`."""
    if offer.part.condition not in family.position[position].conditions:
        return ()
    return tuple(design for design in held if design in offer.part.fills)
