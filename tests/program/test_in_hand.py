"""Parts in hand and the optional terms of suppliers: what is counted, done in the head."""

from __future__ import annotations

from typing import Any

import pytest

from program.tiny import sold, tiny
from sourcing.breaches import breaches
from sourcing.plan import Plan, Status, price
from sourcing.problem import Problem
from sourcing.program.answer import answer

BLOCKS = ["block-1", "block-2"]


def proven(problem: Problem) -> Plan:
    plan = answer(problem)
    assert plan.status == Status.PROVEN and plan.choice is not None
    assert breaches(problem, plan.choice) == []
    assert price(problem, plan.choice)[0] == plan.totals
    return plan


def here(source: str, design: str = "block-1", **said: Any) -> dict[str, Any]:
    return {"block": {"design": design, "source": source, **said}}


def test_a_part_in_hand_fills_its_position_for_nothing_and_buys_nothing() -> None:
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 100)], in_hand=here("shelf")))
    assert plan.choice is not None
    assert (plan.choice.in_hand, plan.choice.purchases, plan.totals.whole) == (("block",), (), 0)


def test_a_part_in_hand_fills_its_position_at_its_cost() -> None:
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 100)], in_hand=here("shelf", cost="60.50")))
    assert (plan.totals.parts, plan.totals.cash) == (60_50, 60_50)


def test_a_shelf_part_that_costs_more_than_a_bought_one_stays_on_the_shelf() -> None:
    wanted = [{"design": "block-1", "pieces": 1, "worth": 30}]
    plan = proven(
        tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 50)], in_hand=here("shelf", cost=60), wanted=wanted)
    )
    # It lay there before, so it brings nothing to the shelf: 50.00 for the other one.
    assert (plan.totals.parts, plan.totals.shelf) == (50_00, 0)


def test_the_wrong_box_is_left_over_and_worth_what_it_is_wanted_for() -> None:
    # block-2 came for 80.00 and fits nothing here: 80.00 paid, 100.00 for the right one, 30.00 on the shelf.
    designs = ["block-1", {"code": "block-2", "fitted": []}]
    wanted = [{"design": "block-2", "pieces": 1, "worth": 30}]
    plan = proven(tiny(["block"], designs, [sold("s", "A", "block-1", 100)],
                       in_hand=here("received", "block-2", cost=80), wanted=wanted))  # fmt: skip
    assert (plan.totals.parts, plan.totals.shelf, plan.totals.whole) == (180_00, 30_00, 150_00)
    assert "in hand: the block block-2 fills nothing: no valid plan holds it there" in plan.problem.notes


def test_a_core_goes_back_against_a_received_part_whose_charge_is_paid() -> None:
    # The charge of 40.00 is paid and not counted again; 0.5 of it comes back, and sending it costs 5.00.
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 100, core_charge=40, stock=0)],
                       suppliers={"s": {"core_recovery": "0.5", "core_return_cost": 5}}, found={"block": "block-1"},
                       in_hand=here("received", supplier="s", part_number="a", cost=100)))  # fmt: skip
    t = plan.totals
    assert (t.parts, t.core_charges, t.core_credit, t.core_return, t.landed) == (100_00, 0, 20_00, 5_00, 85_00)


@pytest.mark.parametrize(("came", "credit"), [("2026-02-20", 40_00), ("2026-02-19", 0)])
def test_a_core_comes_too_late_after_core_days(came: str, credit: int) -> None:
    # The job's day is 2 March 2026; ten calendar days before it was 20 February.
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 100, core_charge=40)],
                       suppliers={"s": {"core_days": 10}}, found={"block": "block-1"},
                       in_hand=here("received", supplier="s", part_number="A", came=came)))  # fmt: skip
    assert plan.totals.core_credit == credit


@pytest.mark.parametrize(("came", "parts"), [("2026-02-20", 60_00), ("2026-02-19", 150_00)])
def test_a_part_goes_back_only_within_return_days(came: str, parts: int) -> None:
    # block-1 came but block-2 is asked for (50.00): sent back, 10.00 of 100.00 stays with s; later all of it does.
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "B", "block-2", 50)], limits={"require": ["block-2"]},
                       suppliers={"s": {"return_days": 10, "restock_share": "0.1"}},
                       in_hand=here("received", supplier="s", came=came, cost=100)))  # fmt: skip
    assert plan.totals.parts == parts


