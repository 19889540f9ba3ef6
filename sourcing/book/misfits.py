"""Which of the parts found does not belong, and by which rule.

A diagnosis is a set of found parts without which the rest belongs together, and of which none could be left out. Each is
found by the rules that stand in the way: some part that such a conflict speaks of must go (hitting sets of conflicts:
Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32, 1987).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sourcing.book.family import NONE, Family
from sourcing.book.fitting import Domains, Fitting, Reason
from sourcing.book.rules import Setting
from sourcing.book.standing import Standing, narrowed

MOST_TRIED = 400
Trouble = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Misfit:
    """A found part that does not belong with the rest, and why."""

    position: str
    designs: tuple[str, ...]
    reasons: tuple[Reason, ...]


def against(family: Family, era: str, fitting: Fitting, held: Mapping[str, Sequence[str]]) -> tuple[Reason, ...]:
    """Why nothing that a unit may hold by what was seen is valid in it; empty where something is.

    First each part that no unit of the era may hold and each rule that all of it breaks by itself; where there is none
    of these, the rules that leave nothing only together.
    """
    reasons = [*_foreign(family, era, fitting, held)]
    for position, values in fitting.domains.items():
        if not values and position not in held:
            says = f"the book has no {family.position[position].name} for a unit of {family.era[era].name}"
            reasons.append(Reason("era", says, "era", positions=(position,)))
    domains = narrowed(fitting, held)
    known = {place: values or fitting.domains[place] for place, values in domains.items()}
    if not all(known.values()):
        return tuple(reasons)
    for table in fitting.refusing(known):
        reasons.append(Reason("rule", table.says, table.code, table.source, table.positions))
    if not reasons and fitting.first(known) is None:
        conflict = fitting.within(known).conflict()
        reasons += [Reason("rule", t.says, t.code, t.source, t.positions) for t in conflict]
    return tuple(reasons)


def _foreign(family: Family, era: str, fitting: Fitting, held: Mapping[str, Sequence[str]]) -> list[Reason]:
    """Parts of which no design that they can be may be used in the era, and positions that may not be empty."""
    reasons = []
    for position, values in held.items():
        if set(values) & set(fitting.domains[position]):
            continue
        if tuple(values) == (NONE,):
            says = f"the unit does not run without its {family.position[position].name}"
        elif values:
            named = " or ".join(family.name_of(value) for value in values)
            says = (
                f"{named} does not belong in a unit of {family.era[era].name}: "
                "the factory did not fit it there, and the book does not let it go back in"
            )
        else:
            says = f"no design of the book has the marks seen on the {family.position[position].name}"
        reasons.append(Reason("era", says, "era", positions=(position,), designs=tuple(values)))
    return reasons


def diagnoses(fitting: Fitting, held: Mapping[str, Sequence[str]], found: Sequence[str]) -> tuple[Trouble, ...]:
    """For each group of positions in which not all belongs together: the smallest sets of found parts that must go.

    Every smallest set over the whole unit takes one of these from each group.
    """
    domains = narrowed(fitting, held)
    troubles = []
    for group in fitting.groups:
        part = fitting.part(group)
        if part.first({place: domains[place] for place in group}) is None:
            here = [position for position in found if position in group]
            ways = _smallest(part, {position: held[position] for position in group if position in held}, here)
            troubles += [ways] if ways else []
    return tuple(troubles)


def _smallest(fitting: Fitting, held: Mapping[str, Sequence[str]], found: Sequence[str]) -> Trouble:
    """The smallest sets of found positions of a group without whose parts the rest belongs together.

    Empty where not even a unit without any of the parts is valid. At most 400 sets are tried; where that is not enough
    the last word is what is sure: parts that no unit of the era may hold.
    """
    sure = tuple(position for position in found if not set(held[position]) & set(fitting.domains[position]))
    front, seen = [frozenset(sure)], {frozenset(sure)}
    tried = 0
    while front:
        hits, wider = [], []
        for out in front:
            tried += 1
            if tried > MOST_TRIED:
                return (sure,) if sure else ()
            conflict = _conflict(fitting, _without(fitting, held, out))
            if conflict is None:
                hits.append(out)
                continue
            for position in found:
                more = out | {position}
                if position in conflict and position not in out and more not in seen:
                    seen.add(more)
                    wider.append(more)
        if hits:
            return tuple(tuple(position for position in found if position in out) for out in hits)
        front = wider
    return ()


def _without(fitting: Fitting, held: Mapping[str, Sequence[str]], out: frozenset[str]) -> Domains:
    return narrowed(fitting, {position: values for position, values in held.items() if position not in out})


def _conflict(fitting: Fitting, domains: Domains) -> set[str] | None:
    """Positions of rules that together leave nothing; None where something is left."""
    if not all(domains.values()):
        return {place for place, values in domains.items() if not values}
    if fitting.first(domains) is not None:
        return None
    return {place for table in fitting.within(domains).conflict() for place in table.positions}


def misfits(
    family: Family, era: str, fitting: Fitting, held: Mapping[str, Sequence[str]], out: Sequence[str]
) -> tuple[Misfit, ...]:
    """The parts of one diagnosis, each with what stands against it in the company of all that belongs together."""
    made = []
    group = next(group for group in fitting.groups if out[0] in group)
    part = fitting.part(group)
    for position in out:
        others = {place: held[place] for place in group if place in held and (place not in out or place == position)}
        made.append(Misfit(position, tuple(held[position]), against(family, era, part, others)))
    return tuple(made)


def mixed(
    family: Family, setting: Setting, book: Fitting, found: Mapping[str, Sequence[str]]
) -> tuple[tuple[tuple[Misfit, ...], ...], ...]:
    """What does not belong in a unit that somebody mixed before: as `diagnoses`, each part with its reasons.

    Parameters
    ----------
    book : what the book lets stand in a unit of the setting
    found : what each part found can be

    Empty where what was found belongs together, be it only in a vehicle of the unit's own era.
    """
    if book.first(narrowed(book, found)) is not None:
        return ()
    unit = Standing(setting.era, (setting.vehicle_era,), setting.facts).at_the_factory(family)
    fitting = unit.fitting(family)
    troubles = diagnoses(fitting, found, list(found))
    return tuple(tuple(misfits(family, setting.era, fitting, found, way) for way in ways) for ways in troubles)
