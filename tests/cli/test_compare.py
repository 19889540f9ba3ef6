"""`sourcing compare`: the fields of the contract, a break-even met from outside, what was asked for, exit codes."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from cli.conftest import Counter, Said

Run = Callable[..., Said]
BLOCKS = {f"block-{letter}" for letter in "abcde"}
SHEET = "price-sheets/quarry/2026-03-09.csv"
COIN = Decimal("0.01")


@pytest.fixture
def compared(counter: Counter, sourcing: Run) -> Callable[..., dict[str, Any]]:
    def run(job: str, *more: str, code: int = 0) -> dict[str, Any]:
        said = sourcing("compare", f"scenarios/{job}.toml", "--json", *more)
        assert (said.code, said.err) == (code, "")
        (line,) = said.out.splitlines()
        found: dict[str, Any] = json.loads(line)
        return found

    return run


@pytest.fixture
def two_suppliers(counter: Counter) -> str:
    """exact-block with the two suppliers that matter to it, so that fewer questions are asked."""
    counter.change(counter.job, "[limits]", '[limits]\nsuppliers = ["quarry", "harbour"]')
    return "exact-block"


def quoted(sourcing: Run, job: str, *more: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(sourcing("quote", f"scenarios/{job}.toml", "--json", *more).out)
    return found


Compared = Callable[..., dict[str, Any]]


@pytest.mark.parametrize("job", ["exact-block", "used-block-for-cash"])
def test_the_fields_are_those_of_the_contract_and_agree_with_the_quote(
    job: str, compared: Compared, sourcing: Run
) -> None:
    said, quote = compared(job), quoted(sourcing, job)
    assert {"job", "routes", "recommended", "break_even", "frontier"} <= set(said)
    assert said["job"] == quote["job"]
    assert {route["design"] for route in said["routes"]} == BLOCKS
    cheapest = said["routes"][0]
    assert cheapest["cost"] == quote["totals"][said["minimise"]]
    assert cheapest["design"] == said["cheapest"] == quote["combination"]["block"]
    for route in said["routes"]:
        assert {"design", "exact", "status", "cost", "more", "causes", "plan", "reasons"} <= set(route)
        assert isinstance(route["exact"], bool)
        if route["status"] == "impossible":
            assert route["cost"] is route["plan"] is route["more"] is None
            assert route["reasons"]
            continue
        assert route["plan"]["combination"]["block"] == route["design"]
        assert route["plan"]["totals"][said["minimise"]] == route["cost"]
        more = Decimal(route["cost"]) - Decimal(cheapest["cost"])
        assert Decimal(route["more"]) == more == sum(map(Decimal, route["causes"].values()))
        if said["minimise"] == "whole":
            assert set(route["causes"]) == set(quote["totals"]) - {"cash", "landed", "whole"}


def test_the_frontiers_end_where_the_quotes_options_do(two_suppliers: str, compared: Compared, sourcing: Run) -> None:
    said = compared(two_suppliers)
    quick, lasting = (quoted(sourcing, two_suppliers, option) for option in ("--soonest", "--most-durable"))
    first, last = said["frontier"][0], said["frontier"][-1]
    assert first["arrives"] == max(order["arrives"] for order in quick["freight"])
    assert first["cost"] == quick["totals"]["whole"]
    assert last["cost"] == said["routes"][0]["cost"]
    end = said["frontier_comebacks"][-1]
    assert (end["comebacks"], end["cost"]) == (lasting["totals"]["comebacks"], lasting["totals"]["whole"])
    for point, later in pairwise(said["frontier"]):
        assert date.fromisoformat(point["arrives"]) < date.fromisoformat(later["arrives"])
        assert Decimal(point["cost"]) > Decimal(later["cost"])
    for total in ("comebacks", "cash"):
        for point, after in pairwise(said[f"frontier_{total}"]):
            assert Decimal(point["cost"]) < Decimal(after["cost"])
            assert Decimal(point[total]) > Decimal(after[total])


def test_a_quote_made_at_both_ends_of_each_piece_costs_what_the_break_even_says(
    two_suppliers: str, compared: Compared, counter: Counter, sourcing: Run
) -> None:
    """The price in the supplier's own sheet is changed; the pair of screens stays on the order, or not."""
    (study,) = compared(two_suppliers, "--part", "quarry/QB-1200", "--from", "200", "--to", "300")["break_even"]
    assert (study["supplier"], study["part_number"], study["price"]) == ("quarry", "QB-1200", "269.00")
    pieces = study["pieces"]
    assert (pieces[0]["from"], pieces[-1]["to"]) == (study["from"], study["to"]) == ("200.00", "300.00")
    assert len(pieces) >= 4, "free freight is crossed, and another supplier's block wins in the end"
    for piece, after in pairwise(pieces):
        assert Decimal(after["from"]) == Decimal(piece["to"]) + COIN
    now = "$269.00"
    for piece in pieces:
        for end in ("from", "to"):
            counter.change(counter.catalogs / SHEET, now, f"${piece[end]}")
            now = f"${piece[end]}"
            quote = quoted(sourcing, two_suppliers)
            assert quote["totals"]["whole"] == piece[f"cost_at_{end}"], piece[end]
            equal = [
                p for p in pieces if p is not piece and piece[f"cost_at_{end}"] in (p["cost_at_from"], p["cost_at_to"])
            ]
            if not equal:
                assert quote["combination"]["block"] == piece["design"]
                assert ("QB-1200" in {p["part_number"] for p in quote["purchases"]}) == piece["uses_part"], piece[end]


