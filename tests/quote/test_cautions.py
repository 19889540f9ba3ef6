"""Cautions hang on what the plan changes."""

from __future__ import annotations

from quote.hand import Opened, block_and_screen, chosen
from sourcing.plan import Plan, Status
from sourcing.quote.cautions import cautions, tied_to_lead


def codes(plan: Plan) -> list[str]:
    return [caution.code for caution in cautions(plan)]


ALWAYS = ["supported-loads", "hot-fluid", "battery", "fluid-disposal", "who-decides"]


def test_a_block_replaced_calls_for_the_start_check_first(opened: Opened) -> None:
    plan = block_and_screen(opened())
    assert codes(plan) == ["start-in-gear", "pair", "fit", *ALWAYS]
    says = cautions(plan)[0].says
    assert says.startswith("Solenoid block is changed.")
    assert "park and neutral" in says and "range display" in says and "programming" in says


def test_the_plate_counts_because_a_rule_ties_it_to_the_block(opened: Opened) -> None:
    assert tied_to_lead(opened().family) == {"block", "plate"}
    plan = chosen(opened(), {"K-9": 1}, {"plate": "K-9"})
    assert cautions(plan)[0].says.startswith("Range plate is changed.")


def test_a_screen_alone_calls_for_no_start_check(opened: Opened) -> None:
    assert codes(chosen(opened(), {"S-1": 5}, {"screen": "S-1"})) == ["pair", *ALWAYS]


def test_a_rule_that_may_hold_warns_while_its_fact_is_open(opened: Opened) -> None:
    assert "tap" in codes(block_and_screen(opened(('facts = {lever = "gate"}', ""))))
    assert "tap" in codes(block_and_screen(opened(('lever = "gate"', 'lever = "tap"'))))


def test_the_same_words_are_said_once(opened: Opened) -> None:
    assert codes(block_and_screen(opened(("Torque in order.", "Look at the tracks first.")))).count("fit") == 0


def test_every_plan_defers_to_the_maker_and_the_law(opened: Opened) -> None:
    last = cautions(chosen(opened(), {}, {}))[-1]
    assert all(words in last.says for words in ("maker's service information", "local codes", "licensed practice"))


def test_no_plan_no_cautions(opened: Opened) -> None:
    assert cautions(Plan(opened(), Status.IMPOSSIBLE)) == ()
