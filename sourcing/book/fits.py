"""Which designs fit a unit, position by position, with the reason for every no: told from era and facts alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.book.chart import Goes, Why, barred_in, whys
from sourcing.book.family import NONE, Family
from sourcing.book.fitting import Fitting
from sourcing.book.misfits import against
from sourcing.book.standing import Standing


@dataclass(frozen=True, slots=True)
class Fit:
    """A design in a unit: yes, no, or depending on what was not said. `fitted`: the factory used it in this era."""

    design: str
    fitted: bool
    goes: Goes
    why: tuple[Why, ...]


@dataclass(frozen=True)
class FitsIn:
    """What fits a unit of one era: for each position its designs ("none" where it may stay empty), those that fit first."""

    standing: Standing
    positions: tuple[tuple[str, tuple[Fit, ...]], ...]


def fits(family: Family, standings: Sequence[Standing]) -> tuple[FitsIn, ...]:
    """What fits, for each era that the unit can be of, by the book's own engine."""
    return tuple(_fits_in(family, standing) for standing in standings)


def _fits_in(family: Family, standing: Standing) -> FitsIn:
    fitting = standing.fitting(family)
    told = []
    for position, held in family.holds.items():
        found = [_fit(family, standing, fitting, position, design) for design in held]
        told.append((position, tuple(sorted(found, key=lambda one: one.goes == "no"))))
    return FitsIn(standing, tuple(told))


def _fit(family: Family, standing: Standing, fitting: Fitting, position: str, design: str) -> Fit:
    fitted = design != NONE and standing.era in family.design[design].fitted
    alone = fitting.within({**fitting.domains, position: (design,)})
    if design not in fitting.domains[position] or alone.first() is None:
        reasons = against(family, standing.era, fitting, {position: (design,)})
        return Fit(design, fitted, "no", tuple(Why("", reason) for reason in reasons))
    own = barred_in(family, alone)
    return Fit(design, fitted, "depends" if own else "yes", whys(own))
