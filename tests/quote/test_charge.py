"""What the customer pays, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from quote.hand import Opened, block_and_screen, chosen
from sourcing.plan import Plan, Status
from sourcing.quote.charge import charge


def test_a_quote_adds_up_as_on_paper(opened: Opened) -> None:
    charged = charge(block_and_screen(opened()))
    # block 250.00 x 1.45 = 362.50 (a cost equal to up_to still falls into its step)
    # screens: EUR 10.00 and 9.00 are 11.00 and 9.90; 2 x 11.00 + 3 x 9.90 = 51.70, a piece 10.34, x 1.755 = 18.1467
    prices = {part.positions: (part.cost_cents, part.price_cents, part.pieces) for part in charged.parts}
    assert prices == {("block",): (25000, 36250, 1), ("plate",): (0, 0, 1), ("screen",): (1034, 1815, 1)}
    assert charged.labour_cents == 102654  # 10.8 h x 95.05
    assert charged.materials_cents == 955
    assert charged.supplies_cents == 4000  # 4.5 % are 46.19, the cap is 40.00
    assert charged.cores_cents == 800  # 80.00 less 90 % of it
    assert (charged.freight_cents, charged.core_return_cents) == (1250, 1200)  # 10.00 + 2.5 kg x 1.00; once for nrth
    # goods 362.50 + 18.15 + 9.55 + 8.00 + 40.00 = 438.20
    assert charged.tax_parts_cents == 3889  # 438.20 x 0.08875 = 38.89025
    assert charged.tax_labour_cents == 3080  # 1026.54 x 0.03 = 30.7962
    assert charged.before_tax_cents == 148924  # 438.20 + 1026.54 + 12.50 + 12.00
    assert charged.total_cents == 155893
    # margin: 1489.24 - landed (250.00 + 51.70 + 80.00 + 12.50 - 72.00 + 12.00) - works (32.00 + 9.55) - rebuild 400.00
    assert charged.margin_cents == 148924 - 33420 - 4155 - 40000


def test_the_quote_ends_with_the_first_price_that_ends(opened: Opened) -> None:
    assert charge(block_and_screen(opened())).stands_until == date(2026, 3, 20)
    assert charge(block_and_screen(opened(("quote_days = 30", "quote_days = 5")))).stands_until == date(2026, 3, 7)
    only_screens = chosen(opened(), {"S-1": 5}, {"screen": "S-1"})  # nothing bought from the row that ends on the 20th
    assert charge(only_screens).stands_until == date(2026, 4, 1)


def test_a_kit_is_one_line_and_its_whole_core_is_charged_when_nothing_goes_back(opened: Opened) -> None:
    charged = charge(chosen(opened(), {"K-9": 1}, {"block": "K-9", "plate": "K-9"}))
    kit = charged.parts[0]
    assert (kit.positions, kit.pieces, kit.price_cents) == (("block", "plate"), 1, 50700)  # 390.00 x 1.30
    assert charged.cores_cents == 8000


def test_a_kit_of_which_half_is_used_is_charged_whole(opened: Opened) -> None:
    charged = charge(chosen(opened(), {"K-9": 1}, {"block": "K-9"}))
    assert [part.amount_cents for part in charged.parts] == [50700, 0, 0]


def test_a_core_that_comes_back_whole_costs_nothing(opened: Opened) -> None:
    problem = opened(("core_recovery = 0.9", "core_recovery = 1"))
    assert charge(block_and_screen(problem)).cores == ()


def test_everything_kept_costs_labour_and_supplies_only(opened: Opened) -> None:
    charged = charge(chosen(opened(), {}, {}))
    assert charged.parts_cents == charged.freight_cents == charged.cores_cents == 0
    assert charged.labour_cents == 95050
    assert charged.before_tax_cents == 95050 + 4000


def test_without_steps_or_cap_parts_are_charged_at_cost_and_supplies_in_full(opened: Opened) -> None:
    problem = opened(
        ("markup = [{up_to = 10.34, factor = 1.755}, {up_to = 250, factor = 1.45}, {factor = 1.30}]", ""),
        (", cap = 40.00", ""),
    )
    charged = charge(block_and_screen(problem))
    assert [part.price_cents for part in charged.parts] == [25000, 0, 1034]
    assert charged.supplies_cents == 4619  # 1026.54 x 0.045 = 46.1943


@pytest.mark.parametrize(("rate", "cents"), [("0.05", 54), ("0.15", 162), ("100.05", 108054)])
def test_half_a_cent_is_rounded_up(opened: Opened, rate: str, cents: int) -> None:
    assert charge(block_and_screen(opened(("labour_rate = 95.05", f"labour_rate = {rate}")))).labour_cents == cents


def test_a_labour_of_half_a_cent_is_rounded_up(opened: Opened) -> None:
    problem = opened(("labour_rate = 95.05", "labour_rate = 1.01"), ("base_hours = 10", "base_hours = 0.5"))
    charged = charge(chosen(problem, {}, {}))
    assert charged.labour_cents == 51  # 0.505
    assert charged.hours == Decimal("0.5")


def test_there_is_no_charge_without_a_plan(opened: Opened) -> None:
    with pytest.raises(ValueError, match="no plan to charge for"):
        charge(Plan(opened(), Status.IMPOSSIBLE))


def test_the_status_does_not_change_the_price(opened: Opened) -> None:
    plan = block_and_screen(opened())
    assert charge(replace(plan, status=Status.BEST_FOUND)) == charge(plan)
