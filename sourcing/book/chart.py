"""The compatibility chart of a family: which lead design goes with what, era by era, and why not where it does not.

Facts are left open, and so is the era of the vehicle among those of the book.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod
from typing import Literal

from sourcing.book.family import NONE, Era, Family, Rule
from sourcing.book.fitting import Fitting, Reason
from sourcing.book.misfits import against
from sourcing.book.openera import MOST_VALUES, OpenEra, barren

MOST_POSITIONS = 12
Goes = Literal["yes", "no", "depends"]
Barred = tuple[Mapping[str, str], tuple[Reason, ...]]


@dataclass(frozen=True, slots=True)
class Why:
    """Why a pair does not go: `when` are the facts under which it does not (empty: never), `reason` what stands against it."""

    when: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Cell:
    """A lead design with another design: whether some valid unit of the era holds both.

    `depends`: some does, but not for every value of the facts and every era of the vehicle that the lead design itself bears.
    """

    position: str
    design: str
    goes: Goes
    why: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A lead design that may be used in an era; `fitted`: the factory used it there, otherwise it goes in by retrofit.

    `why`: what bars it whatever it is put with, always or under some facts; its cells do not repeat that.
    """

    design: str
    fitted: bool
    why: tuple[Why, ...]
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
        whys = (why for row in self.rows for told in (row.why, *(cell.why for cell in row.cells)) for why in told)
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
    opened = OpenEra(family, era.code, strangers=False)
    columns = tuple((position, opened.fitting.domains[position]) for position in positions)
    rows = tuple(_row(opened, design, columns) for design in opened.fitting.domains[family.lead.code])
    return EraChart(era, columns, rows)


def _row(era: OpenEra, lead: str, columns: Sequence[tuple[str, tuple[str, ...]]]) -> Row:
    family = era.family
    around = era.around([family.lead.code])
    alone = around.within({**around.domains, family.lead.code: (lead,)})
    fitted = era.era in family.design[lead].fitted
    if alone.first() is None:
        reasons = against(family, era.era, around, {family.lead.code: (lead,)})
        never = tuple(Why("", reason) for reason in reasons)
        return Row(lead, fitted, never, tuple(Cell(p, other, "no", ()) for p, held in columns for other in held))
    barred = barred_in(family, alone)
    cells = tuple(_cell(era, lead, position, other, barred) for position, held in columns for other in held)
    return Row(lead, fitted, whys(barred), cells)


def _cell(era: OpenEra, lead: str, position: str, other: str, barred: Sequence[Barred]) -> Cell:
    family = era.family
    around = era.around([family.lead.code, position])
    held = {family.lead.code: (lead,), position: (other,)}
    pair = around.within({**around.domains, **held})
    if pair.first() is None:
        reasons = against(family, era.era, around, held)
        return Cell(position, other, "no", tuple(Why("", reason) for reason in reasons))
    known = [set(settled.items()) for settled, _ in barred]
    own = [one for one in barred_in(family, pair) if not any(less <= set(one[0].items()) for less in known)]
    return Cell(position, other, "depends" if own else "yes", whys(own))


def barred_in(family: Family, fitting: Fitting) -> list[Barred]:
    """The values of open facts under which nothing is valid, with the rules that leave nothing."""
    facts = [place for place in fitting.domains if place not in family.position]
    if prod(len(fitting.domains[fact]) for fact in facts) > MOST_VALUES:
        says = f"so many facts decide that not each was looked at: {', '.join(facts)}"
        return [({}, (Reason("fact", says, "facts"),))]
    return [
        (settled, tuple(Reason("rule", rule.says, rule.code, rule.source, rule.positions) for rule in rules))
        for settled, rules in barren(fitting, facts)
    ]


def whys(barred: Sequence[Barred]) -> tuple[Why, ...]:
    """As reasons to read: values of one fact that the same rule bars stand together."""
    values: dict[tuple[str, Reason], list[str]] = {}
    made: dict[tuple[str, Reason], None] = {}
    for settled, reasons in barred:
        for reason in reasons:
            if len(settled) == 1:
                ((key, value),) = settled.items()
                values.setdefault((key, reason), []).append(value)
                made[key, reason] = None
            else:
                made[", ".join(_fact(key, [value]) for key, value in settled.items()), reason] = None
    return tuple(
        Why(_fact(key, values[key, reason]) if (key, reason) in values else key, reason) for key, reason in made
    )


def _fact(key: str, values: Sequence[str]) -> str:
    if key == "vehicle_era":
        return f"vehicle of {' or '.join('no era of the book' if value == NONE else value for value in values)}"
    return f"{key} {' or '.join(values)}"