def test_a_part_that_goes_back_takes_its_core_charge_with_it() -> None:
    plan = proven(tiny(["block"], BLOCKS, [sold("s", "A", "block-1", 100, core_charge=40), sold("t", "B", "block-2", 50)],
                       limits={"require": ["block-2"]}, suppliers={"s": {"return_days": 0}},
                       found={"block": "block-1"}, in_hand=here("received", supplier="s", part_number="A", cost=100)))  # fmt: skip
    # Nothing of the price stays with s, 40.00 of core charge comes back; its core then goes nowhere. B costs 50.00.
    assert plan.choice is not None and plan.choice.sent_back == ("block",)
    assert (plan.totals.parts, plan.totals.core_charges, plan.totals.core_credit) == (50_00, -40_00, 0)


def test_a_part_in_hand_makes_the_work_due_that_a_bought_one_would() -> None:
    plan = proven(tiny(["block"], BLOCKS, [], in_hand=here("customer"), tasks=[{"hours": 1, "replacing": ["block"]}],
                       shop={"labour_rate": 80}))  # fmt: skip
    assert plan.totals.labour == 80_00


def test_a_customers_part_counts_its_designs_comebacks_whatever_box_it_came_in() -> None:
    designs = [{"code": "block-1", "comeback_rate": "1/10", "kept_comeback_rate": "1/2"}]
    offers = [sold("s", "A", "block-1", 100, comeback_rate="1/4")]
    sections = {"shop": {"comeback_cost": 500}, "job": {"minimise": "landed"}}
    named = {"supplier": "s", "part_number": "A"}
    assert (
        proven(tiny(["block"], designs, offers, in_hand=here("customer", **named), **sections)).totals.comebacks
        == 50_00
    )
    assert (
        proven(tiny(["block"], designs, offers, in_hand=here("shelf", **named), **sections)).totals.comebacks == 125_00
    )


def test_a_used_part_in_hand_does_not_fill_what_takes_no_used_part() -> None:
    plan = proven(tiny([{"code": "block", "conditions": ["new"]}], BLOCKS,
                       [sold("s", "A", "block-1", 9, condition="used"), sold("s", "B", "block-1", 100)],
                       in_hand=here("shelf", supplier="s", part_number="A")))  # fmt: skip
    assert plan.totals.parts == 100_00
    assert any("is used, which its position does not take" in note for note in plan.problem.notes)


def test_a_kit_in_hand_is_one_piece_for_its_cores() -> None:
    kit = {"source": "received", "supplier": "s", "part_number": "K"}
    plan = proven(tiny(["block", "plate"], ["block-1", "plate-1"],
                       [sold("s", "K", "block-1 + plate-1", 100, core_charge=40)], suppliers={"s": {"return_days": 9}},
                       found={"block": "block-1", "plate": "plate-1"},
                       in_hand={"block": {"design": "block-1", **kit}, "plate": {"design": "plate-1", **kit}}))  # fmt: skip
    assert plan.totals.core_credit == 40_00


def test_an_order_fee_is_paid_once_an_order_also_where_freight_is_free() -> None:
    offers = [sold("s", "A", "block-1", 100), sold("s", "B", "plate-1", 10)]
    freight = [{"mode": "ground", "days": 0, "flat": 8, "free_over": 110}]
    both = tiny(
        ["block", "plate"], ["block-1", "plate-1"], offers, suppliers={"s": {"order_fee": 3, "freight": freight}}
    )
    one = tiny(["block"], ["block-1"], offers[:1], suppliers={"s": {"order_fee": 3, "freight": freight}})
    assert (proven(both).totals.freight, proven(one).totals.freight) == (3_00, 11_00)


def test_an_order_fee_sends_the_order_elsewhere() -> None:
    offers = [sold("s", "A", "block-1", 100), sold("t", "B", "block-1", 102)]
    assert proven(tiny(["block"], BLOCKS, offers, suppliers={"s": {"order_fee": 3}})).cost == 102_00
    assert proven(tiny(["block"], BLOCKS, offers, suppliers={"s": {"order_fee": "1.99"}})).cost == 101_99


def test_a_number_that_cannot_be_had_is_bought_by_no_plan_and_says_why() -> None:
    offers = [sold("s", "A-1", "block-1", 50), sold("t", "B", "block-1", 100)]
    plan = proven(tiny(["block"], BLOCKS, offers, limits={"unavailable": ["s/a 1"]}))
    assert plan.totals.parts == 100_00
    assert any("limits unavailable says that it cannot be had now" in reason.says for reason in plan.reasons)
