"""A combination that somebody proposes, judged rule by rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sourcing.book.bench import validity
from sourcing.book.boxes import refused
from sourcing.book.family import Family, Rule
from sourcing.book.fitting import Fitting, Reason
from sourcing.book.misfits import against
from sourcing.book.standing import Standing, narrowed

Result = Literal["broken", "holds", "silent", "open"]


@dataclass(frozen=True, slots=True)
class Ruling:
    """One rule held against a proposal.

    `result`: broken; holds; silent (its conditions on era, facts or parts do not hold); open (it hangs on a position that is
    not named, or on a fact that is not given).
    """

    rule: Rule
    result: Result
    hangs_on: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """A proposal judged for one era that the unit can be of.

    Attributes
    ----------
    valid : None where it hangs on positions that are not named or facts that are not given
    completed : where it is not wrong, a valid combination with it, what is left open among its keys
    """

    standing: Standing
    valid: bool | None
    rulings: tuple[Ruling, ...]
    reasons: tuple[Reason, ...]
    completed: Mapping[str, str]


def judge(family: Family, standing: Standing, proposal: Mapping[str, str]) -> Verdict:
    """Judge a proposal, which may leave positions out, for one era of the unit."""
    fitting = standing.fitting(family)
    held = {position: (value,) for position, value in proposal.items()}
    everything = {p: held.get(p, fitting.domains[p] or values) for p, values in family.holds.items()}
    valid = validity(fitting, {**{p: fitting.domains[p] for p in family.position}, **held})
    return Verdict(
        standing=standing,
        valid=valid,
        rulings=tuple(_ruling(family, standing, fitting, rule, everything) for rule in family.rules),
        reasons=against(family, standing.era, fitting, held) if valid is False else (),
        completed=fitting.first(narrowed(fitting, held)) or {},
    )


def _ruling(
    family: Family, standing: Standing, fitting: Fitting, rule: Rule, held: Mapping[str, Sequence[str]]
) -> Ruling:
    left = {**{key: values for key, values in fitting.domains.items() if key not in family.position}, **held}
    speaks = [_met(standing, key, values, left) for key, values in rule.when.items()]
    if False in speaks:
        return Ruling(rule, "silent")
    table = next((table for table in fitting.tables if table.code == rule.code), None)
    breaking = refused(table, left) if table else ()
    if not breaking:
        return Ruling(rule, "silent" if None in speaks else "holds")
    if table is not None and not any(all(set(left[p]) & cell for p, cell in zip(table.positions, row, strict=True))
                                     for row in table.rows):  # fmt: skip
        return Ruling(rule, "broken")
    assert table is not None
    return Ruling(rule, "open", tuple(place for place in table.positions if len(left[place]) > 1))


def _met(standing: Standing, key: str, values: Sequence[str], left: Mapping[str, Sequence[str]]) -> bool | None:
    """Whether a condition holds; None where it hangs on what is open."""
    if key in left:
        met = set(left[key]) & set(values)
        return None if met and set(left[key]) - set(values) else bool(met)
    known = {"era": standing.era, "vehicle_era": standing.vehicle_eras[0], **standing.facts}
    return known.get(key) in values
