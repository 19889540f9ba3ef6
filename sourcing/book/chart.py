"""The compatibility chart of a family: which lead design goes with what, era by era, and why not where it does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod
from typing import Literal

from sourcing.book.family import Era, Family, Rule
from sourcing.book.fitting import Reason
from sourcing.book.misfits import against
from sourcing.book.openera import MOST_VALUES, OpenEra, barren, settled_in_words

MOST_POSITIONS = 12
Goes = Literal["yes", "no", "depends"]


@dataclass(frozen=True, slots=True)
class Why:
    """Why a pair does not go: `when` are the facts under which it does not (empty: never), `reason` what stands against it."""

    when: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Cell:
    """A lead design with another design: whether some valid unit of the era holds both.

    `depends`: some does, but not for every value of the facts and every era of the vehicle.
    """

    position: str
    design: str
    goes: Goes
    why: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A lead design that may be used in an era; `fitted`: the factory used it there, otherwise it goes in by retrofit."""

    design: str
    fitted: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class EraChart:
    """The chart of one era: its rows, and the columns as position and what may stand there."""

    era: Era
    columns: tuple[tuple[str, tuple[str, ...]], ...]
    rows: tuple[Row, ...]

    @property
    def notes(self) -> tuple[Why, ...]:
        """Every reason of the chart once, in the order in which a reader meets them: note 1 is the first."""
        whys = (why for row in self.rows for cell in row.cells for why in cell.why)
        return tuple(dict.fromkeys(whys))


@dataclass(frozen=True)
class Chart:
    """A family's chart. `left_out`: positions that no rule names together with the lead one, where there are too many."""

    family: Family
    eras: tuple[EraChart, ...]
    left_out: tuple[str, ...]

    @property
    def cautions(self) -> tuple[Rule, ...]:
        """Rules with a caution, which hangs beside the chart."""
        return tuple(rule for rule in self.family.rules if rule.caution)


def chart_of(family: Family, eras: Sequence[str] | None = None) -> Chart:
    """The chart of some eras (left out: all), exactly, by the book's own engine."""
    others = [position.code for position in family.positions if position.code != family.lead.code]
    shown = others if len(others) <= MOST_POSITIONS else _beside_lead(family, others)
    made = tuple(_era_chart(family, era, shown) for era in family.eras if eras is None or era.code in eras)
    return Chart(family, made, tuple(position for position in others if position not in shown))


def _beside_lead(family: Family, positions: Sequence[str]) -> list[str]:
    """Positions that some rule names together with the lead one."""
    beside: set[str] = set()
    for rule in family.rules:
        named = {*rule.when, *(rule.need or ()), *(rule.never or ()), *(rule.allow.positions if rule.allow else ())}
        beside |= named if family.lead.code in named else set()
    return [position for position in positions if position in beside]


def _era_chart(family: Family, era: Era, positions: Sequence[str]) -> EraChart:
    opened = OpenEra(family, era.code)
    lead = family.lead.code
    columns = tuple((position, opened.fitting.domains[position]) for position in positions)
    rows = tuple(
        Row(
            design,
            era.code in family.design[design].fitted,
            tuple(_cell(opened, design, position, other) for position, held in columns for other in held),
        )
        for design in opened.fitting.domains[lead]
    )
    return EraChart(era, columns, rows)


def _cell(era: OpenEra, lead: str, position: str, other: str) -> Cell:
    family = era.family
    around = era.around([family.lead.code, position])
    held = {family.lead.code: (lead,), position: (other,)}
    pair = around.within({**around.domains, **held})
    if pair.first() is None:
        reasons = against(family, era.era, around, held)
        return Cell(position, other, "no", tuple(Why("", reason) for reason in reasons))
    facts = [place for place in pair.domains if place not in family.position]
    if prod(len(pair.domains[fact]) for fact in facts) > MOST_VALUES:
        reason = Reason("fact", f"so many facts decide that not each was looked at: {', '.join(facts)}", "facts")
        return Cell(position, other, "depends", (Why("", reason),))
    whys = tuple(
        Why(settled_in_words(settled).strip(), Reason("rule", rule.says, rule.code, rule.source, rule.positions))
        for settled, rules in barren(pair, facts)
        for rule in rules
    )
    return Cell(position, other, "depends" if whys else "yes", whys)
