"""A job: the unit on the bench, what was found in it, what is asked of the plan."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StringConstraints

from sourcing.book.family import NONE, Condition, Family
from sourcing.book.marks import Found, candidates, same
from sourcing.faults import BadValue, BadVin, Contradiction, Fault, MissingKey, UnknownName, shown
from sourcing.partnumber import canonical
from sourcing.reading import Amount, Code, Count, Day, Month, Price, Record, Share, Words, read_text, toml_of
from sourcing.shop import Wanted, repeated_wanted
from sourcing.vin import model_years_of, wrong_with

Minimise = Literal["whole", "landed", "cash"]
Reading = Annotated[Decimal, Field(allow_inf_nan=False)] | str
Year = Annotated[int, Field(ge=1900, le=2200)]
Whence = Literal["received", "shelf", "customer"]
Numbers = Collection[tuple[str, str]]
"""Supplier and canonical part number of all that parts.csv names."""


class Header(Record):
    number: Code
    family: Code
    customer: Words = ""
    date: Day
    need_by: Day | None = None
    minimise: Minimise = "whole"


class Vehicle(Record):
    """The vehicle that the unit goes into; a VIN dates it, never the unit."""

    built: Month | None = None
    model_year: Year | None = None
    vin: str | None = None
    facts: dict[Code, str | int] = {}


class Unit(Record):
    """The unit on the bench."""

    tag: Words = ""
    built: Month | None = None
    model_year: Year | None = None
    facts: dict[Code, str | int] = {}


class Limits(Record):
    """What a plan must respect, besides the rules of fitment."""

    keep: list[Code] = []
    require: list[Code] = []
    exclude: list[Code] = []
    conditions: list[Condition] | None = None
    suppliers: list[Code] | None = None
    avoid_suppliers: list[Code] = []
    min_warranty_months: Count = 0
    max_suppliers: Count | None = None
    cores: list[Code] | None = None
    unavailable: list[Code] = []

    @property
    def cannot_be_had(self) -> frozenset[tuple[str, str]]:
        """`unavailable` taken apart: supplier and canonical part number."""
        return frozenset(_number_of(name) for name in self.unavailable)


def _number_of(name: str) -> tuple[str, str]:
    """ "SUPPLIER/PART_NUMBER" as supplier and canonical number; no supplier's code holds a slash."""
    supplier, _, number = name.partition("/")
    return supplier.strip(), canonical(number)


class InHand(Record):
    """A part that is here already: one piece, at one position.

    received: it came from an order of this job, and `cost` is what it was bought for, core charge left out; it is paid, and
    only sending it back takes that off again. shelf: `cost` is what taking it from the shelf costs. customer: the customer
    brought it. `supplier` and `part_number` say whose number is on the box (the part in it may be another design: that is how a
    wrong box comes); `came` is the day that return and core terms run from.
    """

    design: Code
    source: Whence
    supplier: Code | None = None
    part_number: Code | None = None
    cost: Price = Decimal(0)
    came: Day | None = None


class Labour(Record):
    base_hours: Amount = Decimal(0)


class Discount(Record):
    """A discount on all lines of a quote: an amount, or where `share` is given a share of them."""

    amount: Price = Decimal(0)
    share: Share | None = None


def _discount(value: object) -> object:
    """An amount as a number, or a share as a text such as "5 %"."""
    if isinstance(value, str):
        share = re.fullmatch(r"(\d{1,3}(?:\.\d{1,4})?)\s*%", value.strip())
        if share is None:
            raise ValueError('expected an amount such as 25.00, or a share such as "5 %"')
        return {"share": Decimal(share[1]) / 100}
    return value if isinstance(value, dict | Discount) else {"amount": value}


class Terms(Record):
    """[quote]: what is agreed about the quote's price."""

    discount: Annotated[Discount, BeforeValidator(_discount)] = Discount()


