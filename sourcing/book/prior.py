"""What is most likely on the bench: units as the factory built them, of which somebody may have swapped parts.

The prior, read exactly: each era that the job leaves possible is equally likely, and so is every value of a fact that is
left open. Within one era and one value of each such fact, every factory combination is equally likely: each position
holds a design that the factory fitted in that era, or nothing where it is optional, and no rule is broken. Then each
position by itself was swapped with probability `mixed_share`, for one of the things that it may hold in any era, "nothing"
at an optional one included, each equally likely. Where a group of positions that rules tie together has no factory
combination, nothing is known of it, and all that its positions may hold is equally likely.

Positions that no rule ties together are independent, so that each group is weighed by itself; sums are whole numbers and
shares are Fractions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import prod

from sourcing.book.family import Family
from sourcing.book.fitting import Domains, Fitting
from sourcing.book.standing import Standing, as_built
from sourcing.book.weighing import Weighing

Chances = dict[str, dict[str, Fraction]]


@dataclass(frozen=True)
class Likely:
    """What was seen, weighed: how likely each era is, each candidate of each position, and each position's swap.

    Attributes
    ----------
    eras : chance of each era; the chances add up to 1
    holds : for each position the chance of each candidate design
    swapped : for each position the chance that it holds another design than the factory put there
    unknown : eras, with the positions of which the book knows no factory combination
    """

    eras: Mapping[str, Fraction]
    holds: Mapping[str, Mapping[str, Fraction]]
    swapped: Mapping[str, Fraction]
    unknown: Mapping[str, tuple[str, ...]]


def weigh(
    family: Family, standings: Sequence[Standing], found: Mapping[str, Sequence[str]], share: Fraction
) -> Likely | None:
    """Weigh what was seen by the prior; None where it cannot be by the prior (a part swapped, at a share of 0).

    Parameters
    ----------
    standings : the eras that the unit can be of, each once
    found : the candidates of every position
    share : `mixed_share`

    Raises
    ------
    TooTangled
        where a group of the book is too tangled to be weighed exactly
    """
    seen = [_Weighed(family, standing, found, share) for standing in standings]
    whole = sum((one.likelihood for one in seen), Fraction(0))
    if not whole:
        return None
    eras = {one.era: one.likelihood / whole for one in seen}
    holds: Chances = {position: dict.fromkeys(values, Fraction(0)) for position, values in found.items()}
    swapped = dict.fromkeys(found, Fraction(0))
    for one in seen:
        if one.likelihood:
            for position in found:
                for design, chance in one.held(position).items():
                    holds[position][design] += eras[one.era] * chance
                swapped[position] += eras[one.era] * one.swapped(position)
    return Likely(eras, holds, swapped, {one.era: one.unknown for one in seen if one.unknown})


class _Weighed:
    """What was seen, weighed for one era: its likelihood, and what the factory put into each position."""

    def __init__(
        self, family: Family, standing: Standing, found: Mapping[str, Sequence[str]], share: Fraction
    ) -> None:
        self.era, self._family, self._found, self._share = standing.era, family, found, share
        self.likelihood = Fraction(1)
        self._factory: Chances = {}
        unknown: list[str] = []
        built = as_built(family, standing)
        for group in built.groups:
            inside = set(group)
            positions = [position for position in group if position in family.position]
            tied = [n for n, table in enumerate(built.tables) if table.positions[0] in inside]
            fitting = built.only(tied, {place: built.domains[place] for place in group})
            likely = self._group(fitting, positions)
            if likely is None:
                unknown += positions
                likely = prod((Fraction(len(found[p]), len(family.holds[p])) for p in positions), start=Fraction(1))
            self.likelihood *= likely
        self.unknown = tuple(unknown)

    def _group(self, fitting: Fitting, positions: Sequence[str]) -> Fraction | None:
        """How likely what was seen of one group is; None where the group has no factory combination."""
        masses: dict[str, dict[str, Fraction]] = {position: {} for position in positions}
        weights = {position: self._weights(position) for position in positions}
        scale = prod(self._share.denominator * len(self._family.holds[position]) for position in positions)
        whole, settings = Fraction(0), 0
        for domains in _each_setting(fitting, positions):
            count = Weighing(fitting.within(domains)).total
            if count:
                settings += 1
                weighed = Weighing(fitting.within(domains), weights)
                mass = Fraction(weighed.total, count)
                whole += mass
                for position in positions if mass else ():
                    shares = weighed.shares(position)
                    total = sum(shares.values())
                    for design, part in shares.items():
                        masses[position][design] = masses[position].get(design, Fraction(0)) + mass * part / total
        if not settings:
            return None
        for position in positions if whole else ():
            self._factory[position] = {design: mass / whole for design, mass in masses[position].items()}
        return whole / (settings * scale)

    def _weights(self, position: str) -> dict[str, int]:
        """For each design that the factory may have fitted, how likely what was seen there is; in whole numbers."""
        held, seen = self._family.holds[position], self._found[position]
        kept = (self._share.denominator - self._share.numerator) * len(held)
        return {design: (kept if design in seen else 0) + self._share.numerator * len(seen) for design in held}

    def held(self, position: str) -> dict[str, Fraction]:
        """How likely each candidate of a position is, in this era."""
        seen = self._found[position]
        if position not in self._factory:
            return {design: Fraction(1, len(seen)) for design in seen}
        weights = self._weights(position)
        kept = (self._share.denominator - self._share.numerator) * len(self._family.holds[position])
        per_weight = {design: chance / weights[design] for design, chance in self._factory[position].items()}
        spread = self._share.numerator * sum(per_weight.values(), Fraction(0))
        return {design: spread + kept * per_weight.get(design, Fraction(0)) for design in seen}

    def swapped(self, position: str) -> Fraction:
        """How likely it is that a position holds another design than the factory put there."""
        if position not in self._factory:
            return Fraction(0)
        seen = self._found[position]
        weights = self._weights(position)
        foreign = Fraction(0)
        for design, chance in self._factory[position].items():
            others = sum(other != design for other in seen)
            foreign += chance * self._share.numerator * others / weights[design]
        return foreign


def _each_setting(fitting: Fitting, positions: Sequence[str]) -> list[Domains]:
    """A group's domains for every value of the facts that are left open in it."""
    facts = [place for place in fitting.domains if place not in positions]
    return [
        {**fitting.domains, **{fact: (value,) for fact, value in zip(facts, values, strict=True)}}
        for values in product(*(fitting.domains[fact] for fact in facts))
    ]
