"""What is most likely on the bench: units as the factory built them, of which somebody may have swapped parts.

The prior, read exactly: each era that the job leaves possible is equally likely, and so is every value of a fact that is
left open. Within one era and one value of each such fact, every factory combination is equally likely: each position
holds a design that the factory fitted in that era, or nothing where it is optional, and no rule is broken. Then each
position by itself was swapped with probability `mixed_share`, for one of the things that it may hold in any era, "nothing"
at an optional one included, each equally likely. Where a group of positions that rules tie together has no factory
combination, nothing is known of it, and all that its positions may hold is equally likely.

Positions that no rule ties together are independent, so that each group is weighed by itself, and so is, for each value of
the open facts, each piece of it that only those facts tie to the rest. Sums are whole numbers and shares are Fractions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import prod

from sourcing.book.family import Family
from sourcing.book.fitting import Domains, Fitting
from sourcing.book.standing import Standing, apart, as_built
from sourcing.book.weighing import TooTangled, Weighing, Written

Chances = dict[str, dict[str, Fraction]]
MOST_SETTINGS = 4096  # values of open facts that hang together, all taken together


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
        where a group of the book is too tangled to be weighed exactly, or asks for too many open facts
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


@dataclass(frozen=True, slots=True)
class _Piece:
    """Positions that hang together once the open facts that they ask for (`facts`) are settled: `told` for each value.

    `told` gives how many factory combinations there are, what they weigh by what was seen, and how that weight spreads
    over each position; nothing where there is no factory combination.
    """

    positions: tuple[str, ...]
    facts: tuple[str, ...]
    told: Mapping[tuple[str, ...], tuple[Fraction, Mapping[str, Mapping[str, Fraction]]]]


class _Weighed:
    """What was seen, weighed for one era: its likelihood, and what the factory put into each position."""

    def __init__(self, family: Family, standing: Standing, found: Mapping[str, Sequence[str]], share: Fraction) -> None:
        self.era, self._family, self._found, self._share = standing.era, family, found, share
        self.likelihood = Fraction(1)
        self._factory: Chances = {}
        unknown: list[str] = []
        born = standing.at_the_factory(family)
        built = as_built(family, born, born.fitting(family))
        for group in built.groups:
            pieces = [self._piece(built, positions) for positions in apart(built, group, family)]
            likely = self._group(pieces, {place: built.domains[place] for place in group})
            if likely is None:
                positions = [position for position in group if position in family.position]
                unknown += positions
                likely = prod((Fraction(len(found[p]), len(family.holds[p])) for p in positions), start=Fraction(1))
            self.likelihood *= likely
        self.unknown = tuple(unknown)

    def _piece(self, built: Fitting, positions: Sequence[str]) -> _Piece:
        """Weigh positions that hang together, for every value of the open facts that their rules ask for."""
        inside = set(positions)
        tied = [n for n, table in enumerate(built.tables) if inside & set(table.positions)]
        named = {place for n in tied for place in built.tables[n].positions}
        facts = tuple(place for place in built.domains if place in named and place not in inside)
        fitting = built.only(tied, {place: built.domains[place] for place in (*positions, *facts)})
        weights = {position: self._weights(position) for position in positions}
        scale = prod(self._share.denominator * len(self._family.holds[position]) for position in positions)
        if prod(len(built.domains[fact]) for fact in facts) > MOST_SETTINGS:
            raise TooTangled
        told = {}
        written: Written = {}
        for values in product(*(built.domains[fact] for fact in facts)):
            here = fitting.within({**fitting.domains, **{f: (v,) for f, v in zip(facts, values, strict=True)}})
            count = Weighing(here, spread=False, written=written).total
            if count:
                weighed = Weighing(here, weights, written=written)
                spread = {}
                for position in positions if weighed.total else ():
                    shares = weighed.shares(position)
                    whole = sum(shares.values())
                    spread[position] = {design: Fraction(part, whole) for design, part in shares.items()}
                told[values] = (Fraction(weighed.total, count * scale), spread)
        return _Piece(tuple(positions), facts, told)

    def _group(self, pieces: Sequence[_Piece], domains: Domains) -> Fraction | None:
        """How likely what was seen of one group is; None where the group has no factory combination.

        Every value of the open facts under which each piece has a factory combination is equally likely.
        """
        facts = [place for place in domains if place not in self._family.position]
        if prod(len(domains[fact]) for fact in facts) > MOST_SETTINGS:
            raise TooTangled
        weights: list[dict[tuple[str, ...], Fraction]] = [{} for _ in pieces]
        whole, settings = Fraction(0), 0
        for values in product(*(domains[fact] for fact in facts)):
            settled = dict(zip(facts, values, strict=True))
            keys = [tuple(settled[fact] for fact in piece.facts) for piece in pieces]
            if all(key in piece.told for key, piece in zip(keys, pieces, strict=True)):
                settings += 1
                likely = prod((piece.told[key][0] for key, piece in zip(keys, pieces, strict=True)), start=Fraction(1))
                whole += likely
                for key, weight in zip(keys, weights, strict=True):
                    weight[key] = weight.get(key, Fraction(0)) + likely
        if not settings:
            return None
        for piece, weight in zip(pieces, weights, strict=True):
            for position in piece.positions if whole else ():
                spread: dict[str, Fraction] = {}
                for key, mass in weight.items():
                    for design, chance in piece.told[key][1].get(position, {}).items():
                        spread[design] = spread.get(design, Fraction(0)) + mass * chance / whole
                self._factory[position] = spread
        return whole / settings

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
