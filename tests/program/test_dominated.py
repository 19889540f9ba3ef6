"""Lines left out because another beats them in every plan: when they are, when they are not, and that no answer changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from decision.jobs import possible_problems

from program.tiny import sold, tiny
from sourcing.problem import Problem
from sourcing.program.ahead.dominated import without_dominated
from sourcing.program.answer import answer

FLAT = {"freight": [{"mode": "ground", "days": 2, "flat": 10}]}
SHOPS = range(900, 1000)


def two(one: float, other: float, terms: Mapping[str, Any] | None = None, **rest: Any) -> Problem:
    """A plate that supplier s sells at one price and supplier t at another."""
    sections = {name: rest.pop(name) for name in ("shop", "job", "found", "limits", "wanted") if name in rest}
    offers = [sold("s", "A", "plate-1", one, **rest), sold("t", "B", "plate-1", other)]
    return tiny(["plate"], ["plate-1"], offers, suppliers=terms or {"s": FLAT, "t": FLAT}, **sections)


def left(problem: Problem) -> list[str]:
    return [line.offer.part.number.spelt for line in without_dominated(problem).lines]


def test_a_part_goes_where_another_supplier_is_cheaper_by_more_than_an_order_costs() -> None:
    assert left(two(60, 49.99)) == ["B"]


def test_it_stays_where_the_saving_does_not_carry_the_order() -> None:
    assert left(two(60, 50)) == ["A", "B"]


def test_it_stays_where_its_price_may_earn_free_freight() -> None:
    free = {"freight": [{"mode": "ground", "days": 2, "flat": 10, "free_over": 50}]}
    assert left(two(60, 20, {"s": free, "t": FLAT})) == ["A", "B"]


def test_it_stays_where_its_order_must_reach_a_minimum() -> None:
    assert left(two(60, 20, {"s": {**FLAT, "order_minimum": 100}, "t": FLAT})) == ["A", "B"]


def test_it_stays_where_the_cheaper_one_does_not_reach_its_suppliers_minimum() -> None:
    assert left(two(60, 20, {"s": FLAT, "t": {**FLAT, "order_minimum": 21}})) == ["A", "B"]


def test_it_stays_where_its_core_may_bring_the_difference_back() -> None:
    found = {"plate": "plate-1"}
    assert left(two(40, 49, core_charge=30, found=found)) == ["A", "B"]
    assert left(two(40, 49, core_charge=30, found=found, job={"minimise": "cash"})) == ["B"]


def test_a_day_that_the_cheaper_one_comes_later_counts() -> None:
    slow = {"freight": [{"mode": "ground", "days": 4, "flat": 10}]}
    assert left(two(60, 49, {"s": FLAT, "t": slow}, shop={"day_cost": 5})) == ["A", "B"]
    assert left(two(60, 39, {"s": FLAT, "t": slow}, shop={"day_cost": 5})) == ["B"]


def test_another_supplier_is_none_where_their_number_is_limited() -> None:
    assert left(two(60, 20, limits={"max_suppliers": 1})) == ["A", "B"]


def test_nothing_goes_that_the_shelf_wants() -> None:
    assert left(two(60, 20, wanted=[{"design": "plate-1", "pieces": 2, "worth": 5}])) == ["A", "B"]


def test_nothing_goes_where_a_question_is_asked() -> None:
    problem = two(60, 20)
    assert left(problem.filled_by(0)) == ["A", "B"]
    assert left(problem.buying(0, 1)) == ["A", "B"]
    assert left(problem.below("cash", 10_000)) == ["A", "B"]


def test_in_the_same_order_no_freight_stands_in_the_way() -> None:
    offers = [sold("s", "A", "plate-1", 60), sold("s", "B", "plate-1", 59.99)]
    assert left(tiny(["plate"], ["plate-1"], offers, suppliers={"s": FLAT})) == ["B"]


@pytest.mark.parametrize("minimise", ["cash", "landed", "whole"])
@pytest.mark.parametrize("chunk", range(5))
def test_no_answer_of_a_random_shop_changes(chunk: int, minimise: str, tmp_path: Path) -> None:
    gone = 0
    for seed in SHOPS[chunk::5]:
        for problem in possible_problems(seed, tmp_path / str(seed), edges=seed % 2 == 0):
            head = problem.job.job.model_copy(update={"minimise": minimise})
            asked = replace(problem, job=problem.job.model_copy(update={"job": head}))
            fewer = without_dominated(asked)
            gone += len(asked.lines) - len(fewer.lines)
            one, other = answer(asked), answer(fewer)
            assert (one.choice, one.totals, one.orders) == (other.choice, other.totals, other.orders), seed
    assert gone > 5