def test_the_ask_of_a_losing_block_is_met_by_a_new_sheet(compared: Compared, counter: Counter, sourcing: Run) -> None:
    """The price is put into the supplier's own sheet, and then a coin more."""
    job = counter.folder / "scenarios" / "core-lost.toml"
    counter.change(job, "[limits]", '[limits]\nsuppliers = ["quarry", "birkental"]')
    said = compared("core-lost")
    (ask,) = [a for a in said["asks"] if (a["supplier"], a["part_number"]) == ("quarry", "QB-1200")]
    assert ask["price"] == "269.00" and Decimal(ask["wins_at"]) < Decimal("269.00")
    counter.change(counter.catalogs / SHEET, "$269.00", f"${ask['wins_at']}")
    won = quoted(sourcing, "core-lost")
    assert "QB-1200" in {p["part_number"] for p in won["purchases"]}
    assert Decimal(won["totals"]["whole"]) < Decimal(said["routes"][0]["cost"])
    counter.change(counter.catalogs / SHEET, f"${ask['wins_at']}", f"${Decimal(ask['wins_at']) + COIN}")
    assert quoted(sourcing, "core-lost")["totals"]["whole"] == said["routes"][0]["cost"]


def test_why_not_a_block_that_does_not_go_in_says_that_there_is_no_plan(two_suppliers: str, compared: Compared) -> None:
    none = compared(two_suppliers, "--why-not", "block-d")["why_not"]
    assert (none["status"], none["cost"], none["plan"]) == ("impossible", None, None)


def test_why_not_a_block_says_what_its_route_says(two_suppliers: str, compared: Compared) -> None:
    said = compared(two_suppliers, "--why-not", "block-c", "--best", "2")
    route = next(route for route in said["routes"] if route["design"] == "block-c")
    assert said["why_not"]["plan"]["combination"]["block"] == "block-c"
    assert {key: said["why_not"][key] for key in ("cost", "more", "causes")} == {
        key: route[key] for key in ("cost", "more", "causes")
    }
    assert len(said["best"]) == 2


def test_why_not_a_number_gives_the_best_plan_that_it_fills_and_best_gives_all_there_are(
    two_suppliers: str, compared: Compared
) -> None:
    said = compared(two_suppliers, "--why-not", "harbour/0041102", "--best", "100")
    told = said["why_not"]
    assert ("harbour", "0041102") in {(p["supplier"], p["part_number"]) for p in told["plan"]["purchases"]}
    more = Decimal(told["cost"]) - Decimal(said["routes"][0]["cost"])
    assert Decimal(told["more"]) == more == sum(map(Decimal, told["causes"].values())) > 0
    costs = [Decimal(plan["cost"]) for plan in said["best"]]
    assert costs == sorted(costs) and 2 < len(costs) < 100
    assert len({json.dumps(plan["plan"]["combination"]) for plan in said["best"]}) == len(costs)
    assert said["best"][0]["cost"] == said["routes"][0]["cost"]


