"""`--json`: one object a line, a line a job, with the fields of the contract and nothing beside them on the line."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from demofolder import ROOT

from cli.conftest import Counter, Said

FIELDS = {"job", "status", "era", "combination", "kept", "purchases", "freight", "core_returns", "tasks", "totals", "proof",
          "reasons"}  # fmt: skip
PURCHASE = {"supplier", "mode", "part_number", "fills", "quantity", "unit_price", "core_charge", "left_over", "source"}
TOTALS = {"parts", "core_charges", "core_credit", "freight", "core_return", "labour", "comebacks", "waiting", "shelf",
          "cash", "landed", "whole"}  # fmt: skip
# Ours, beside the contract's: `notes` says what was passed over, `confirm_stock` that a stock was not stated, `in_hand` what
# becomes of the parts that are here already (only where a job has some).
MORE, MORE_OF_A_PURCHASE = {"notes"}, {"line_total", "confirm_stock"}
MONEY = re.compile(r"-?\d+\.\d\d")
JOBS = sorted(path.stem for path in (ROOT / "scenarios").glob("*.toml"))


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """The demo's answers by job, told in one run."""
    import subprocess

    from demofolder import command, environment

    jobs = [ROOT / "scenarios" / f"{job}.toml" for job in JOBS]
    words = command("quote", "--json", "--catalogs", ROOT / "catalogs", *jobs)
    folder = tmp_path_factory.mktemp("away")
    done = subprocess.run(words, capture_output=True, encoding="utf-8", env=environment(), cwd=folder, check=False)
    assert done.returncode == 3, done.stderr
    assert not list(folder.iterdir()), "--json writes nothing where --out does not say so"
    lines = done.stdout.splitlines()
    assert len(lines) == len(JOBS)
    return dict(zip(JOBS, map(json.loads, lines), strict=True))


@pytest.fixture(params=JOBS)
def answer(request: pytest.FixtureRequest, answers: dict[str, dict[str, Any]]) -> dict[str, Any]:
    return answers[request.param]


def is_money(value: object) -> bool:
    return isinstance(value, str) and MONEY.fullmatch(value) is not None


def test_the_fields_are_those_of_the_contract(answer: dict[str, Any]) -> None:
    assert set(answer) - {"in_hand"} == FIELDS | MORE
    assert ("in_hand" in answer) == (answer["job"] in ("1103", "1104"))
    for part in answer.get("in_hand", []):
        assert {"position", "design", "source", "becomes", "cost"} <= set(part)
        assert is_money(part["cost"])
    for purchase in answer["purchases"]:
        assert PURCHASE <= set(purchase) <= PURCHASE | MORE_OF_A_PURCHASE
        assert set(purchase["source"]) == {"file", "sheet", "row", "date"}
        assert is_money(purchase["unit_price"]) and is_money(purchase["core_charge"])
        date.fromisoformat(purchase["source"]["date"])
    for order in answer["freight"]:
        assert set(order) == {"supplier", "mode", "cost", "arrives"}
        assert is_money(order["cost"])
        date.fromisoformat(order["arrives"])
    for back in answer["core_returns"]:
        assert set(back) == {"design", "supplier", "part_number", "credit"}
        assert is_money(back["credit"])
    for task in answer["tasks"]:
        assert set(task) == {"code", "hours", "cost"}
        assert is_money(task["cost"])
    assert set(answer["proof"]) == {"solver", "bound", "gap", "seconds", "settled"}
    for reason in answer["reasons"]:
        assert {"kind", "says"} <= set(reason)
        assert reason["kind"] in ("rule", "limit", "part", "era", "fact")
        assert reason["says"]
    assert answer["status"] in ("proven", "best_found", "impossible", "nothing_found", "open")


def test_a_plan_has_all_totals_and_they_add_up(answer: dict[str, Any]) -> None:
    if answer["status"] != "proven":
        assert answer["combination"] == answer["totals"] == {}
        assert (
            answer["purchases"]
            == answer["freight"]
            == answer["core_returns"]
            == answer["tasks"]
            == answer["kept"]
            == []
        )
        return
    assert set(answer["totals"]) == TOTALS
    assert all(is_money(value) for value in answer["totals"].values())
    t = {name: Decimal(value) for name, value in answer["totals"].items()}
    assert t["cash"] == t["parts"] + t["core_charges"] + t["freight"]
    assert t["landed"] == t["cash"] - t["core_credit"] + t["core_return"]
    assert t["whole"] == t["landed"] + t["labour"] + t["comebacks"] + t["waiting"] - t["shelf"]
    bought = answer["purchases"]
    lines = [Decimal(p.get("line_total", p["quantity"] * Decimal(p["unit_price"]))) for p in bought]
    here = answer.get("in_hand", [])
    assert t["parts"] == sum(lines) + sum(Decimal(part["cost"]) for part in here)
    back = sum(Decimal(part.get("core_charge_back", 0)) for part in here)
    assert t["core_charges"] == sum(p["quantity"] * Decimal(p["core_charge"]) for p in bought) - back
    assert t["core_credit"] == sum(Decimal(back["credit"]) for back in answer["core_returns"])
    assert t["freight"] == sum(Decimal(order["cost"]) for order in answer["freight"])
    assert t["labour"] == sum(Decimal(task["cost"]) for task in answer["tasks"])
    assert {(p["supplier"], p["mode"]) for p in bought} == {(o["supplier"], o["mode"]) for o in answer["freight"]}


