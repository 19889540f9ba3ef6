"""A family as its book tells it: eras, facts, positions, marks, designs, rules and tasks."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from sourcing.book.crosscheck import faults_of
from sourcing.faults import shown
from sourcing.reading import Amount, Code, Month, Price, Rate, Record, Words, read_text, toml_of

NONE = "none"
ANY = "*"
Condition = Literal["new", "reman", "used"]
Choice = dict[Code, list[Code]]


class Title(Record):
    code: Code
    name: Words


class Era(Record):
    """A span of build months in which the factory changed nothing that matters here; both ends inclusive."""

    code: Code
    name: Words
    from_: Month = Field(alias="from")
    to: Month | None = None
    model_years: list[int] = []

    def covers(self, month: str) -> bool:
        return self.from_ <= month and (self.to is None or month <= self.to)


class Fact(Record):
    """What must be asked of the vehicle or the unit, with its possible values."""

    code: Code
    ask: Words
    values: list[Code] = Field(min_length=1)
    of: Literal["vehicle", "unit"] = "unit"


class Position(Record):
    """A place in the unit that one design fills."""

    code: Code
    name: Words
    lead: bool = False
    optional: bool = False
    comeback_cost: Price | None = None
    conditions: list[Condition] = ["new", "reman", "used"]
    may_keep: bool = True


class Mark(Record):
    """What can be seen or counted on the part of a position."""

    code: Code
    position: Code
    ask: Words
    values: list[str | int] | None = None
    needs: Words = ""


class Design(Record):
    """One design of a position: where the factory fitted it and into which eras it may also go."""

    code: Code
    position: Code
    name: Words
    fitted: list[Code] = []
    retrofits: list[Code] = []
    marks: dict[Code, Any] = {}
    weight_kg: Annotated[Amount, Field(decimal_places=3)] = Decimal(0)
    comeback_rate: Rate = Fraction(0)
    kept_comeback_rate: Rate | None = None

    @property
    def grams(self) -> int:
        return int(self.weight_kg * 1000)

    def usable_in(self, era: str) -> bool:
        return era in self.fitted or era in self.retrofits


class Allow(Record):
    """The positions named hold one of the rows together."""

    positions: list[Code] = Field(min_length=1)
    rows: list[list[Code]]


class Rule(Record):
    """A rule of fitment with the reason in the trade's words; exactly one of need, never and allow."""

    code: Code
    says: Words
    source: Words
    caution: Words = ""
    when: Choice = {}
    need: Choice | None = None
    never: Choice | None = None
    allow: Allow | None = None


class Task(Record):
    """Work that comes with a choice: hours, and materials or sublet work."""

    code: Code
    name: Words
    hours: Amount = Decimal(0)
    cost: Price = Decimal(0)
    when: Choice = {}
    replacing: list[Code] | None = None
    caution: Words = ""


class Consumable(Record):
    """What is used up in the work, fluid or a gasket: charged to the customer, no part of the choice."""

    code: Code
    name: Words
    quantity: Amount = Decimal(1)
    unit: Words = ""
    price: Price
    when: Choice = {}
    replacing: list[Code] | None = None


class Inspection(Record):
    """A measurement that a found part must pass before it may go back in.

    `accept` of two numbers is a range, both ends included; anything else is a list of readings that pass.
    """

    code: Code
    position: Code
    ask: Words
    unit: Words = ""
    accept: list[Decimal | Words] = Field(min_length=1)
    caution: Words = ""
    source: Words

    @property
    def bounds(self) -> tuple[Decimal, Decimal] | None:
        """The range that passes; None where single readings are listed."""
        match self.accept:
            case [Decimal() as low, Decimal() as high]:
                return low, high
        return None

    @property
    def accepted(self) -> str:
        """What passes, in words."""
        unit = f" {self.unit}" if self.unit else ""
        if self.bounds:
            return f"{self.bounds[0]} to {self.bounds[1]}{unit}"
        return " or ".join(map(str, self.accept)) + unit

    def passes(self, reading: Decimal | str) -> bool:
        if self.bounds:
            low, high = self.bounds
            return isinstance(reading, Decimal) and low <= reading <= high
        return any(_alike(reading, one) for one in self.accept)