class Extra(Record):
    """[[extra]]: something else that the customer is charged for, taxed like parts, like labour, or not."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    amount: Price
    taxed: Literal["parts", "labour", "no"] = "parts"


class Job(Record):
    """scenarios/<job>.toml."""

    job: Header
    vehicle: Vehicle | None = None
    unit: Unit = Unit()
    found: dict[Code, Found] = {}
    limits: Limits = Limits()
    labour: Labour = Labour()
    readings: dict[Code, Reading] = {}
    wanted: list[Wanted] | None = None
    in_hand: dict[Code, InHand] = {}
    quote: Terms = Terms()
    extras: list[Extra] = Field(default=[], alias="extra")

    @property
    def number(self) -> str:
        return self.job.number

    @property
    def unit_undated(self) -> bool:
        return self.unit.built is None and self.unit.model_year is None

    @property
    def dated_by_vehicle(self) -> bool:
        """Whether the unit has no date of its own, and is in a vehicle."""
        return self.unit_undated and self.vehicle is not None

    @property
    def facts(self) -> dict[str, str]:
        """The facts given, of vehicle and unit together (a contradiction is a fault when the job is read)."""
        given = {**(self.vehicle.facts if self.vehicle else {}), **self.unit.facts}
        return {code: str(value) for code, value in given.items()}

    def moved_to(self, day: date) -> Job:
        """The job dated on another day, its promise as many days later or sooner."""
        need_by = self.job.need_by and self.job.need_by + (day - self.job.date)
        return self.model_copy(update={"job": self.job.model_copy(update={"date": day, "need_by": need_by})})

    def vehicle_eras(self, family: Family) -> tuple[str | None, ...] | None:
        """Eras that the vehicle's date allows (None in it: built in no era of ours); None where it is undated."""
        car = self.vehicle
        if car is None or (car.built is None and car.model_year is None and car.vin is None):
            return None
        by_vin: list[int | None] = [*model_years_of(car.vin, self.job.date)] if car.vin else [None]
        years = by_vin if car.model_year is None else [car.model_year]
        eras = [era for year in years for era in family.eras_of(car.built, year)]
        return tuple(era.code for era in family.eras if era.code in eras) or (None,)

    def unit_eras(self, family: Family) -> tuple[str, ...]:
        """Eras that the unit's own date allows; without one the vehicle's, without either every era."""
        if not self.unit_undated:
            return family.eras_of(self.unit.built, self.unit.model_year)
        eras = self.vehicle_eras(family)
        return tuple(family.era) if eras is None else tuple(era for era in eras if era is not None)

    def candidates(self, family: Family, position: str) -> tuple[str, ...]:
        """Designs that what was found at a position can be; empty where nothing was found there."""
        seen = self.found.get(position)
        return () if seen is None or seen == NONE else candidates(family, position, seen)


def read_job(path: Path, check: Callable[[Job], Iterable[Fault]] = lambda _: ()) -> Job:
    """Read a job file; `check` looks at it beside its book. Raises BadInput with every fault of the file."""
    return job_of(read_text(path), path, check)


def job_of(text: str, path: Path, check: Callable[[Job], Iterable[Fault]] = lambda _: ()) -> Job:
    """A job from a text at hand, which need not stand in the file of that name."""
    return toml_of(text, path, Job, lambda job: [*own_faults(job, shown(path)), *check(job)])


def own_faults(job: Job, file: str) -> Iterator[Fault]:
    """What is wrong with a job by itself, beside no book."""
    if job.wanted:
        yield from repeated_wanted(job.wanted, file)
    if job.vehicle:
        for code in job.vehicle.facts.keys() & job.unit.facts.keys():
            one, other = job.vehicle.facts[code], job.unit.facts[code]
            if str(one) != str(other):
                yield Contradiction(
                    file=file, place=f"facts {code}", found=f'"{one}" of the vehicle, "{other}" of the unit'
                )
        wrong = None if job.vehicle.vin is None else wrong_with(job.vehicle.vin, job.job.date)
        if wrong is not None:
            found, expected = wrong
            said = f'"{job.vehicle.vin}" ({found})'
            yield BadVin(file=file, place="vehicle vin", found=said, expected=expected)


def job_faults(
    job: Job, family: Family, suppliers: Mapping[str, object], file: str, numbers: Numbers | None = None
) -> Iterator[Fault]:
    """What a job names that its family's book, the shop's suppliers or parts.csv (where `numbers` is given) do not have."""
    yield from _fact_faults(job, family, file)
    yield from _found_faults(job, family, file)
    yield from _reading_faults(job, family, file)
    limits = job.limits
    named = (
        ("keep", limits.keep, family.position, "position"),
        ("cores", limits.cores or [], family.position, "position"),
        ("require", limits.require, family.design, "design"),
        ("exclude", limits.exclude, family.design, "design"),
        ("suppliers", limits.suppliers or [], suppliers, "supplier"),
        ("avoid_suppliers", limits.avoid_suppliers, suppliers, "supplier"),
    )
    for key, names, known, kind in named:
        for name in names:
            if name not in known:
                yield UnknownName(file=file, place=f"limits {key}", found=f'"{name}"', expected=f"a {kind}")
    for name in limits.unavailable:
        if not _is_number(_number_of(name), suppliers, numbers):
            yield UnknownName(file=file, place="limits unavailable", found=f'"{name}"',
                              expected="SUPPLIER/PART_NUMBER, as parts.csv names it")  # fmt: skip
    yield from _in_hand_faults(job, family, suppliers, file, numbers)


