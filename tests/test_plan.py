"""Plans priced by arithmetic done by hand; no solver in sight."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from program.tiny import Table, chosen, sold, tiny

from sourcing.breaches import breaches
from sourcing.plan import Return, Status, Totals, left_over, orders_of, plan_of, price

BLOCK = {"block": "block-1"}


def one(price_: Any, quantity: int = 1, supplier: Table | None = None, shop: Table | None = None, **row: Any) -> Totals:
    """The totals of buying so many of one block, which fills the block."""
    breaks = row.pop("breaks", None)
    sections = {name: row.pop(name) for name in ("found", "limits", "wanted", "tasks", "job") if name in row}
    design = {"code": "block-1", **row.pop("design", {})}
    problem = tiny(["block"], [design], [sold("s", "A", "block-1", price_, breaks, **row)],
                   suppliers={"s": supplier or {}}, shop=shop, **sections)  # fmt: skip
    return price(problem, chosen(problem, BLOCK, {"A": quantity}, fills={"block": "A"}))[0]


# Prices


def test_a_price_is_rounded_to_the_cent_halves_up_before_it_is_multiplied() -> None:
    assert one("10.005", 3).parts == 30_03  # 3 x 10.01, not 30.015
    assert one("10.004", 3).parts == 30_00


def test_a_foreign_price_is_rounded_in_its_own_money_then_converted_and_rounded_again() -> None:
    shop = {"fx": {"CAD": "0.7315"}}
    # 10.005 CAD -> 10.01 CAD -> 7.322315 -> 7.32; three pieces 21.96.
    assert one("10.005", 3, {"currency": "CAD"}, shop).parts == 21_96


def test_a_currency_without_hundredths_is_rounded_to_its_own_coin() -> None:
    # 1234.5 JPY -> 1235 JPY -> x 0.0065 = 8.0275 -> 8.03.
    assert one("1234.5", 1, {"currency": "JPY"}, {"fx": {"JPY": "0.0065"}}).parts == 8_03


def test_all_pieces_cost_the_break_that_their_number_reaches() -> None:
    breaks = {5: "9.00", 10: "8.50"}
    assert [one(10, n, breaks=breaks).parts for n in (1, 4, 5, 9, 10)] == [10_00, 40_00, 45_00, 81_00, 85_00]


def test_a_dearer_break_holds_too() -> None:
    assert one(10, 5, breaks={5: 11}).parts == 55_00


def test_incremental_breaks_price_each_piece_at_its_own_step() -> None:
    breaks = {3: 8, 5: 6}
    # 2 x 10, then 2 x 8, then 6 each: 20 + 16 + 6.
    said = [one(10, n, {"breaks": "incremental"}, breaks=breaks).parts for n in (1, 2, 3, 4, 5, 6)]
    assert said == [10_00, 20_00, 28_00, 36_00, 42_00, 48_00]


def test_incremental_breaks_are_converted_step_by_step() -> None:
    # 0.995 -> 1.00 EUR -> 1.11; 0.50 EUR -> 0.555 -> 0.56: 1.11 + 2 x 0.56.
    totals = one("0.995", 3, {"currency": "EUR", "breaks": "incremental"}, {"fx": {"EUR": "1.11"}}, breaks={2: "0.50"})
    assert totals.parts == 2_23


# Freight


def test_freight_is_flat_and_by_the_weight_of_each_piece_rounded() -> None:
    # 1.235 kg x 2.50 = 3.0875 -> 3.09 a piece: 10 + 3 x 3.09.
    supplier = {"freight": [{"mode": "g", "days": 2, "flat": 10, "per_kg": "2.50"}]}
    assert one(5, 3, supplier, design={"weight_kg": "1.235"}).freight == 19_27


def test_a_kit_weighs_the_sum_of_its_designs_and_a_double_one_twice() -> None:
    problem = tiny(["block", "plate"], [{"code": "block-1", "weight_kg": 2}, {"code": "plate-1", "weight_kg": "0.5"}],
                   [sold("s", "K", "block-1 + plate-1 + plate-1", 50)],
                   suppliers={"s": {"freight": [{"mode": "g", "days": 0, "per_kg": 1}]}})  # fmt: skip
    choice = chosen(problem, {"block": "block-1", "plate": "plate-1"}, {"K": 1}, fills={"block": "K", "plate": "K"})
    assert price(problem, choice)[0].freight == 3_00
    assert left_over(problem, choice) == {"block-1": 0, "plate-1": 1}


def test_foreign_freight_is_converted_piece_by_piece() -> None:
    # per_kg 1.005 -> 1.01 CAD -> 0.7373 -> 0.74; x 1.5 kg = 1.11; flat 3.333 -> 3.33 CAD -> 2.43.
    supplier = {"currency": "CAD", "freight": [{"mode": "g", "days": 0, "flat": "3.333", "per_kg": "1.005"}]}
    assert one(1, 2, supplier, {"fx": {"CAD": "0.73"}}, design={"weight_kg": "1.5"}).freight == 2_43 + 2 * 1_11


@pytest.mark.parametrize(("threshold", "freight"), [("30.00", 0), ("30.01", 7_00), ("0", 0)])
def test_freight_is_waived_from_the_threshold_on(threshold: str, freight: int) -> None:
    assert one(10, 3, {"freight": [{"mode": "g", "days": 0, "flat": 7, "free_over": threshold}]}).freight == freight


def test_a_threshold_is_tested_on_the_suppliers_own_prices() -> None:
    supplier = {"currency": "CAD", "freight": [{"mode": "g", "days": 0, "flat": 8, "free_over": 30}]}
    assert one(10, 3, supplier, {"fx": {"CAD": "0.75"}}).freight == 0  # 30.00 CAD, though 22.50 in the shop's money


def test_core_charges_do_not_count_towards_a_threshold() -> None:
    supplier = {"freight": [{"mode": "g", "days": 0, "flat": 7, "free_over": 12}]}
    assert one(10, 1, supplier, core_charge=5).freight == 7_00


def test_each_mode_of_a_supplier_is_an_order_of_its_own() -> None:
    modes = [{"mode": "air", "days": 1, "flat": 9, "free_over": 30}, {"mode": "ground", "days": 4, "flat": 2}]
    problem = tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 10)], suppliers={"s": {"freight": modes}},
                   wanted=[{"design": "block-1", "pieces": 3, "worth": 1}])  # fmt: skip
    choice = chosen(problem, BLOCK, {("A", "air"): 2, ("A", "ground"): 1}, fills={"block": "A"})
    orders = orders_of(problem.terms, choice.purchases)
    assert [(o.mode, o.subtotal_minor, o.freight_cents, o.arrives.day) for o in orders] == [
        ("air", 20_00, 9_00, 3), ("ground", 10_00, 2_00, 6)]  # fmt: skip
    assert breaches(problem, choice) == []


# Cores


def test_a_core_credit_is_a_share_of_the_charge_rounded_for_each_core() -> None:
    problem = tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 50, core_charge="33.35")],
                   suppliers={"s": {"core_recovery": "0.9", "core_return_cost": "4.995"}}, found=BLOCK)  # fmt: skip
    totals, _, _ = price(problem, chosen(problem, BLOCK, {"A": 1}, fills={"block": "A"}, returns={"block": "A"}))
    # 33.35 x 0.9 = 30.015 -> 30.02; sending 4.995 -> 5.00.
    assert (totals.core_charges, totals.core_credit, totals.core_return) == (33_35, 30_02, 5_00)
    assert (totals.cash, totals.landed) == (83_35, 58_33)  # 50 + 33.35; less 30.02 plus 5.00


def test_core_charges_are_paid_for_every_piece() -> None:
    assert one(10, 3, core_charge=4).core_charges == 12_00


# Labour, comebacks, waiting, shelf


def test_labour_is_rounded_for_each_task_at_what_an_hour_costs_the_shop() -> None:
    tasks = [
        {"hours": "0.35", "cost": "1.50"},
        {"hours": "0.35", "replacing": ["block"]},
        {"hours": 9, "when": {"era": ["e"]}, "replacing": []},
    ]
    # 0.35 x 33.50 = 11.725 -> 11.73; with 1.50: 13.225 -> 13.23; the third replaces nothing.
    assert one(10, tasks=tasks, shop={"labour_rate": 90, "labour_cost": "33.5"}).labour == 13_23 + 11_73


def test_labour_costs_what_is_charged_where_the_shop_says_nothing_else() -> None:
    assert one(10, tasks=[{"hours": "0.5"}], shop={"labour_rate": 90}).labour == 45_00


def test_a_comeback_rate_is_exact_and_rounded_once() -> None:
    # 3/41 x 300.00 = 21.9512 -> 21.95; the part's own rate goes first.
    shop = {"comeback_cost": 300}
    assert one(10, design={"comeback_rate": "3/41"}, shop=shop).comebacks == 21_95
    assert one(10, design={"comeback_rate": "3/41"}, shop=shop, comeback_rate="0.01").comebacks == 3_00


def test_a_kept_part_comes_back_at_its_own_rate_and_the_position_may_have_its_own_cost() -> None:
    def kept(**rates: str) -> int:
        problem = tiny([{"code": "block", "comeback_cost": 200}], [{"code": "block-1", **rates}], shop={"comeback_cost": 300},
                       found=BLOCK, limits={"keep": ["block"]})  # fmt: skip
        return price(problem, chosen(problem, BLOCK, kept=["block"]))[0].comebacks

    assert kept(comeback_rate="0.1", kept_comeback_rate="0.25") == 50_00
    assert kept(comeback_rate="0.1") == 20_00


def test_a_kit_counts_its_rate_at_each_position_that_it_fills() -> None:
    problem = tiny(["block", "plate"], ["block-1", "plate-1"],
                   [sold("s", "K", "block-1 + plate-1", 50, comeback_rate="0.05")], shop={"comeback_cost": 100})  # fmt: skip
    choice = chosen(problem, {"block": "block-1", "plate": "plate-1"}, {"K": 1}, fills={"block": "K", "plate": "K"})
    assert price(problem, choice)[0].comebacks == 10_00


def test_waiting_is_paid_for_the_working_days_to_the_last_arrival() -> None:
    supplier = {"lead_days": 2, "freight": [{"mode": "g", "days": 3}]}
    assert one(10, 1, supplier, {"day_cost": "12.50"}).waiting == 62_50
    assert one(10, 1, supplier, {"day_cost": "12.50"}, lead_days=0).waiting == 37_50  # the sheet's own days go first


def test_a_job_on_a_holiday_weekend_begins_on_the_next_working_day() -> None:
    # Saturday the 7th; Monday the 9th is a holiday: the count starts on the 10th.
    problem = tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 10, lead_days=3)],
                   shop={"holidays": ["2026-03-09"], "day_cost": 1}, job={"date": "2026-03-07"})  # fmt: skip
    choice = chosen(problem, BLOCK, {"A": 1}, fills={"block": "A"})
    assert orders_of(problem.terms, choice.purchases)[0].arrives == date(2026, 3, 13)
    assert price(problem, choice)[0].waiting == 3_00


def test_nothing_bought_waits_for_nothing() -> None:
    problem = tiny(["block"], ["block-1"], shop={"day_cost": 99}, found=BLOCK, limits={"keep": ["block"]})
    assert price(problem, chosen(problem, BLOCK, kept=["block"]))[0] == Totals()


def test_the_shelf_counts_pieces_that_no_position_uses_up_to_what_is_wanted() -> None:
    def shelf(quantity: int) -> int:
        return one(10, quantity, wanted=[{"design": "block-1", "pieces": 2, "worth": "6.50"}]).shelf

    assert [shelf(n) for n in (1, 2, 3)] == [0, 6_50, 13_00]


def test_the_jobs_wanted_list_replaces_the_shops_and_other_families_are_passed_over() -> None:
    shop = {
        "wanted": [{"design": "block-1", "pieces": 1, "worth": 5}, {"design": "elsewhere", "pieces": 1, "worth": 9}]
    }
    assert one(10, 2, shop=shop).shelf == 5_00
    assert one(10, 2, shop=shop, wanted=[]).shelf == 0


def test_the_three_sums_are_sums_of_their_parts() -> None:
    totals = Totals(
        parts=1,
        core_charges=2,
        core_credit=4,
        freight=8,
        core_return=16,
        labour=32,
        comebacks=64,
        waiting=128,
        shelf=256,
    )
    assert (totals.cash, totals.landed, totals.whole) == (11, 23, -9)


def test_a_plan_costs_what_its_job_minimises() -> None:
    for name, cost in (("cash", 14_00), ("landed", 10_00), ("whole", 55_00)):
        problem = tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 10, core_charge=4)], found=BLOCK,
                       tasks=[{"hours": "0.5"}], shop={"labour_rate": 90}, job={"minimise": name})  # fmt: skip
        choice = chosen(problem, BLOCK, {"A": 1}, fills={"block": "A"}, returns={"block": "A"})
        assert plan_of(problem, choice, Status.BEST_FOUND, proof=None).cost == cost  # type: ignore[arg-type]


def test_returns_are_told_apart_by_their_keys() -> None:
    assert Return("block", "block-1", 2).key == ("block-1", 2)
