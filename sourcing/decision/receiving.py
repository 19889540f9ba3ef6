"""What to look at when an order arrives: the marks that tell each part from the look-alikes that would break the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.book.family import NONE, Family, Mark
from sourcing.book.fitting import reasons_against
from sourcing.book.marks import same
from sourcing.book.rules import Setting
from sourcing.book.telling import fewest_marks
from sourcing.plan import Plan, Purchase
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


def _received(plan: Plan, purchase: Purchase, design: str, settings: Sequence[Setting], sound: bool) -> Received:
    assert plan.choice is not None
    problem, family, offer = plan.problem, plan.problem.family, purchase.line.offer
    held = dict(plan.choice.combination)
    filled = [place for place, number in plan.choice.fills.items() if number == offer.id and held[place] == design]
    home = family.design[design].position
    others = [other for other in family.holds[home] if other not in (design, NONE)]
    fits = [
        o for o in others if filled and not any(breaks(problem, held, place, o, settings, sound) for place in filled)
    ]
    breaking = tuple(other for other in others if other not in fits)
    told = fewest_marks(family, design, breaking)
    return Received(
        supplier=problem.terms[offer.supplier].name,
        number=str(offer.part.number),
        pieces=purchase.quantity * offer.part.fills.count(design),
        design=design,
        fills=filled[0] if filled else "",
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