def _is_number(number: tuple[str, str], suppliers: Mapping[str, object], numbers: Numbers | None) -> bool:
    return number in numbers if numbers is not None else number[0] in suppliers and bool(number[1])


def _in_hand_faults(
    job: Job, family: Family, suppliers: Mapping[str, object], file: str, numbers: Numbers | None
) -> Iterator[Fault]:
    for position, hand in job.in_hand.items():
        place = f"in_hand {position}"
        if position not in family.position:
            yield UnknownName(file=file, place=place, found=f'"{position}"', expected=f"a position of {family.code}")
            continue
        held = [design for design in family.holds[position] if design != NONE]
        if hand.design not in held:
            yield UnknownName(file=file, place=f"{place} design", found=f'"{hand.design}"',
                              expected=f"one of {', '.join(held)}")  # fmt: skip
        if hand.supplier is not None and hand.supplier not in suppliers:
            yield UnknownName(file=file, place=f"{place} supplier", found=f'"{hand.supplier}"', expected="a supplier")
        elif hand.part_number is not None and hand.supplier is None:
            yield MissingKey(file=file, place=f"{place} supplier", found="a part_number without one",
                             expected="the supplier whose number it is")  # fmt: skip
        elif (hand.part_number and hand.supplier) and not _is_number(
            (hand.supplier, canonical(hand.part_number)), suppliers, numbers
        ):
            yield UnknownName(file=file, place=f"{place} part_number", found=f'"{hand.part_number}"',
                              expected=f"a number that parts.csv gives {hand.supplier}")  # fmt: skip
        if hand.came is not None and hand.came > job.job.date:
            yield BadValue(file=file, place=f"{place} came", found=hand.came.isoformat(),
                           expected=f"a day not after the job's, {job.job.date.isoformat()}")  # fmt: skip


def _fact_faults(job: Job, family: Family, file: str) -> Iterator[Fault]:
    for code, value in job.facts.items():
        fact = family.fact.get(code)
        if fact is None:
            yield UnknownName(file=file, place=f"facts {code}", found=f'"{code}"',
                              expected=f"a fact of {family.code}: {', '.join(family.fact) or 'it has none'}")  # fmt: skip
        elif value not in fact.values:
            yield BadValue(file=file, place=f"facts {code}", found=f'"{value}"',
                           expected=f"one of {', '.join(fact.values)}")  # fmt: skip


def _reading_faults(job: Job, family: Family, file: str) -> Iterator[Fault]:
    for code, value in job.readings.items():
        known = family.inspection.get(code)
        all_of_them = ", ".join(family.inspection) or "it has none"
        if known is None:
            yield UnknownName(file=file, place=f"readings {code}", found=f'"{code}"',
                              expected=f"an inspection of {family.code}: {all_of_them}")  # fmt: skip
        elif known.bounds and isinstance(value, str):
            yield BadValue(file=file, place=f"readings {code}", found=f'"{value}"',
                           expected=f"a number{f' ({known.unit})' if known.unit else ''}")  # fmt: skip


def _found_faults(job: Job, family: Family, file: str) -> Iterator[Fault]:
    for position, seen in job.found.items():
        place = f"found {position}"
        if position not in family.position:
            yield UnknownName(file=file, place=place, found=f'"{position}"', expected=f"a position of {family.code}")
        elif isinstance(seen, str):
            held = family.holds[position]
            if seen not in held:
                yield UnknownName(file=file, place=place, found=f'"{seen}"', expected=f"one of {', '.join(held)}")
        else:
            for code, value in seen.items():
                mark = family.mark.get(code)
                if mark is None or mark.position != position:
                    yield UnknownName(file=file, place=f"{place} {code}", found=f'"{code}"',
                                      expected=f"a mark of {position}")  # fmt: skip
                elif mark.values is not None and not any(same(value, one) for one in mark.values):
                    listed = ", ".join(map(str, mark.values))
                    yield BadValue(file=file, place=f"{place} {code}", found=f'"{value}"', expected=f"one of {listed}")
