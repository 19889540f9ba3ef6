"""Every setting that a job leaves possible: eras of unit and vehicle, and facts that a rule asks for but nobody gave."""

from __future__ import annotations

from itertools import product

from sourcing.book.family import Family
from sourcing.book.rules import Setting, asked
from sourcing.book.standing import Standing
from sourcing.faults import BadInput, NoEra, TooLarge
from sourcing.job import Job

MOST_SETTINGS = 4096


def settings_of(job: Job, family: Family, file: str) -> list[Setting]:
    """The possible settings of a job, in the book's order.

    Raises
    ------
    BadInput
        where the unit was built in no era, or more than 4096 settings are left open
    """
    eras = [(one.era, vehicle) for one in standings_of(job, family, file) for vehicle in one.vehicle_eras]
    given_facts = job.facts
    keys = [key for key in asked(family, family.holds) if key in family.fact and key not in given_facts]
    count = len(eras)
    for key in keys:
        count *= len(family.fact[key].values)
    if count > MOST_SETTINGS:
        raise BadInput([TooLarge(file=file, place="facts", found=f"{count} possibilities",
                                 expected=f"at most {MOST_SETTINGS} possibilities left open",
                                 remedy=f"Give at least some of: {', '.join(keys)}.")])  # fmt: skip
    return [
        Setting(era, vehicle_era, {**given_facts, **dict(zip(keys, values, strict=True))})
        for era, vehicle_era in eras
        for values in product(*(family.fact[key].values for key in keys))
    ]


def standings_of(job: Job, family: Family, file: str) -> list[Standing]:
    """Each era that the unit can be of, with the vehicle's: one date dates both, two dates date each by itself.

    Raises BadInput where the unit was built in no era.
    """
    vehicle = job.vehicle_eras(family)
    eras = job.unit_eras(family)
    if not eras:
        source = job.vehicle if job.unit_undated and job.vehicle else job.unit
        given = source.built or source.model_year or "the vehicle's VIN"
        known = "; ".join(f"{era.code} {era.from_} to {era.to or 'now'}" for era in family.eras)
        raise BadInput([NoEra(file=file, place="unit", found=str(given), expected=f"a date in an era: {known}")])
    own = vehicle is None or job.unit_undated
    return [Standing(era, (era,) if own or vehicle is None else vehicle, job.facts) for era in eras]
