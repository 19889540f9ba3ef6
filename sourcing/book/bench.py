"""What is on the bench: from what was seen to designs, whole combinations, and what does not belong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import prod

from sourcing.book.boxes import refused
from sourcing.book.family import NONE, Family
from sourcing.book.fitting import Fitting, Reason
from sourcing.book.looks import Look, looks
from sourcing.book.marks import Found, agreeing, candidates, contradicting
from sourcing.book.misfits import Misfit, against, diagnoses, misfits
from sourcing.book.prior import Likely, weigh
from sourcing.book.standing import Standing, as_built, narrowed
from sourcing.book.weighing import TooTangled, Weighing

SHARE = Fraction(1, 10)  # mixed_share where no shop.toml gives one


@dataclass(frozen=True, slots=True)
class Candidate:
    """A design that a position can hold by what was seen: what agrees, what contradicts, how likely it is (if known)."""

    design: str
    agrees: tuple[str, ...]
    contradicts: tuple[str, ...]
    chance: Fraction | None


@dataclass(frozen=True)
class InEra:
    """What was seen, held against one era that the unit can be of.

    Attributes
    ----------
    valid : whether it belongs together in this unit and vehicle; None where candidates or open facts differ on it
    combinations : how many of the candidates are valid, for some value of what is open; None: too tangled to count
    reasons : why none of it is valid, or, where that is open, the rules that some of it breaks
    built : whether the factory can have built it so
    mixed : whether somebody mixed it before: no candidate belongs together even in a vehicle of the unit's own era
    misfits : for each group of positions in which not all belongs together, the smallest sets of found parts without
        which the rest does; one set of each group must go
    """

    standing: Standing
    chance: Fraction | None
    valid: bool | None
    combinations: int | None
    reasons: tuple[Reason, ...]
    built: bool
    mixed: bool
    misfits: tuple[tuple[tuple[Misfit, ...], ...], ...]


@dataclass(frozen=True, slots=True)
class Ask:
    """Something open that decides whether what is on the bench belongs together, and what each answer would say."""

    key: str
    ask: str
    outcomes: tuple[tuple[str, bool | None], ...]


@dataclass(frozen=True)
class Bench:
    """The unit on the bench, told.

    Attributes
    ----------
    combinations : whole combinations that contradict none of the marks seen, valid or not: the product of the candidates
        of all positions, "none" at an optional position that nobody looked at among them
    valid : whether what is on the bench belongs together; None where candidates, eras or open facts differ on it
    """

    family: Family
    candidates: Mapping[str, tuple[Candidate, ...]]
    nearest: Mapping[str, tuple[Candidate, ...]]
    combinations: int
    valid: bool | None
    eras: tuple[InEra, ...]
    looks: tuple[Look, ...]
    asks: tuple[Ask, ...]
    swapped: Mapping[str, Fraction]
    notes: tuple[str, ...]

    @property
    def likeliest(self) -> InEra:
        return max(self.eras, key=lambda one: one.chance or Fraction(0))


def identify(
    family: Family, standings: Sequence[Standing], found: Mapping[str, Found], share: Fraction = SHARE
) -> Bench:
    """Say what was seen on the bench can be, whether it belongs together, and what to look at next.

    Parameters
    ----------
    standings : the eras that the unit can be of, each once
    found : for each position that somebody looked at, its design or the marks seen
    share : `mixed_share`, the probability that a position was swapped
    """
    held = {position: candidates(family, position, found.get(position)) for position in family.position}
    empty = [position for position, values in held.items() if not values]
    supposed = {position: values or family.holds[position] for position, values in held.items()}
    notes = []
    likely: Likely | None = None
    try:
        likely = weigh(family, standings, supposed, share)
        if likely is None:
            notes.append("what was seen cannot be by the prior: mixed_share is 0, and no factory combination looks so")
    except TooTangled:
        notes.append(
            "too many positions or open facts hang together for exact chances: candidates count as equally likely"
        )
    notes += _unknown(family, likely)
    even = {position: {d: Fraction(1, len(values)) for d in values} for position, values in supposed.items()}
    chances = likely.holds if likely else even
    eras = tuple(_in_era(family, standing, held, found, likely) for standing in standings)
    told = {position: tuple(_candidate(family, position, d, found, likely.holds if likely else None) for d in values)
            for position, values in held.items()}  # fmt: skip
    return Bench(
        family=family,
        candidates=told,
        nearest={position: _nearest(family, position, found) for position in empty},
        combinations=prod(len(values) for values in held.values()),
        valid=_together([one.valid for one in eras]),
        eras=eras,
        looks=looks(family, {p: () if p in empty else values for p, values in held.items()}, found, chances),
        asks=_asks(family, standings, held, [one.valid for one in eras]),
        swapped=likely.swapped if likely else {},
        notes=tuple(notes),
    )


def _candidate(
    family: Family,
    position: str,
    design: str,
    found: Mapping[str, Found],
    chances: Mapping[str, Mapping[str, Fraction]] | None,
) -> Candidate:
    seen = found.get(position)
    marks = seen if isinstance(seen, dict) and design in family.design else {}
    made = family.design.get(design)
    chance = chances[position].get(design) if chances else None
    agrees, contradicts = (agreeing(made, marks), contradicting(made, marks)) if made else ((), ())
    return Candidate(design, agrees, contradicts, chance)


def _nearest(family: Family, position: str, found: Mapping[str, Found]) -> tuple[Candidate, ...]:
    """Where no design has the marks seen: the designs that the fewest of them contradict."""
    all_of_them = [_candidate(family, position, d.code, found, None) for d in family.designs if d.position == position]
    fewest = min((len(one.contradicts) for one in all_of_them), default=0)
    return tuple(one for one in all_of_them if len(one.contradicts) == fewest)


def _in_era(
    family: Family,
    standing: Standing,
    held: Mapping[str, Sequence[str]],
    found: Mapping[str, Found],
    likely: Likely | None,
) -> InEra:
    fitting = standing.fitting(family)
    valid = validity(fitting, held)
    born = standing.at_the_factory(family)
    factory = fitting if born == standing else born.fitting(family)
    named = [position for position in family.position if position in found]
    built = as_built(family, born, factory)
    troubles = diagnoses(factory, held, named)
    if valid is None:
        reasons = (*_broken_by_some(fitting, held), *_of_other_eras(family, standing.era, fitting, held))
    else:
        reasons = () if valid else against(family, standing.era, fitting, held)
    try:
        count = Weighing(fitting.within(narrowed(fitting, held)), either=list(standing.left_open(family))).total
    except TooTangled:
        count = None
    return InEra(
        standing=standing,
        chance=likely.eras[standing.era] if likely else None,
        valid=valid,
        combinations=count,
        reasons=reasons,
        built=built.first(narrowed(built, held)) is not None,
        mixed=bool(troubles),
        misfits=tuple(tuple(misfits(family, standing.era, factory, held, way) for way in ways) for ways in troubles),
    )


def validity(fitting: Fitting, held: Mapping[str, Sequence[str]]) -> bool | None:
    """Whether all that positions may hold is valid, for every value of what is open; None where only some is."""
    if fitting.first(narrowed(fitting, held)) is None:
        return False
    if any(set(values) - set(fitting.domains[position]) for position, values in held.items()):
        return None
    return None if _broken_by_some(fitting, held) else True


def _broken_by_some(fitting: Fitting, held: Mapping[str, Sequence[str]]) -> tuple[Reason, ...]:
    """The rules that something of what positions may hold breaks."""
    domains = narrowed(fitting, held)
    return tuple(
        Reason("rule", table.says, table.code, table.source, table.positions)
        for table in fitting.tables
        if refused(table, domains)
    )


def _of_other_eras(family: Family, era: str, fitting: Fitting, held: Mapping[str, Sequence[str]]) -> tuple[Reason, ...]:
    """Candidates that no unit of an era may hold, beside others that it may."""
    reasons = []
    for position, values in held.items():
        others = tuple(value for value in values if value not in fitting.domains[position])
        if others:
            name = family.position[position].name
            says = f"{name}: no unit of {family.era[era].name} may hold {', '.join(map(family.name_of, others))}"
            reasons.append(Reason("era", says, "era", positions=(position,), designs=others))
    return tuple(reasons)


def _together(answers: Sequence[bool | None]) -> bool | None:
    return answers[0] if all(answer is answers[0] for answer in answers) else None


def _asks(
    family: Family, standings: Sequence[Standing], held: Mapping[str, Sequence[str]], valid: Sequence[bool | None]
) -> tuple[Ask, ...]:
    """What would settle whether what is on the bench belongs together; nothing where every possibility says the same."""
    if _together(valid) is not None:
        return ()
    asks = []
    if len(standings) > 1:
        by_era = tuple((standing.era, answer) for standing, answer in zip(standings, valid, strict=True))
        asks.append(Ask("era", "When was the unit built?", by_era))
    left: dict[str, dict[str, None]] = {}
    for standing in standings:
        for key, values in standing.left_open(family).items():
            left.setdefault(key, {}).update(dict.fromkeys(values))
    for key, open_values in left.items():
        ask = family.fact[key].ask if key in family.fact else "When was the vehicle built?"
        outcomes = tuple(
            (value, _together([_with(family, s, held, key, value) for s in standings])) for value in open_values
        )
        asks.append(Ask(key, ask, outcomes))
    return tuple(ask for ask in asks if ask.key == "era" or len({answer for _, answer in ask.outcomes}) > 1)


def _with(family: Family, standing: Standing, held: Mapping[str, Sequence[str]], key: str, value: str) -> bool | None:
    """Validity with one thing more settled; what it does not say of the standing leaves that as it was."""
    if key in family.fact:
        settled = replace(standing, facts={**standing.facts, key: value})
    elif value in {era or NONE for era in standing.vehicle_eras}:
        settled = replace(standing, vehicle_eras=tuple(e for e in standing.vehicle_eras if (e or NONE) == value))
    else:
        settled = standing
    return validity(settled.fitting(family), held)


def _unknown(family: Family, likely: Likely | None) -> list[str]:
    """Eras of which the book knows no factory combination at some positions."""
    return [
        f"the book knows no factory combination of {', '.join(positions)} in {family.era[era].name}: "
        "all that they may hold is counted as equally likely"
        for era, positions in (likely.unknown if likely else {}).items()
    ]
