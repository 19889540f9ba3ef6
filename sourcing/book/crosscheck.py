"""A book's names checked against each other: what one pydantic model cannot see."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

from sourcing.faults import (
    BadValue,
    Contradiction,
    EraOverlap,
    Fault,
    NoLead,
    RepeatedCode,
    RuleShape,
    UnknownName,
)

if TYPE_CHECKING:
    from sourcing.book.family import Choice, Family, Rule

RESERVED = ("none", "*", "era", "vehicle_era")


def faults_of(family: Family, file: str, folder: str) -> Iterator[Fault]:
    """Every contradiction inside a book, in the order of its tables."""
    if family.family.code != folder:
        yield Contradiction(file=file, place="family code", found=f'"{family.family.code}" in the folder "{folder}"',
                            expected="the folder's name as the family's code",
                            remedy="Rename the folder or the code.")  # fmt: skip
    yield from _repeated(family, file)
    yield from _eras(family, file)
    if sum(position.lead for position in family.positions) != 1:
        leads = ", ".join(position.code for position in family.positions if position.lead) or "none"
        yield NoLead(file=file, place="position", found=leads)
    yield from _designs(family, file)
    for rule in family.rules:
        place = f"rule ({rule.code})"
        yield from _choice(family, file, f"{place} when", rule.when, keys="all")
        yield from _rule(family, file, place, rule)
    for task in family.tasks:
        yield from _choice(family, file, f"task ({task.code}) when", task.when, keys="all")
        yield from _known(file, f"task ({task.code}) replacing", task.replacing or (), family.position, "position")
    for item in family.consumables:
        yield from _choice(family, file, f"consumable ({item.code}) when", item.when, keys="all")
        yield from _known(
            file, f"consumable ({item.code}) replacing", item.replacing or (), family.position, "position"
        )
    for inspection in family.inspections:
        place = f"inspection ({inspection.code})"
        yield from _known(file, f"{place} position", [inspection.position], family.position, "position")
        if inspection.bounds and inspection.bounds[0] > inspection.bounds[1]:
            yield BadValue(file=file, place=f"{place} accept", found=inspection.accepted,
                           expected="the lower end of the range first")  # fmt: skip


def _repeated(family: Family, file: str) -> Iterator[Fault]:
    kinds: dict[str, list[str]] = {
        "era": [item.code for item in family.eras],
        "fact or position": [fact.code for fact in family.facts] + [position.code for position in family.positions],
        "mark": [item.code for item in family.marks],
        "design": [item.code for item in family.designs],
        "rule": [rule.code for rule in family.rules],
        "task": [item.code for item in family.tasks],
        "inspection": [item.code for item in family.inspections],
        "consumable": [item.code for item in family.consumables],
    }
    for kind, codes in kinds.items():
        for code, times in Counter(codes).items():
            if times > 1:
                yield RepeatedCode(file=file, place=kind, found=f'"{code}" {times} times')
            if code in RESERVED:
                yield RepeatedCode(file=file, place=kind, found=f'"{code}"', expected="a code that has no meaning yet")
    for fact in family.facts:
        for value, times in Counter(fact.values).items():
            if times > 1:
                yield RepeatedCode(file=file, place=f"fact ({fact.code}) values", found=f'"{value}" {times} times')


def _eras(family: Family, file: str) -> Iterator[Fault]:
    for era in family.eras:
        if era.to is not None and era.to < era.from_:
            yield EraOverlap(file=file, place=f"era ({era.code})", found=f"from {era.from_} to {era.to}",
                             expected="an era that ends after it begins")  # fmt: skip
    ordered = sorted(family.eras, key=lambda era: era.from_)
    for earlier, later in pairwise(ordered):
        if earlier.to is None or earlier.to >= later.from_:
            end = earlier.to or "open"
            yield EraOverlap(file=file, place=f"era ({later.code})",
                             found=f"{earlier.code} to {end}, {later.code} from {later.from_}")  # fmt: skip


def _designs(family: Family, file: str) -> Iterator[Fault]:
    for mark in family.marks:
        yield from _known(file, f"mark ({mark.code}) position", [mark.position], family.position, "position")
    for design in family.designs:
        place = f"design ({design.code})"
        yield from _known(file, f"{place} position", [design.position], family.position, "position")
        yield from _known(file, f"{place} fitted", design.fitted, family.era, "era")
        yield from _known(file, f"{place} retrofits", design.retrofits, family.era, "era")
        yield from _known(file, f"{place} marks", design.marks, family.mark, "mark")
        for code, value in design.marks.items():
            known = family.mark.get(code)
            if known is None:
                continue
            if known.position != design.position:
                yield Contradiction(file=file, place=f"{place} marks", found=f"{code} is a mark of {known.position}",
                                    expected=f"marks of {design.position}")  # fmt: skip
            if known.values is not None and value not in known.values:
                listed = ", ".join(str(item) for item in known.values)
                yield BadValue(file=file, place=f"{place} marks {code}", found=repr(value), expected=f"one of {listed}")


def _rule(family: Family, file: str, place: str, rule: Rule) -> Iterator[Fault]:
    given = [name for name in ("need", "never", "allow") if getattr(rule, name) is not None]
    if len(given) != 1:
        yield RuleShape(file=file, place=place, found=" and ".join(given) or "none of them")
    for name in ("need", "never"):
        choice = getattr(rule, name)
        if choice is not None:
            if not choice:
                yield RuleShape(file=file, place=f"{place} {name}", expected="at least one position", found="none")
            yield from _choice(family, file, f"{place} {name}", choice, keys="positions")
    if rule.allow is None:
        return
    positions = rule.allow.positions
    yield from _known(file, f"{place} allow positions", positions, family.position, "position")
    if len(set(positions)) < len(positions):
        yield RuleShape(file=file, place=f"{place} allow positions", expected="each position once",
                        found=", ".join(positions))  # fmt: skip
    for index, row in enumerate(rule.allow.rows, 1):
        here = f"{place} allow rows[{index}]"
        if len(row) != len(positions):
            yield RuleShape(file=file, place=here, expected=f"{len(positions)} designs, one for each position",
                            found=str(len(row)))  # fmt: skip
            continue
        for position, value in zip(positions, row, strict=True):
            if value != "*" and position in family.position:
                yield from _known(file, here, [value], family.holds[position], f"design of {position}")


def _choice(family: Family, file: str, place: str, choice: Choice, keys: str) -> Iterator[Fault]:
    for key, values in choice.items():
        here = f"{place} {key}"
        if not values:
            yield RuleShape(file=file, place=here, expected="at least one value", found="an empty list")
        if key in family.position:
            yield from _known(file, here, values, family.holds[key], f"design of {key}")
        elif keys == "all" and key in ("era", "vehicle_era"):
            yield from _known(file, here, values, family.era, "era")
        elif keys == "all" and key in family.fact:
            yield from _known(file, here, values, family.fact[key].values, f"value of {key}")
        else:
            kinds = "a position" if keys == "positions" else "era, vehicle_era, a fact or a position"
            yield UnknownName(file=file, place=here, found=f'"{key}"', expected=kinds)


def _known(file: str, place: str, names: Iterable[str], known: Iterable[str], kind: str) -> Iterator[Fault]:
    held = set(known)
    for name in names:
        if name not in held:
            yield UnknownName(
                file=file, place=place, found=f'"{name}"', expected=f"a {kind}".replace("a era", "an era")
            )