def test_every_position_is_accounted_for(answer: dict[str, Any]) -> None:
    if answer["status"] != "proven":
        return
    assert list(answer["combination"]) == ["block", "plate", "screen", "body", "jumper"]
    bought = [design for p in answer["purchases"] for design in p["fills"] for _ in range(p["quantity"])]
    bought += [part["design"] for part in answer.get("in_hand", []) if part["becomes"] == "fills"]
    for position, design in answer["combination"].items():
        if position not in answer["kept"] and design != "none":
            assert design in bought
            bought.remove(design)
    assert len(bought) == sum(p["left_over"] for p in answer["purchases"])


def test_a_proven_plan_carries_its_proof(answer: dict[str, Any]) -> None:
    if answer["status"] == "proven":
        assert answer["proof"]["solver"]
        assert answer["proof"]["gap"] == 0
        assert answer["proof"]["bound"] in answer["totals"].values()


def test_no_answer_goes_without_a_reason(answer: dict[str, Any]) -> None:
    if answer["status"] in ("impossible", "open"):
        assert answer["reasons"]


def test_every_price_stands_where_its_source_says(answers: dict[str, dict[str, Any]]) -> None:
    for answer in answers.values():
        for purchase in answer["purchases"]:
            source = purchase["source"]
            path = Path(source["file"])
            assert path.name.startswith(source["date"])
            if path.suffix == ".csv":
                row = path.read_text(encoding="utf-8", errors="replace").splitlines()[source["row"] - 1]
                assert purchase["part_number"] in row


def test_the_demo_costs_what_the_buyer_found_who_tries_everything(answers: dict[str, dict[str, Any]]) -> None:
    expected = json.loads((ROOT / "tests" / "demo" / "expected.json").read_text(encoding="utf-8"))
    assert {f"{job}.toml" for job in answers} == set(expected)
    for job, answer in answers.items():
        wanted = expected[f"{job}.toml"]
        assert answer["status"] == wanted["status"], job
        if wanted["status"] != "proven":
            continue
        assert answer["totals"][wanted["minimise"]] == wanted["cost"], job
        assert answer["combination"] == wanted["combination"], job
        assert answer["kept"] == wanted["kept"], job
        here = {part["position"]: part["becomes"] for part in answer.get("in_hand", [])}
        assert here == wanted.get("in_hand", {}), job
        bought = sorted(f"{p['quantity']} x {p['supplier']}/{p['part_number']}" for p in answer["purchases"])
        assert bought == sorted(wanted["parts"]), job


def test_with_out_it_writes_the_papers_too(counter: Counter, sourcing: Callable[..., Said]) -> None:
    said = sourcing("quote", counter.job, "--json", "--out", "papers")
    assert json.loads(said.out)["status"] == "proven"
    assert (counter.folder / "papers" / "exact-block" / "quote.xlsx").is_file()
    assert not (counter.folder / "reports").exists()


def test_a_run_says_the_same_again_but_for_its_seconds(counter: Counter, process: Callable[..., Said]) -> None:
    first, second = (re.sub(r'"seconds": [\d.]+', "", process("quote", counter.job, "--json").out) for _ in range(2))
    assert first == second


def test_letters_of_any_alphabet_come_through(counter: Counter, process: Callable[..., Said]) -> None:
    counter.change(counter.job, 'number = "1042"', 'number = "Größe-№7-数"')
    assert json.loads(process("quote", counter.job, "--json").out)["job"] == "Größe-№7-数"


@pytest.mark.parametrize("job", JOBS)
def test_every_demo_job_is_told_on_the_screen(job: str, counter: Counter, sourcing: Callable[..., Said]) -> None:
    said = sourcing("quote", f"scenarios/{job}.toml")
    assert said.code in (0, 3, 5), said.err
    assert said.err == ""
    assert (counter.folder / "reports" / job / "quote.xlsx").is_file() == (said.code == 0)