def _alike(one: Decimal | str, other: Decimal | str) -> bool:
    """Whether two readings are the same: numbers by value, words without regard to case."""
    if isinstance(one, Decimal) or isinstance(other, Decimal):
        return one == other
    return one.strip().casefold() == other.strip().casefold()


class Family(Record):
    """A family's whole book (interchange.toml), cross-checked when it is read."""

    format: Literal[1]
    family: Title
    eras: list[Era] = Field(alias="era", min_length=1)
    facts: list[Fact] = Field(default=[], alias="fact")
    positions: list[Position] = Field(alias="position", min_length=1)
    marks: list[Mark] = Field(default=[], alias="mark")
    designs: list[Design] = Field(default=[], alias="design")
    rules: list[Rule] = Field(default=[], alias="rule")
    tasks: list[Task] = Field(default=[], alias="task")
    inspections: list[Inspection] = Field(default=[], alias="inspection")
    consumables: list[Consumable] = Field(default=[], alias="consumable")

    @property
    def code(self) -> str:
        return self.family.code

    @cached_property
    def lead(self) -> Position:
        return next(position for position in self.positions if position.lead)

    @cached_property
    def design(self) -> dict[str, Design]:
        return {design.code: design for design in self.designs}

    @cached_property
    def position(self) -> dict[str, Position]:
        return {position.code: position for position in self.positions}

    @cached_property
    def era(self) -> dict[str, Era]:
        return {era.code: era for era in self.eras}

    @cached_property
    def fact(self) -> dict[str, Fact]:
        return {fact.code: fact for fact in self.facts}

    @cached_property
    def mark(self) -> dict[str, Mark]:
        return {mark.code: mark for mark in self.marks}

    @cached_property
    def inspection(self) -> dict[str, Inspection]:
        return {inspection.code: inspection for inspection in self.inspections}

    def inspections_of(self, position: str) -> list[Inspection]:
        """What must be measured on a found part of a position before it may go back in."""
        return [inspection for inspection in self.inspections if inspection.position == position]

    @cached_property
    def rules_at(self) -> dict[str, list[Rule]]:
        """The rules that speak of each position, in the book's order."""
        found: dict[str, list[Rule]] = {}
        for rule in self.rules:
            allowed = rule.allow.positions if rule.allow else ()
            for position in {*rule.when, *(rule.need or ()), *(rule.never or ()), *allowed}:
                found.setdefault(position, []).append(rule)
        return found

    @cached_property
    def holds(self) -> dict[str, tuple[str, ...]]:
        """What each position may hold in some era: its designs, and "none" where it is optional."""
        held: dict[str, list[str]] = {position.code: [] for position in self.positions}
        for design in self.designs:
            held.setdefault(design.position, []).append(design.code)
        optional = {position.code for position in self.positions if position.optional}
        return {code: (*held[code], NONE) if code in optional else tuple(held[code]) for code in held}

    def eras_of(self, built: str | None, model_year: int | None) -> tuple[str, ...]:
        """The eras that a build month and a model year allow; with neither, every era."""
        return tuple(
            era.code
            for era in self.eras
            if (built is None or era.covers(built)) and (model_year is None or model_year in era.model_years)
        )

    def name_of(self, design: str) -> str:
        return "nothing" if design == NONE else self.design[design].name


def read_family(path: Path) -> Family:
    """Read and cross-check an interchange.toml.

    Raises BadInput with every fault of the file.
    """
    return family_of(read_text(path), path)


def family_of(text: str, path: Path) -> Family:
    """The same for a text at hand, which need not stand in the file of that name."""
    return toml_of(text, path, Family, lambda family: faults_of(family, shown(path), path.parent.name))
