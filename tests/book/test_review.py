"""A book reviewed: every hole that trying everything finds, and no other."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from oracle import review as oracle
from program.tiny import family_of

from book.books import ERAS, FACTS, marked_tables, some
from sourcing.book.openera import OpenEra
from sourcing.book.review import Finding, Number, review

BOOKS = range(0, 240, 10)  # ten books a case
Table = dict[str, Any]


def book(seed: int) -> Table:
    """A random book with marks, and tasks that hang on eras, facts and parts."""
    random = Random(seed)
    tables = marked_tables(random)
    held = {p["code"]: [d["code"] for d in tables["design"] if d["position"] == p["code"]] for p in tables["position"]}
    tasks = []
    for number in range(3):
        when = {}
        for key, values in (("era", ERAS), ("vehicle_era", ERAS), *FACTS.items(), *held.items()):
            if random.random() < 0.3:
                when[key] = some(random, list(values))
        task: Table = {"code": f"t{number}", "name": "?", "when": when}
        if random.random() < 0.5:
            task["replacing"] = some(random, list(held))
        tasks.append(task)
    return {**tables, "task": tasks}


def books(first: int) -> list[tuple[Table, tuple[Finding, ...]]]:
    made = [book(seed) for seed in range(first, first + 10)]
    return [(tables, review(family_of(tables))) for tables in made]


def at(findings: tuple[Finding, ...], code: str) -> set[str]:
    return {finding.where.split()[-1] for finding in findings if finding.code == code}


@pytest.mark.parametrize("first", BOOKS)
def test_eras_without_a_valid_unit_and_facts_that_leave_none_are_found(first: int) -> None:
    for tables, found in books(first):
        family = family_of(tables)
        for era in oracle.eras(tables):
            barren = oracle.barren_worlds(tables, era)
            empty = len(barren) == len(oracle.worlds_of(tables, era))
            assert (era in at(found, "era-empty")) == empty
            told = [settled for settled, _ in OpenEra(family, era).barren]
            for world in oracle.worlds_of(tables, era):
                known = {key: value or "none" for key, value in world.items()}
                named = any(all(known[key] == value for key, value in settled.items()) for settled in told)
                if all(OpenEra(family, era).fitting.domains.values()):
                    assert named == (world in barren)
            if not empty:
                assert (era in at(found, "rules-contradict")) == bool(barren)


@pytest.mark.parametrize("first", BOOKS)
def test_designs_that_no_valid_unit_holds_are_found(first: int) -> None:
    for tables, found in books(first):
        places = oracle.places(tables)
        used = {design for design, _ in places}
        given = [(d["code"], era) for d in tables["design"] for era in (*d["fitted"], *d["retrofits"])]
        alive = {era for _, era in places}
        assert at(found, "design-unused") == {d["code"] for d in tables["design"]} - used
        without = {(f.where.split()[-1], f.example.split(":")[0]) for f in found if f.code == "design-without-place"}
        assert without == {(d, era) for d, era in given if d in used and (d, era) not in places and era in alive}


@pytest.mark.parametrize("first", BOOKS)
def test_rules_that_nothing_breaks_and_rules_that_follow_are_found(first: int) -> None:
    for tables, found in books(first):
        alive = {era for _, era in oracle.places(tables)}
        never, follows = set(), set()
        for rule in tables["rule"]:
            bitten = [era for era in oracle.eras(tables) if oracle.bites(tables, rule, era)]
            if not bitten:
                never.add(rule["code"])
            elif alive & set(bitten) and not any(
                oracle.only_it_is_broken(tables, rule, era) for era in alive & set(bitten)
            ):
                follows.add(rule["code"])
        assert at(found, "rule-never-bites") == never
        assert at(found, "rule-follows") == follows


@pytest.mark.parametrize("first", BOOKS)
def test_tasks_that_never_come_due_are_found(first: int) -> None:
    for tables, found in books(first):
        assert at(found, "task-never-applies") == {t["code"] for t in tables["task"] if not oracle.due(tables, t)}


@pytest.mark.parametrize("first", BOOKS)
def test_designs_that_no_mark_tells_apart_and_that_must_not_be_mixed_up_are_found(first: int) -> None:
    for tables, found in books(first):
        told = {(f.says.split()[3], f.says.split()[5].rstrip(",")) for f in found if f.code == "marks-do-not-tell"}
        assert told == set(oracle.mixed_up(tables))


# Small books, read in the head

TWO = {
    "position": [{"code": "block", "name": "Block", "lead": True}, {"code": "plate", "name": "Plate"}],
    "mark": [{"code": "count", "position": "block", "ask": "?"}, {"code": "count2", "position": "plate", "ask": "?"}],
    "design": [
        {"code": "a", "position": "block", "name": "A", "fitted": ["e"], "marks": {"count": 1}},
        {"code": "b", "position": "block", "name": "B", "fitted": ["e"], "marks": {"count": 2}},
        {"code": "x", "position": "plate", "name": "X", "fitted": ["e"], "marks": {"count2": 1}},
        {"code": "y", "position": "plate", "name": "Y", "fitted": ["e"], "marks": {"count2": 2}},
    ],
}  # fmt: skip


def rule(code: str, **form: Any) -> Table:
    return {"code": code, "says": f"says {code}", "source": "invented", **form}


def reviewed(*rules: Table, numbers: list[Number] | None = None, **tables: Any) -> list[Finding]:
    return list(review(family_of({**TWO, "rule": list(rules), **tables}), numbers))


ERA = {"code": "e", "name": "E", "from": "2000-01", "model_years": [2000]}


def test_a_sound_book_has_no_holes() -> None:
    pairs = rule("pairs", allow={"positions": ["block", "plate"], "rows": [["a", "x"], ["b", "y"]]})
    assert reviewed(pairs, era=[ERA]) == []


def test_two_rules_that_meet_are_named_with_what_they_leave_no_place() -> None:
    one = rule("one", when={"block": ["b"]}, need={"plate": ["x"]})
    two = rule("two", when={"block": ["b"]}, need={"plate": ["y"]})
    (found,) = reviewed(one, two, era=[ERA])
    assert (found.code, found.where) == ("design-unused", "design b")
    assert found.example == "e: one, two leave it no place"


def test_a_rule_that_follows_names_the_rules_that_say_it() -> None:
    pairs = rule("pairs", allow={"positions": ["block", "plate"], "rows": [["a", "x"], ["b", "y"]]})
    less = rule("less", when={"block": ["a"]}, never={"plate": ["y"]})
    (found,) = reviewed(pairs, less, era=[ERA])
    assert (found.code, found.where, found.example) == (
        "rule-follows", "rule less", "e: what breaks less breaks pairs")  # fmt: skip


def test_months_between_two_eras_and_years_between_them_are_gaps() -> None:
    eras = [{**ERA, "to": "2000-12"}, {"code": "f", "name": "F", "from": "2001-02", "model_years": [2002]}]
    designs = [{**d, "fitted": ["e", "f"]} for d in TWO["design"]]
    found = reviewed(era=eras, design=designs)
    assert [(f.code, f.example) for f in found] == [
        ("era-gap", "a unit built in 2001-01 is of no era"),
        ("year-gap", "a unit of model year 2001 is of no era"),
    ]


def test_a_year_of_two_eras_is_told() -> None:
    eras = [{**ERA, "to": "2000-12"}, {"code": "f", "name": "F", "from": "2001-01", "model_years": [2000, 2001]}]
    designs = [{**d, "fitted": ["e", "f"]} for d in TWO["design"]]
    assert [(f.code, f.where) for f in reviewed(era=eras, design=designs)] == [("year-in-two-eras", "model year 2000")]


def number(spelt: str, *fills: str, supplier: str = "s", replaced_by: str = "") -> Number:
    return Number(supplier, spelt, spelt, fills, replaced_by)


def test_numbers_on_two_designs_and_designs_without_a_number_are_found() -> None:
    numbers = [number("1", "a"), number("1", "b", supplier="t"), number("2", "x", replaced_by="3"), number("3", "y")]
    found = reviewed(era=[ERA], numbers=numbers)
    assert [(f.code, f.where) for f in found] == [
        ("number-on-two-designs", "parts.csv 1"), ("number-on-two-designs", "parts.csv 2")]  # fmt: skip
    found = reviewed(era=[ERA], numbers=[number("1", "a", "x", "y")])
    assert [(f.code, f.where) for f in found] == [
        ("design-without-number", "design b"), ("number-on-two-designs", "parts.csv 1")]  # fmt: skip
