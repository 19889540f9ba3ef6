"""What to look at when an order arrives: the marks that tell each part from the look-alikes that would break the plan."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from sourcing.book.family import NONE, Family, Mark
from sourcing.book.fitting import reasons_against
from sourcing.book.marks import same
from sourcing.book.rules import Setting
from sourcing.book.telling import fewest_marks
from sourcing.plan import Plan, Purchase
from sourcing.pool.plan import Got, PoolPlan, line_key
from sourcing.problem import Problem
from sourcing.settings import settings_of


@dataclass(frozen=True, slots=True)
class Look:
    """A mark to look at: its right reading, and the wrong readings with the designs that they betray."""

    mark: Mark
    right: str
    wrong: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Received:
    """A part to be looked at when it comes.

    `fills` is the position that it fills ("" for one that goes to the shelf); `breaking` are the look-alikes that must be
    told from it, `fitting` those that would keep the plan valid, `untold` those of `breaking` that no mark of the book tells.
    """

    supplier: str
    number: str
    pieces: int
    design: str
    fills: str
    looks: tuple[Look, ...]
    breaking: tuple[str, ...]
    fitting: tuple[str, ...]
    untold: tuple[str, ...]


def receiving(plan: Plan) -> tuple[Received, ...]:
    """Each design of each ordered part, in the order of the orders; nothing where nothing is bought."""
    if plan.choice is None:
        return ()
    settings = settings_of(plan.problem.job, plan.problem.family, "")
    held = plan.choice.combination
    sound = not any(reasons_against(plan.problem.family, setting, held) for setting in settings)
    listed = []
    for order in plan.orders:
        for purchase in order.lines:
            for design in dict.fromkeys(purchase.line.offer.part.fills):
                listed.append(_received(plan, purchase, design, settings, sound))
    return tuple(listed)


def breaks(
    problem: Problem, held: dict[str, str], position: str, other: str, settings: Sequence[Setting], sound: bool = False
) -> bool:
    """Whether a combination is no longer valid with another design at a position, in any setting that the job leaves open.

    `sound`: it is valid as it is, so that only what the position has to do with can break.
    """
    swapped = {**held, position: other}
    return any(reasons_against(problem.family, s, swapped, position if sound else None) for s in settings)


def receiving_together(plan: PoolPlan) -> tuple[tuple[Family, Received], ...]:
    """The same for the orders of many jobs: what would break the combination of any unit that gets the part.

    Each part with the book by which it is looked at: of a number in two families, once for each that gets of it.
    """
    listed = []
    kinds = _kinds(plan)
    for order in plan.orders:
        for purchase in order.lines:
            known = plan.pool.as_known_to[purchase.line.offer.id]
            drawing = [kind for kind in kinds if line_key(purchase) in kind[0].draws.values()]
            families = sorted({one.problem.family.code for one, _ in drawing}) or [min(known)]
            for code in families:
                here = [kind for kind in drawing if kind[0].problem.family.code == code]
                family = here[0][0].problem.family if here else _book(plan, code)
                for design in dict.fromkeys(known[code].part.fills):
                    listed.append((family, _received_together(plan, purchase, family, design, here)))
    return tuple(listed)


def _book(plan: PoolPlan, code: str) -> Family:
    return next(lot.problem.family for lot in plan.pool.lots if lot.family == code)


def _kinds(plan: PoolPlan) -> list[tuple[Got, list[Setting]]]:
    """One of each kind of unit that the parts can go into: book, settings, combination and lines; with its settings."""
    found: dict[Hashable, Got] = {}
    for one in plan.gets:
        setting = one.problem.setting
        key = (one.problem.family.code, setting.era, setting.vehicle_era, tuple(sorted(setting.facts.items())),
               tuple(sorted(one.problem.job.facts.items())), tuple(one.choice.combination.items()),
               tuple(one.draws.items()), one.problem.job.unit.built, one.problem.job.unit.model_year)  # fmt: skip
        found.setdefault(key, one)
    return [(one, settings_of(one.problem.job, one.problem.family, "")) for one in found.values()]


def _received_together(
    plan: PoolPlan, purchase: Purchase, family: Family, design: str, kinds: Sequence[tuple[Got, list[Setting]]]
) -> Received:
    key, held = line_key(purchase), []
    for one, settings in kinds:
        combination = dict(one.choice.combination)
        places = [place for place, line in one.draws.items() if line == key and combination[place] == design]
        held += [(one.problem, combination, place, settings) for place in places]
    return _looked_at(plan.pool.terms[purchase.line.offer.supplier].name, purchase, family, design, held)


def _received(plan: Plan, purchase: Purchase, design: str, settings: Sequence[Setting], sound: bool) -> Received:
    assert plan.choice is not None
    held, offer = dict(plan.choice.combination), purchase.line.offer
    filled = [place for place, number in plan.choice.fills.items() if number == offer.id and held[place] == design]
    standing = [(plan.problem, held, place, settings) for place in filled]
    return _looked_at(plan.problem.terms[offer.supplier].name, purchase, plan.problem.family, design, standing, sound)


def _looked_at(
    supplier: str,
    purchase: Purchase,
    family: Family,
    design: str,
    standing: Sequence[tuple[Problem, dict[str, str], str, Sequence[Setting]]],
    sound: bool = False,
) -> Received:
    """A part by the units that it goes into: each a problem, its combination, the position, and what its job leaves open."""
    offer = purchase.line.offer
    home = family.design[design].position
    others = [other for other in family.holds[home] if other not in (design, NONE)]
    fits = [
        o
        for o in others
        if standing and not any(breaks(p, held, at, o, open_, sound) for p, held, at, open_ in standing)
    ]
    breaking = tuple(other for other in others if other not in fits)
    told = fewest_marks(family, design, breaking)
    return Received(
        supplier=supplier,
        number=str(offer.part.number),
        pieces=purchase.quantity * offer.part.fills.count(design),
        design=design,
        fills=standing[0][2] if standing else "",
        looks=tuple(_look(family, design, breaking, code) for code in told.marks),
        breaking=breaking,
        fitting=tuple(fits),
        untold=told.untold,
    )


def _look(family: Family, design: str, others: Sequence[str], code: str) -> Look:
    right = family.design[design].marks[code]
    wrong: dict[str, list[str]] = {}
    for other in others:
        marks = family.design[other].marks
        if code in marks and not same(marks[code], right):
            wrong.setdefault(str(marks[code]), []).append(other)
    return Look(family.mark[code], str(right), tuple((reading, tuple(names)) for reading, names in wrong.items()))
