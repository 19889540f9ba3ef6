"""What may be known of a unit besides its parts: an era, what its vehicle can be, and the facts given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sourcing.book.family import NONE, Family
from sourcing.book.fitting import Domains, Fitting, fitting_of, joined
from sourcing.book.rules import Setting, asked


@dataclass(frozen=True, slots=True)
class Standing:
    """One era that a unit can be of, with the vehicle's eras (None: built in no era of ours) and the facts given."""

    era: str
    vehicle_eras: tuple[str | None, ...]
    facts: Mapping[str, str] = field(default_factory=dict)

    def left_open(self, family: Family) -> dict[str, tuple[str, ...]]:
        """Keys of `when` that are not settled, each with what it can be ("none": a vehicle of no era of ours)."""
        keys = asked(family, family.holds)
        left = {key: tuple(family.fact[key].values) for key in keys if key in family.fact and key not in self.facts}
        if "vehicle_era" in keys and len(self.vehicle_eras) > 1:
            left = {"vehicle_era": tuple(era or NONE for era in self.vehicle_eras), **left}
        return left

    def fitting(self, family: Family) -> Fitting:
        """What the book lets stand in such a unit; what is left open stands among the positions."""
        setting = Setting(self.era, self.vehicle_eras[0], self.facts)
        return fitting_of(family, setting, self.left_open(family))

    def at_the_factory(self, family: Family) -> Standing:
        """The unit as it was built: in a vehicle of its own era.

        Facts of the vehicle count where unit and vehicle can be of one era; otherwise the unit came out of another
        vehicle, of which nothing is known. Facts of the unit always count.
        """
        own = self.era in self.vehicle_eras
        facts = {code: value for code, value in self.facts.items() if own or family.fact[code].of == "unit"}
        return Standing(self.era, (self.era,), facts)


def as_built(family: Family, unit: Standing, fitting: Fitting) -> Fitting:
    """The factory's own combinations of an era: every design fitted there, and no rule broken.

    `unit` stands as it was built, and `fitting` is what the book lets stand in it.
    """
    return fitting.within({
        key: tuple(v for v in values if key not in family.position or v == NONE or unit.era in family.design[v].fitted)
        for key, values in fitting.domains.items()
    })  # fmt: skip


def narrowed(fitting: Fitting, held: Mapping[str, Sequence[str]]) -> Domains:
    """A fitting's domains, each cut down to what is held there."""
    return {
        key: tuple(value for value in values if key not in held or value in held[key])
        for key, values in fitting.domains.items()
    }


def apart(fitting: Fitting, group: Sequence[str], family: Family) -> list[tuple[str, ...]]:
    """The positions of a group, apart where only facts left open tie them together."""
    inside = {place for place in group if place in family.position}
    ties = [tuple(place for place in table.positions if place in inside) for table in fitting.tables]
    return [tuple(piece) for piece in joined([p for p in group if p in inside], [tie for tie in ties if tie])]
