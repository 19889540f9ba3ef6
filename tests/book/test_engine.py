"""Tables say what the rules say; propagation, search and reduction keep exactly the valid combinations; conflicts are small."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import settings as law
from hypothesis import strategies as st
from program.tiny import family_of

from book.books import all_combinations, broken, random_book, settings, valid
from sourcing.book.family import NONE, Fact, Family
from sourcing.book.fitting import Fitting, fitting_of, reasons_against
from sourcing.book.rules import Setting, Table, applies, asked, tables

BOOKS = range(0, 300, 10)  # ten books a case
IN_E = Setting("e", "e", {})


def books(first: int) -> list[tuple[Family, Setting]]:
    """Ten random books, each with three of its settings."""
    pairs = []
    for seed in range(first, first + 10):
        random = Random(seed)
        family = random_book(random)
        pairs += [(family, setting) for setting in random.sample(list(settings(family)), 3)]
    return pairs


@pytest.mark.parametrize("first", BOOKS)
def test_a_table_admits_what_its_rule_allows(first: int) -> None:
    for family, setting in books(first):
        by_code = {table.code: table for table in tables(family, setting)}
        for rule in family.rules:
            for combination in all_combinations(family):
                obeys = rule.code not in by_code or by_code[rule.code].admits(combination)
                assert obeys != broken(rule, setting, combination), (rule, setting, combination)
                if rule.when:
                    in_force = applies(rule.when, setting, combination)
                    assert in_force or not broken(rule, setting, combination)


@pytest.mark.parametrize("first", BOOKS)
def test_rows_of_a_need_or_a_never_exclude_each_other(first: int) -> None:
    for family, setting in books(first):
        forms = {rule.code: rule for rule in family.rules}
        for table in tables(family, setting):
            if forms[table.code].allow is None:
                for combination in all_combinations(family):
                    held = [combination[p] for p in table.positions]
                    rows = [row for row in table.rows if all(v in cell for v, cell in zip(held, row, strict=True))]
                    assert len(rows) == table.admits(combination)


@pytest.mark.parametrize("first", BOOKS)
def test_search_propagation_and_reduction_keep_exactly_the_valid_combinations(first: int) -> None:
    for family, setting in books(first):
        expected = [c for c in all_combinations(family) if valid(family, setting, c)]
        fitting = fitting_of(family, setting)
        assert list(fitting.combinations()) == expected  # in the order of the book, each once
        domains = fitting.propagated()
        for combination in expected:
            assert domains is not None and all(combination[p] in domains[p] for p in domains)
        reduced = fitting.reduced()
        assert ([] if reduced is None else list(reduced.combinations())) == expected
        if reduced is not None and expected:
            assert len(reduced.tables) <= len(fitting.tables)
            for table in reduced.tables:  # a rule that one row holds whole is gone
                assert tuple(frozenset(reduced.domains[p]) for p in table.positions) not in table.rows


@pytest.mark.parametrize("first", BOOKS)
def test_a_combination_has_reasons_against_it_just_where_it_is_not_valid(first: int) -> None:
    for family, setting in books(first):
        for combination in all_combinations(family):
            against = reasons_against(family, setting, combination)
            assert bool(against) != valid(family, setting, combination)
            rules = {rule.code for rule in family.rules if broken(rule, setting, combination)}
            assert {reason.code for reason in against if reason.kind == "rule"} == rules


@pytest.mark.parametrize("first", BOOKS)
def test_a_conflict_leaves_nothing_and_none_of_it_can_be_spared(first: int) -> None:
    for family, setting in books(first):
        fitting = fitting_of(family, setting)
        if next(fitting.combinations(), None) is not None:
            continue
        conflict = fitting.conflict()
        assert next(Fitting(fitting.domains, conflict).combinations(), None) is None
        for spared in conflict:
            fewer = [table for table in conflict if table is not spared]
            assert next(Fitting(fitting.domains, fewer).combinations(), None) is not None


@law(max_examples=60, deadline=None, derandomize=True, database=None)
@given(st.integers(1000, 100_000), st.randoms(use_true_random=False))
def test_the_order_of_rules_changes_no_combination(seed: int, random: Random) -> None:
    family = random_book(Random(seed))
    rules = list(family.rules)
    random.shuffle(rules)
    other = family.model_copy(update={"rules": rules})
    setting = next(settings(family))
    assert list(fitting_of(family, setting).combinations()) == list(fitting_of(other, setting).combinations())


# Small books, read in the head


def book(*rules: dict[str, object], optional: bool = False) -> Family:
    return family_of({
        "position": [{"code": "block", "name": "Block", "lead": True}, {"code": "plate", "name": "Plate", "optional": optional}],
        "design": [{"code": code, "position": code[:5], "name": code.title(), "fitted": ["e"]}
                   for code in ("block-1", "block-2", "plate-1", "plate-2")],
        "rule": [{"code": f"r{n}", "says": f"reason {n}", "source": f"bulletin {n}", **rule} for n, rule in enumerate(rules)],
    })  # fmt: skip


def pairs(family: Family) -> list[str]:
    """Valid pairs as "12": block-1 with plate-2; "-" for none."""
    made = fitting_of(family, IN_E).combinations()
    return [c["block"][-1] + ("-" if c["plate"] == NONE else c["plate"][-1]) for c in made]


def test_a_need_asks_each_of_its_positions() -> None:
    assert pairs(book({"need": {"plate": ["plate-2"]}})) == ["12", "22"]
    assert pairs(book({"need": {"block": ["block-1"], "plate": ["plate-2"]}})) == ["12"]


def test_a_need_with_a_condition_is_silent_where_it_fails() -> None:
    assert pairs(book({"when": {"block": ["block-1"]}, "need": {"plate": ["plate-2"]}})) == ["12", "21", "22"]


def test_a_never_bars_its_designs_only_together() -> None:
    assert pairs(book({"never": {"block": ["block-1"], "plate": ["plate-1"]}})) == ["12", "21", "22"]
    assert pairs(book({"never": {"block": ["block-1"]}})) == ["21", "22"]


def test_an_allow_lets_only_its_rows_stand() -> None:
    rule = {"allow": {"positions": ["block", "plate"], "rows": [["block-1", "plate-2"], ["block-2", "*"]]}}
    assert pairs(book(rule)) == ["12", "21", "22"]


def test_an_allow_without_rows_lets_nothing_stand() -> None:
    assert pairs(book({"allow": {"positions": ["block"], "rows": []}})) == []


def test_an_empty_position_satisfies_a_list_only_if_it_holds_none() -> None:
    assert pairs(book({"need": {"plate": ["plate-1"]}}, optional=True)) == ["11", "21"]
    assert pairs(book({"need": {"plate": ["plate-1", "none"]}}, optional=True)) == ["11", "1-", "21", "2-"]
    assert pairs(book({"when": {"plate": ["none"]}, "need": {"block": ["block-2"]}}, optional=True)) == [
        "11", "12", "21", "22", "2-"]  # fmt: skip
    assert pairs(book({"allow": {"positions": ["plate"], "rows": [["*"]]}}, optional=True)) == [
        "11", "12", "1-", "21", "22", "2-"]  # fmt: skip


def test_a_rule_that_everything_obeys_makes_no_table() -> None:
    assert tables(book({"need": {"block": ["block-1", "block-2"]}}), IN_E) == ()


def test_a_conflict_names_the_rules_that_meet_and_no_other() -> None:
    family = book({"never": {"plate": ["plate-1"], "block": ["block-2"]}}, {"need": {"block": ["block-1"]}},
                  {"need": {"block": ["block-2"]}})  # fmt: skip
    assert [table.code for table in fitting_of(family, IN_E).conflict()] == ["r1", "r2"]


def test_a_reason_says_what_the_book_says() -> None:
    family = book({"need": {"plate": ["plate-2"]}})
    (reason,) = reasons_against(family, IN_E, {"block": "block-1", "plate": "plate-1"})
    assert (reason.kind, reason.says, reason.code, reason.source) == ("rule", "reason 0", "r0", "bulletin 0")
    assert reasons_against(family, IN_E, {"block": "block-1"}) == []  # the plate is not spoken of
    (reason,) = reasons_against(book(), IN_E, {"plate": "none"})
    assert reason.says == "the unit does not run without its Plate"


def test_a_design_of_another_era_does_not_belong_in_the_unit() -> None:
    family = family_of({
        "era": [{"code": "e", "name": "the first era", "from": "2001-01", "to": "2001-12"},
                {"code": "f", "name": "F", "from": "2002-01"}],
        "position": [{"code": "block", "name": "Block", "lead": True}],
        "design": [{"code": "block-1", "position": "block", "name": "Block one", "fitted": ["f"]},
                   {"code": "block-2", "position": "block", "name": "Block two", "fitted": ["f"], "retrofits": ["e"]}],
    })  # fmt: skip
    assert list(fitting_of(family, IN_E).combinations()) == [{"block": "block-2"}]
    (reason,) = reasons_against(family, IN_E, {"block": "block-1"})
    assert reason.says == (
        "Block one does not belong in a unit of the first era: "
        "the factory did not fit it there, and the book does not let it go back in"
    )


def test_a_rule_asks_for_its_facts_only_where_its_parts_can_stand() -> None:
    family = book(
        {
            "when": {"lever": ["tap"], "block": ["block-2"], "era": ["e"], "vehicle_era": ["e"]},
            "need": {"plate": ["plate-2"]},
        }
    )
    lever = Fact(code="lever", ask="Which lever?", values=["gate", "tap"])
    family = family.model_copy(update={"facts": [lever]})
    assert asked(family, family.holds) == ("vehicle_era", "lever")
    assert asked(family, {**family.holds, "block": ("block-1",)}) == ()


def test_a_table_with_equal_rows_keeps_one() -> None:
    (table,) = tables(book({"allow": {"positions": ["block"], "rows": [["block-1"], ["block-1"]]}}), IN_E)
    assert table == Table("r0", "reason 0", "bulletin 0", ("block",), ((frozenset(["block-1"]),),))
