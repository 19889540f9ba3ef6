"""A job joined with its book, the offers of its day and its limits, once: a sealed problem.

What cannot be bought, kept or held is left out here, each with its reason; nobody after this checks again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sourcing.book.family import NONE, Family, Inspection
from sourcing.book.fitting import Fitting, Reason, fitting_of, reasons_against
from sourcing.book.misfits import mixed
from sourcing.book.rules import Setting
from sourcing.inhand import hands_of, told_of
from sourcing.job import Job
from sourcing.money import to_cents
from sourcing.prices.offers import Offer, Offers
from sourcing.problem import Line, Problem, Wish, Work, grams
from sourcing.shop import Shop
from sourcing.terms import Terms
from sourcing.workdays import after


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
    if book.first() is None and not blocked:
        blocked.append(Reason("rule", f"no combination is valid in a unit of {family.era[setting.era].name}"))
        blocked += _conflict(book)
    _limit(job, family, setting, domains, blocked)
    offers = {line.offer.id: line.offer for line in lines}.values()
    sold = {(design, offer.part.condition) for offer in offers for design in offer.part.fills}
    for position, values in domains.items():
        had = {d for d in values for condition in family.position[position].conditions if (d, condition) in sold}
        supplied = [d for d in values if d == NONE or d in (keepable.get(position), here.get(position)) or d in had]
        if values and not supplied:
            listed = ", ".join(values)
            blocked.append(Reason("part", f"no {family.position[position].name} can be had: {listed}",
                                  positions=(position,)))  # fmt: skip
        domains[position] = supplied
    fitting = Fitting(domains, book.tables)
    if not blocked and fitting.first() is None:
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
