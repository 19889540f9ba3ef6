"""What to look at next: the unseen marks, the most telling first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import log2

from sourcing.book.family import NONE, Family, Mark
from sourcing.book.marks import Found, reading

EMPTY = "nothing there"
NOTHING = "\0"  # no reading of a mark in a file is this


@dataclass(frozen=True, slots=True)
class Outcome:
    """One answer to a look: how likely it is, and the designs that it would leave."""

    answer: str | int
    chance: Fraction
    leaves: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """A mark that nobody has seen yet.

    Attributes
    ----------
    bits : expected information about what is on the bench (mutual information of the answer with the whole combination;
        as the answer hangs on one position's design, this is what it tells of that design)
    separates : the candidates that some answer would rule out
    """

    mark: Mark
    bits: float
    separates: tuple[str, ...]
    outcomes: tuple[Outcome, ...]


def looks(
    family: Family,
    candidates: Mapping[str, Sequence[str]],
    found: Mapping[str, Found],
    chances: Mapping[str, Mapping[str, Fraction]],
) -> tuple[Look, ...]:
    """Every unseen mark that tells something, the most telling first; of equal ones what needs nothing taken off.

    A design that the book does not give a mark may show any of its values, each equally likely; where a position may be
    empty, finding nothing there is an answer like any other.
    """
    made = []
    for mark in family.marks:
        seen = found.get(mark.position)
        if not isinstance(seen, str) and mark.code not in (seen or {}):
            look = _look(family, mark, candidates[mark.position], chances[mark.position])
            if look is not None:
                made.append(look)
    order = list(family.position)
    return tuple(
        sorted(made, key=lambda one: (-round(one.bits, 9), bool(one.mark.needs), order.index(one.mark.position)))
    )


def _look(family: Family, mark: Mark, held: Sequence[str], chances: Mapping[str, Fraction]) -> Look | None:
    """A mark's answers and what they tell of a position; None where no answer would rule out a candidate."""
    values: dict[str, str | int] = {}
    told = [d for d in family.designs if d.position == mark.position and mark.code in d.marks]
    for value in (*(mark.values or ()), *(design.marks[mark.code] for design in told)):
        values.setdefault(reading(value), value)
    marked = {code: key for code in held if (key := _key(family, code, mark.code)) is not None}
    silent = [code for code in held if code not in marked]
    shown = list(values) if silent else [key for key in values if key in marked.values()]
    answers = {key: values[key] for key in shown} | ({NOTHING: EMPTY} if NONE in held else {})
    if not marked or len(answers) < 2:
        return None
    unmarked = sum((chances[code] for code in silent), Fraction(0))
    outcomes, bits = [], 0.0
    for key, answer in answers.items():
        chance = sum((chances[code] for code in marked if marked[code] == key), Fraction(0))
        chance += unmarked / len(shown) if key != NOTHING and silent else 0
        leaves = tuple(code for code in held if marked.get(code, key if key != NOTHING else "") == key)
        outcomes.append(Outcome(answer, chance, leaves))
        bits -= float(chance) * log2(chance) if chance else 0.0
    bits -= float(unmarked) * log2(len(shown)) if silent else 0.0
    ordered = sorted(outcomes, key=lambda outcome: -outcome.chance)
    return Look(mark, max(bits, 0.0), tuple(code for code in held if code in marked), tuple(ordered))


def _key(family: Family, code: str, mark: str) -> str | None:
    """What a mark reads on a design, or where there is nothing; None where the book does not say."""
    if code == NONE:
        return NOTHING
    made = family.design[code]
    return reading(made.marks[mark]) if mark in made.marks else None