def test_why_not_the_chosen_one_costs_nothing_more(two_suppliers: str, compared: Compared) -> None:
    said = compared(two_suppliers, "--why-not", "block-b")
    assert said["why_not"]["more"] == "0.00"
    assert "best" not in said, "only where somebody asks"


@pytest.mark.parametrize("job", ["promised-for-tomorrow", "nothing-crosses"])
def test_an_impossible_job_is_code_3_with_a_reason_for_each_route(job: str, compared: Compared, sourcing: Run) -> None:
    said = compared(job, "--best", "3", "--why-not", "block-b", code=3)
    assert said["recommended"] is said["cheapest"] is None
    assert {route["design"] for route in said["routes"]} == BLOCKS
    assert all(route["status"] == "impossible" and route["reasons"] for route in said["routes"])
    assert said["break_even"] == said["asks"] == said["frontier"] == []
    told = sourcing("compare", f"scenarios/{job}.toml")
    assert (told.code, told.err) == (3, "")
    on_one_line = " ".join(told.out.split())
    assert all(route["reasons"][0]["says"] in on_one_line for route in said["routes"])
    assert said["easings"] and all(easing["eased"] in on_one_line for easing in said["easings"])


def test_an_open_job_is_code_5_and_says_what_to_ask(compared: Compared, sourcing: Run) -> None:
    said = compared("read-the-label-first", code=5)
    assert (said["status"], said["combination"]) == ("open", {})
    assert [reason["kind"] for reason in said["reasons"]] == ["fact"]
    told = sourcing("compare", "scenarios/read-the-label-first.toml")
    assert (told.code, told.err) == (5, "")
    assert said["reasons"][0]["says"] in told.out


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (["--why-not", "block-z"], ["--why-not", "block-z", "quarry/QB-1200"]),
        (["--why-not", "quarry/QB-9999"], ["--why-not", "quarry/QB-9999"]),
        (["--why-not", "quarry/QB-1100"], ["--why-not", "out of stock"]),
        (["--part", "nobody/QB-1200"], ["--part", "nobody/QB-1200"]),
        (["--part", "QB-1200"], ["--part", "QB-1200"]),
        (["--part", "quarry/QB-1200", "--from", "dear"], ["--from", "dear"]),
        (["--part", "quarry/QB-1200", "--from", "nan"], ["--from", "nan"]),
        (["--part", "quarry/QB-1200", "--to=-1"], ["--to", "-1"]),
        (["--part", "quarry/QB-1200", "--from", "300", "--to", "200"], ["--from", "300", "200"]),
    ],
    ids=lambda words: " ".join(words) if words[0].startswith("--") else "",
)
def test_what_nobody_sells_and_what_is_no_price_is_code_2(
    words: list[str], names: list[str], counter: Counter, sourcing: Run
) -> None:
    said = sourcing("compare", "scenarios/exact-block.toml", *words)
    assert (said.code, said.out) == (2, "")
    assert all(name in said.err for name in names), said.err


@pytest.mark.parametrize("words", [["not-there.toml"], [], ["scenarios/exact-block.toml", "--best", "-1"]], ids=str)
def test_wrong_usage_is_code_2(words: list[str], counter: Counter, sourcing: Run) -> None:
    said = sourcing("compare", *words)
    assert (said.code, said.out) == (2, "")
    assert said.err


def test_a_comparison_is_told_on_the_screen_and_writes_no_file(
    two_suppliers: str, counter: Counter, process: Run
) -> None:
    before = counter.files()
    said = process("compare", counter.job, "--why-not", "harbour/0041102", "--best", "2")
    assert (said.code, said.err) == (0, "")
    for told in ("542.29", "QB-1200", "558.44", "574.93", "0041102"):
        assert told in said.out, told
    assert counter.files() == before
