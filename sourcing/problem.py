"""The waist of the house: a job, its book, the offers of its day and its limits, joined once and sealed.

Everything before a problem is reading; everything after it is reasoning. A problem is one setting of a unit: one era,
one value of every fact that a rule asks for. A changed problem is a new problem (`dataclasses.replace`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from functools import cached_property

from sourcing.book.family import NONE, Family, Inspection
from sourcing.book.fitting import Fitting, Reason, fitting_of, reasons_against
from sourcing.book.misfits import mixed
from sourcing.book.rules import Setting
from sourcing.inhand import Hand, hands_of, told_of
from sourcing.job import Job
from sourcing.money import half_up, to_cents
from sourcing.prices.offers import Offer, Offers
from sourcing.shop import Shop
from sourcing.terms import Mode, Terms
from sourcing.workdays import after

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

    @cached_property
    def offers(self) -> tuple[Offer, ...]:
        return tuple({line.offer.id: line.offer for line in self.lines}.values())

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
        cost = self.family.position[position].comeback_cost
        return to_cents(self.shop.comeback_cost if cost is None else cost)

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


def seal(job: Job, family: Family, shop: Shop, terms: Mapping[str, Terms], offers: Offers, setting: Setting) -> Problem:
    """Join a job with its book and the offers of its day, for one setting, and check it once."""
    blocked: list[Reason] = []
    lines, refusals = _buyable(job, family, shop, terms, offers)
    refusals += [
        Reason(
            "part",
            f"{part.supplier} {part.number} ({' + '.join(part.fills)}): {why}",
            str(part.number),
            designs=part.fills,
        )
        for part, why in offers.refused
    ]
    known = {p: job.candidates(family, p) for p in family.position}
    keepable, notes = _keepable(job, family, known)
    book = fitting_of(family, setting)
    hands = hands_of(job, family, terms, offers)
    here = {position: hand.design for position, hand in hands.items() if hand.fits}
    fitting = _narrowed(job, family, setting, book, lines, keepable, here, blocked)
    returnable = job.limits.cores if job.limits.cores is not None else list(known)
    notes += [f"cores: nothing was found at {p}" for p in job.limits.cores or [] if not known[p]]
    cores = {p: known[p][0] for p in family.position if p in returnable and len(known[p]) == 1}
    notes += [f"the core at {p} can be {', '.join(known[p])}: identify it to get its core charge back"
              for p in family.position if p in returnable and len(known[p]) > 1]  # fmt: skip
    wanted = shop.wanted if job.wanted is None else job.wanted
    held = fitting.domains if fitting else {}
    bench = _mixed(family, setting, book, known, held, cores)
    bench += [f"keep: the found {family.position[p].name} does not go back in: {why}"
              for p in untested(job, family) for _, why in unpassed(job, family, p)]  # fmt: skip
    bench += told_of(hands, family, held)
    notes = [*_assumed(job, family, shop), *notes]
    notes += [
        f"keep: the found {family.name_of(d)} cannot go back in: no valid plan holds it"
        for p, d in keepable.items()
        if fitting and d not in held[p]
    ]
    return Problem(
        job=job,
        family=family,
        shop=shop,
        setting=setting,
        fitting=fitting,
        keepable={p: d for p, d in keepable.items() if d in held.get(p, ())},
        cores=cores,
        found=known,
        lines=tuple(lines),
        terms=terms,
        wishes={w.design: Wish(w.pieces, to_cents(w.worth)) for w in wanted if w.design in family.design},
        works=works_of(family, shop, setting),
        blocked=tuple(blocked),
        refusals=tuple(refusals),
        fits=frozenset(design for values in book.domains.values() for design in values),
        notes=(*bench, *notes, *offers.notes),
        bench=tuple(bench),
        in_hand=hands,
    )


def _assumed(job: Job, family: Family, shop: Shop) -> list[str]:
    """What was taken for granted because nobody said it."""
    said = []
    if job.unit_undated and job.vehicle_eras(family) is not None:
        said.append("the unit has no date of its own: the vehicle's was taken. Units get swapped; look at its tag")
    if shop.labour_cost is None and family.tasks:
        said.append("labour is reckoned at the rate that is charged: shop.toml gives no labour_cost")
    return said


def _mixed(
    family: Family,
    setting: Setting,
    book: Fitting,
    known: Mapping[str, tuple[str, ...]],
    held: Mapping[str, Sequence[str]],
    cores: Mapping[str, str],
) -> list[str]:
    """A unit that somebody mixed before, named as such: which part does not belong, by which rule, what becomes of it."""
    said = []
    for ways in mixed(family, setting, book, {position: designs for position, designs in known.items() if designs}):
        told = []
        for misfit in (misfit for way in ways for misfit in way):
            part = f"the found {' or '.join(map(family.name_of, misfit.designs))}"
            back = "" if set(misfit.designs) & set(held.get(misfit.position, ())) else "cannot go back in"
            core = f"its core counts as {cores[misfit.position]}" if misfit.position in cores else ""
            becomes = ", and ".join(word for word in (back, core) if word)
            against = "; ".join(f"{r.says} ({r.code})" if r.kind == "rule" else r.says for r in misfit.reasons)
            told.append(f"{part}{f' {becomes}' if back else f', {becomes}' if becomes else ''}: {against}")
        if len(ways) == 1:
            said += [f"mixed before: {one}" for one in told]
        else:
            said.append(f"mixed before, one of these does not belong: {'; or '.join(told)}")
    return said


def _keepable(job: Job, family: Family, known: Mapping[str, tuple[str, ...]]) -> tuple[dict[str, str], list[str]]:
    """Found parts that may go back in, and what was passed over."""
    keepable, notes = {}, []
    for position in job.limits.keep:
        name = family.position[position].name
        if not family.position[position].may_keep:
            notes.append(f"keep: the found {name} never goes back in, by the book")
        elif not known[position]:
            notes.append(f"keep: no {name} was found that could be kept")
        elif unpassed(job, family, position):
            continue  # told with what is on the bench
        elif len(known[position]) > 1:
            listed = ", ".join(known[position])
            notes.append(f"keep: the found {name} can be {listed}; a part that is kept must be known as exactly one")
        else:
            keepable[position] = known[position][0]
    return keepable, notes


def untested(job: Job, family: Family) -> list[str]:
    """Positions of `keep` whose found part might go back in, but for an inspection that it has not passed."""
    may = (p for p in job.limits.keep if family.position[p].may_keep and job.candidates(family, p))
    return [position for position in may if unpassed(job, family, position)]


def unpassed(job: Job, family: Family, position: str) -> list[tuple[Inspection, str]]:
    """The inspections of a position that no reading of the job passes, each with what is wrong in words."""
    left = []
    for inspection in family.inspections_of(position):
        reading = job.readings.get(inspection.code)
        unit = f" {inspection.unit}" if inspection.unit else ""
        source = f"{inspection.code}, {inspection.source}"
        if reading is None:
            says = f"not measured: {inspection.ask} It passes at {inspection.accepted} ({source})"
            says += f". {inspection.caution}" if inspection.caution else ""
            left.append((inspection, says))
        elif not inspection.passes(reading):
            left.append((inspection, f"it reads {reading}{unit} and passes at {inspection.accepted} ({source})"))
    return left


def _buyable(
    job: Job, family: Family, shop: Shop, terms: Mapping[str, Terms], offers: Offers
) -> tuple[list[Line], list[Reason]]:
    lines, refusals = [], []
    closed = frozenset(shop.holidays)
    for offer in offers.offers:
        why = _why_barred(job, offer)
        if not why:
            weight = grams(family, offer)
            made = []
            for mode in terms[offer.supplier].modes:
                days = offer.lead_workdays + mode.workdays
                made.append(Line(offer, mode, days, after(job.job.date, days, closed), mode.piece_cents(weight)))
            in_time = [line for line in made if job.job.need_by is None or line.arrives <= job.job.need_by]
            lines += in_time
            if not in_time and job.job.need_by is not None:
                first = min(line.arrives for line in made)
                why = f"it would be here on {first.isoformat()} at the soonest, after {job.job.need_by}"
        if why:
            says = f"{offer.supplier} {offer.part.number} ({' + '.join(offer.part.fills)}): {why}"
            refusals.append(Reason("part", says, str(offer.part.number), designs=offer.part.fills))
    return sorted(lines, key=lambda line: line.key), sorted(refusals, key=lambda reason: reason.says)


def _why_barred(job: Job, offer: Offer) -> str:
    limits = job.limits
    if limits.unavailable and (offer.supplier, offer.part.number.canonical) in limits.cannot_be_had:
        return "limits unavailable says that it cannot be had now"
    if offer.valid_until is not None and offer.valid_until < job.job.date:
        return f"its price held until {offer.valid_until.isoformat()}"
    if offer.stock == 0:
        return "it is out of stock"
    if offer.stock is not None and offer.stock < offer.smallest:
        return f"{offer.stock} in stock, but the smallest quantity sold is {offer.smallest}"
    if limits.suppliers is not None and offer.supplier not in limits.suppliers:
        return "limits suppliers does not name its supplier"
    if offer.supplier in limits.avoid_suppliers:
        return "limits avoid_suppliers names its supplier"
    if limits.conditions is not None and offer.part.condition not in limits.conditions:
        return f"it is {offer.part.condition}; limits conditions allows {', '.join(limits.conditions) or 'nothing'}"
    if offer.part.warranty_months < limits.min_warranty_months:
        return f"{offer.part.warranty_months} months of warranty; the job asks for {limits.min_warranty_months}"
    return ""


def _narrowed(
    job: Job,
    family: Family,
    setting: Setting,
    book: Fitting,
    lines: Sequence[Line],
    keepable: Mapping[str, str],
    here: Mapping[str, str],
    blocked: list[Reason],
) -> Fitting | None:
    """What can stand in the unit and be had: book, limits and supply propagated together; reasons where nothing can."""
    domains = {position: list(values) for position, values in book.domains.items()}
    for position, values in domains.items():
        if not values:
            blocked.append(Reason("era", f"the book has no {position} for a unit of {family.era[setting.era].name}",
                                  positions=(position,)))  # fmt: skip
    if next(book.combinations(), None) is None and not blocked:
        blocked.append(Reason("rule", f"no combination is valid in a unit of {family.era[setting.era].name}"))
        blocked += _conflict(book)
    _limit(job, family, setting, domains, blocked)
    offers = {line.offer.id: line.offer for line in lines}.values()
    for position, values in domains.items():
        had = {d for offer in offers for d in fillers(family, offer, position, values)}
        supplied = [d for d in values if d == NONE or d in (keepable.get(position), here.get(position)) or d in had]
        if values and not supplied:
            listed = ", ".join(values)
            blocked.append(Reason("part", f"no {family.position[position].name} can be had: {listed}",
                                  positions=(position,)))  # fmt: skip
        domains[position] = supplied
    fitting = Fitting(domains, book.tables)
    if not blocked and next(fitting.combinations(), None) is None:
        held = "; ".join(f"{family.position[p].name}: {', '.join(values)}" for p, values in domains.items())
        blocked.append(Reason("rule", f"what can be had or kept does not go together ({held})"))
        blocked += _conflict(fitting)
    return None if blocked else fitting.reduced()


def _conflict(fitting: Fitting) -> list[Reason]:
    return [Reason("rule", t.says, t.code, t.source, t.positions) for t in fitting.conflict()]


def _limit(job: Job, family: Family, setting: Setting, domains: dict[str, list[str]], blocked: list[Reason]) -> None:
    """Apply `require` and `exclude` to what each position may hold."""
    for design in job.limits.exclude:
        position = family.design[design].position
        domains[position] = [value for value in domains[position] if value != design]
    for design in job.limits.require:
        position = family.design[design].position
        if design not in domains[position]:
            says = f"the job requires {family.name_of(design)}"
            against = reasons_against(family, setting, {position: design})
            if not against:
                says += ", and also excludes it or requires another in its place"
            blocked.append(Reason("limit", says, design, positions=(position,)))
            blocked += against
        domains[position] = [value for value in domains[position] if value == design]
    for position, values in domains.items():
        if not values and not blocked:
            says = f"the limits exclude every {family.position[position].name} that the unit could take"
            blocked.append(Reason("limit", says, positions=(position,)))


def works_of(family: Family, shop: Shop, setting: Setting) -> tuple[Work, ...]:
    """The tasks that a setting leaves possible, each with what it costs at the shop's hour."""
    works = []
    for task in family.tasks:
        on_parts = tuple((key, frozenset(values)) for key, values in task.when.items() if key in family.position)
        if all(setting.value(key) in values for key, values in task.when.items() if key not in family.position):
            cents = to_cents(task.hours * shop.hour_costs + task.cost)
            replacing = None if task.replacing is None else tuple(task.replacing)
            works.append(Work(task.code, task.name, str(task.hours), cents, on_parts, replacing, task.caution))
    return tuple(works)
