"""One era of a book with everything else left open: every fact, and every era of the vehicle.

Positions fall into pieces that only open facts tie together. As long as each piece has a valid combination for every value
of the facts that it asks for, what holds of a piece holds of the whole unit, and each question is asked of the pieces that
it names alone. Where some value leaves a piece nothing, questions are asked of everything that hangs together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import product
from math import prod

from sourcing.book.family import NONE, Family
from sourcing.book.fitting import Domains, Fitting
from sourcing.book.rules import Table
from sourcing.book.standing import Standing, apart

MOST_VALUES = 1024  # of the facts that one piece asks for, all together


class OpenEra:
    """What the book says of units of one era.

    Parameters
    ----------
    strangers : whether the vehicle may also be of no era of the book

    Attributes
    ----------
    fitting : all positions, with the facts and the vehicle's era as further places
    barren : for each piece that some value of open facts leaves nothing, the smallest such values, with the rules
    unlooked : facts of a piece that have so many values together that they were not looked at one by one
    """

    def __init__(self, family: Family, era: str, strangers: bool = True) -> None:
        self.family, self.era = family, era
        vehicles: tuple[str | None, ...] = (*family.era, None) if strangers else tuple(family.era)
        standing = Standing(era, vehicles, {})
        self.fitting = standing.fitting(family)
        self._pieces = [
            self._made(positions)
            for group in self.fitting.groups
            for positions in apart(self.fitting, group, family)
        ]  # fmt: skip
        self.unlooked: list[tuple[str, ...]] = []
        self.barren = [found for piece in self._pieces for found in self._barren(piece)]
        self._clean = not self.barren and not self.unlooked and all(self.fitting.domains.values())
        self._merged: dict[frozenset[int], Fitting] = {}

    @cached_property
    def empty(self) -> bool:
        """Whether no unit of this era is valid, whatever the facts."""
        return not self._clean and self.fitting.first() is None

    def _made(self, positions: Sequence[str]) -> Fitting:
        """Positions with the facts that their rules ask for."""
        inside = set(positions)
        tied = [n for n, table in enumerate(self.fitting.tables) if inside & set(table.positions)]
        named = {place for n in tied for place in self.fitting.tables[n].positions} | inside
        return self.fitting.only(tied, {p: values for p, values in self.fitting.domains.items() if p in named})

    def _barren(self, piece: Fitting) -> Iterator[tuple[Mapping[str, str], tuple[Table, ...]]]:
        """The smallest values of open facts under which a piece has no valid combination, with the rules that meet."""
        facts = [place for place in piece.domains if place not in self.family.position]
        if prod(len(piece.domains[fact]) for fact in facts) > MOST_VALUES:
            self.unlooked.append(tuple(facts))
        else:
            yield from barren(piece, facts)

    def around(self, places: Iterable[str]) -> Fitting:
        """What must be looked at to answer a question about some positions and facts."""
        if not self._clean:
            return self.fitting
        named = set(places) & set(self.family.position)
        chosen = frozenset(n for n, piece in enumerate(self._pieces) if named & set(piece.domains))
        if chosen not in self._merged:
            self._merged[chosen] = self._made([
                p for n in sorted(chosen) for p in self._pieces[n].domains if p in self.family.position
            ])  # fmt: skip
        return self._merged[chosen]

    @cached_property
    def used(self) -> dict[tuple[str, str], dict[str, str]]:
        """Each design of each position that some valid unit holds, with a combination around it that shows it."""
        found: dict[tuple[str, str], dict[str, str]] = {}
        if self.empty:
            return found
        for position in self.family.position:
            around = self.around([position])
            domains = around.propagated()
            for design in domains[position] if domains else ():
                if (position, design) not in found:
                    assert domains is not None
                    made = around.first({**domains, position: (design,)}, position)
                    for place, value in (made or {}).items():
                        found.setdefault((place, value), made or {})
        return found

    def shown(self, combination: Mapping[str, str], places: Iterable[str] | None = None) -> str:
        """A combination as an example, of some places only where they are named: first what is open, then the parts."""
        named = [place for place in combination if places is None or place in set(places)]
        facts = [f"{place} {combination[place]}" for place in named if place not in self.family.position]
        parts = [f"{place} {combination[place]}" for place in named if place in self.family.position]
        return f"{self.era}: " + ", ".join([*facts, *parts])


def barren(fitting: Fitting, facts: Sequence[str]) -> Iterator[tuple[Mapping[str, str], tuple[Table, ...]]]:
    """The smallest values of facts under which nothing is valid, each with rules that together leave nothing."""
    told: set[tuple[tuple[str, str], ...]] = set()
    for values in product(*(fitting.domains[fact] for fact in facts)):
        settled = dict(zip(facts, values, strict=True))
        if any(set(known) <= set(settled.items()) for known in told) or fitting.first(_with(fitting, settled)):
            continue
        for fact in facts:
            fewer = {key: value for key, value in settled.items() if key != fact}
            if fitting.first(_with(fitting, fewer)) is None:
                settled = fewer
        told.add(tuple(settled.items()))
        yield settled, fitting.within(_with(fitting, settled)).conflict()


def _with(fitting: Fitting, settled: Mapping[str, str]) -> Domains:
    return {place: (settled[place],) if place in settled else values for place, values in fitting.domains.items()}


def settled_in_words(settled: Mapping[str, str]) -> str:
    """Values of open facts as a condition."""
    words = [
        f"{key} {'none of the book' if key == 'vehicle_era' and value == NONE else value}"
        for key, value in settled.items()
    ]
    return f"with {', '.join(words)} " if words else ""
