"""Small random books, and their rules read plainly: what the engine over tables must agree with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from random import Random
from typing import Any

from program.tiny import family_of

from sourcing.book.family import NONE, Choice, Family, Rule
from sourcing.book.rules import Setting

ERAS = ("e1", "e2")
FACTS = {"lever": ("gate", "tap"), "drive": ("two", "four")}
Table = dict[str, Any]


def random_book(random: Random) -> Family:
    """A random book, as the package reads it."""
    return family_of(random_tables(random))


def random_tables(random: Random) -> Table:
    """Two to four positions, some optional, of one to three designs, under one to four rules of every form."""
    positions = [f"p{n}" for n in range(random.randint(2, 4))]
    optional = [p for p in positions[1:] if random.random() < 0.4]
    designs = {p: [f"{p}-{n}" for n in range(random.randint(1, 3))] for p in positions}
    held = {p: designs[p] + ([NONE] if p in optional else []) for p in positions}
    return {
        "era": [{"code": "e1", "name": "1", "from": "2001-01", "to": "2005-12"}, {"code": "e2", "name": "2", "from": "2006-01"}],
        "fact": [{"code": code, "ask": "?", "values": list(values)} for code, values in FACTS.items()],
        "position": [{"code": p, "name": p, "lead": p == "p0", "optional": p in optional} for p in positions],
        "design": [random_design(random, p, d) for p in positions for d in designs[p]],
        "rule": [random_rule(random, n, held) for n in range(random.randint(1, 4))],
    }  # fmt: skip


def marked_tables(random: Random) -> Table:
    """A random book whose designs carry marks, some of them left out, and tasks that may never come due."""
    book = random_tables(random)
    marks = []
    for position in book["position"]:
        for number in range(random.randint(0, 2)):
            values = random.choice([None, ["red", "blue"], [6, 7, 8]])
            marks.append({"code": f"{position['code']}-m{number}", "position": position["code"], "ask": "?",
                          "needs": random.choice(["", "pan off"]), **({"values": values} if values else {})})  # fmt: skip
    for design in book["design"]:
        design["marks"] = {
            mark["code"]: random.choice(mark.get("values") or [1, 2])
            for mark in marks
            if mark["position"] == design["position"] and random.random() < 0.8
        }
    return {**book, "mark": marks}


def random_design(random: Random, position: str, code: str) -> Table:
    eras = [e for e in ERAS if random.random() < 0.8]
    fitted = eras[: random.randint(0, 2)]
    return {
        "code": code,
        "position": position,
        "name": code,
        "fitted": fitted,
        "retrofits": [e for e in eras if e not in fitted],
    }


def some(random: Random, values: list[str]) -> list[str]:
    return random.sample(values, random.randint(1, len(values)))


def random_rule(random: Random, number: int, held: Mapping[str, list[str]]) -> Table:
    """A rule whose condition may also name positions that the rule itself speaks of."""
    rule: Table = {"code": f"r{number}", "says": f"reason {number}", "source": "invented"}
    when: Table = {}
    for key, values in (("era", ERAS), ("vehicle_era", ERAS), *FACTS.items()):
        if random.random() < 0.2:
            when[key] = some(random, list(values))
    for position in held:
        if random.random() < 0.25:
            when[position] = some(random, held[position])
    named = random.sample(list(held), random.randint(1, min(3, len(held))))
    form = random.choice(["need", "never", "allow"])
    if form == "allow":
        rows = [[random.choice([*held[p], "*"]) for p in named] for _ in range(random.randint(0, 4))]
        rule["allow"] = {"positions": named, "rows": rows}
    else:
        rule[form] = {p: some(random, held[p]) for p in named}
    return {**rule, "when": when} if when else rule


def settings(family: Family) -> Iterator[Setting]:
    """Every setting; one vehicle that was built in none of the eras among them."""
    for era, other, lever, drive in product(ERAS, (*ERAS, None), FACTS["lever"], FACTS["drive"]):
        yield Setting(era, other, {"lever": lever, "drive": drive})


def all_combinations(family: Family) -> Iterator[dict[str, str]]:
    for values in product(*family.holds.values()):
        yield dict(zip(family.holds, values, strict=True))


def holds(when: Choice, setting: Setting, combination: Mapping[str, str]) -> bool:
    known: dict[str, str | None] = {
        "era": setting.era,
        "vehicle_era": setting.vehicle_era,
        **setting.facts,
        **combination,
    }
    return all(known[key] in values for key, values in when.items())


def broken(rule: Rule, setting: Setting, combination: Mapping[str, str]) -> bool:
    """The sentence of the contract, read aloud."""
    if not holds(rule.when, setting, combination):
        return False
    if rule.need is not None:
        return any(combination[position] not in values for position, values in rule.need.items())
    if rule.never is not None:
        return all(combination[position] in values for position, values in rule.never.items())
    assert rule.allow is not None
    stands = [combination[position] for position in rule.allow.positions]
    return not any(
        all(cell in ("*", value) for cell, value in zip(row, stands, strict=True)) for row in rule.allow.rows
    )


def valid(family: Family, setting: Setting, combination: Mapping[str, str]) -> bool:
    usable = (
        d == NONE or setting.era in (*family.design[d].fitted, *family.design[d].retrofits)
        for d in combination.values()
    )
    return all(usable) and not any(broken(rule, setting, combination) for rule in family.rules)
