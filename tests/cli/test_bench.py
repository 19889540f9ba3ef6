"""identify, check, review and chart as commands: with no price in the house, their exit codes, and their JSON."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest

from cli.conftest import Counter, Said

Run = Callable[..., Said]
MIXED = "scenarios/mixed-before.toml"


def said(run: Run, *words: str) -> dict[str, Any]:
    record = json.loads(run(*words, "--json").out)
    assert isinstance(record, dict)
    return record


@pytest.fixture
def bookshelf(counter: Counter) -> Counter:
    """A folder with nothing in it but books."""
    for name in ("shop.toml", "suppliers.toml"):
        (counter.catalogs / name).unlink()
    shutil.rmtree(counter.catalogs / "price-sheets")
    counter.parts.unlink()
    return counter


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("identify", MIXED), 0),
        (("identify", "scenarios/changed-mid-year.toml"), 5),
        (("check", MIXED, "block=block-b", "plate=plate-2"), 5),
        (("check", MIXED, "block=block-a"), 3),
        (("check", MIXED, "block=block-b", "plate=plate-2", "screen=screen-d", "body=body-1", "jumper=none"), 0),
        (("review", "larch5"), 0),
        (("chart", "larch5"), 0),
        (("check", MIXED, "block"), 2),
        (("identify", "scenarios/nowhere.toml"), 2),
        (("review", "oak6"), 2),
        (("chart", "larch5", "--era", "never"), 2),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_each_runs_with_only_a_book_and_ends_with_its_code(
    words: tuple[str, ...], code: int, bookshelf: Counter, sourcing: Run
) -> None:
    told = sourcing(*words)
    assert told.code == code
    assert bool(told.err) == (code == 2)
    if code != 2 and words[0] != "chart":
        assert sourcing(*words, "--json").out.count("\n") == 1


def test_a_mixed_unit_is_identified_with_what_does_not_belong(counter: Counter, sourcing: Run) -> None:
    record = said(sourcing, "identify", MIXED)
    assert record["era"] == ["mid"]
    assert record["valid"] is False and record["mixed"] is True
    assert record["positions"]["block"] == [
        {"design": "block-a", "agrees": ["solenoids", "case_plug", "cap_colour"], "contradicts": [], "chance": 1.0}]  # fmt: skip
    assert record["combinations"] == 3  # the jumper, which nobody looked at: either of two, or none
    ((way,),) = record["eras"][0]["does_not_belong"]
    assert {part["position"]: [reason["rule"] for reason in part["reasons"]] for part in way} == {
        "block": ["era"], "screen": ["deep-pan"]}  # fmt: skip
    assert {reason["rule"] for reason in record["reasons"]} == {"era", "deep-pan"}


def test_a_look_is_told_with_what_it_leaves_what_it_needs_and_what_it_is_worth(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.job, 'plate = "plate-2"', "plate = {tracks = 6}")
    first = said(sourcing, "identify", "scenarios/exact-block.toml")["look_next"][0]
    assert (first["position"], first["separates"]) == ("plate", ["plate-2", "plate-3"])
    assert first["needs"] == "oil pan and screen off"
    assert {answer["answer"]: answer["leaves"] for answer in first["answers"]} == {
        "brass": ["plate-2"], "steel": ["plate-3"]}  # fmt: skip
    now = said(sourcing, "quote", "scenarios/exact-block.toml")["totals"]["whole"]
    after = []
    for design in ("plate-2", "plate-3"):
        counter.change(counter.job, "plate = ", f'plate = "{design}"  # was ')
        after.append(float(said(sourcing, "quote", "scenarios/exact-block.toml")["totals"]["whole"]))
        counter.change(counter.job, f'plate = "{design}"  # was ', "plate = ")
    chances = [answer["chance"] for answer in first["answers"] for d in answer["leaves"] if d in ("plate-2", "plate-3")]
    expected = float(now) - sum(chance * cost for chance, cost in zip(chances, after, strict=True))
    assert float(first["worth"]) == pytest.approx(expected, abs=0.006)


def test_a_swap_share_of_the_shop_is_taken(counter: Counter, sourcing: Run) -> None:
    before = said(sourcing, "identify", "scenarios/exact-block.toml")["swapped"]["jumper"]
    counter.change(counter.catalogs / "shop.toml", "worth_changing", "mixed_share = 0.3\nworth_changing")
    assert said(sourcing, "identify", "scenarios/exact-block.toml")["swapped"]["jumper"] == pytest.approx(
        3 * before, abs=1e-5
    )


def test_a_check_names_each_rule_with_its_source_and_caution(bookshelf: Counter, sourcing: Run) -> None:
    record = said(sourcing, "check", "scenarios/exact-block.toml", "block=block-d", "plate=plate-3")
    assert record["valid"] is False
    rules = {ruling["rule"]: ruling for ruling in record["eras"][0]["rules"]}
    assert rules["heavy-windings"]["result"] == "broken"
    assert rules["heavy-windings"]["source"] == "Shop note 28"
    assert "overloaded" in rules["heavy-windings"]["caution"]
    assert rules["block-and-plate"]["result"] == "holds"
    assert rules["tap-slot"]["result"] == "silent"


def test_a_hole_ends_with_5_and_is_told_with_an_example(bookshelf: Counter, sourcing: Run) -> None:
    bookshelf.change(bookshelf.book, 'to = "2004-08"', 'to = "2004-07"')
    told = sourcing("review", "larch5")
    assert told.code == 5
    assert "a unit built in 2004-08 is of no era" in told.out
    record = said(sourcing, "review", "larch5")
    assert record["holes"] == 1
    assert set(record["findings"][0]) == {"code", "kind", "says", "where", "example", "remedy"}


def test_designs_without_a_number_are_told_where_there_is_a_parts_list(counter: Counter, sourcing: Run) -> None:
    lines = [line for line in counter.parts.read_text(encoding="utf-8").splitlines() if "jumper-r" not in line]
    counter.parts.write_text("\n".join(lines) + "\n", encoding="utf-8")
    record = said(sourcing, "review", "larch5")
    assert [(f["code"], f["where"]) for f in record["findings"] if f["kind"] == "hole"] == [
        ("design-without-number", "design jumper-r")]  # fmt: skip


def test_the_chart_is_written_as_page_and_sheet(bookshelf: Counter, sourcing: Run) -> None:
    assert sourcing("chart", "larch5").code == 0
    folder = bookshelf.folder / "reports" / "chart-larch5"
    page = (folder / "chart.html").read_text(encoding="utf-8")
    assert "http" not in page and "<script" not in page and "Shop note 14" in page
    book = openpyxl.load_workbook(folder / "chart.xlsx")
    assert book.sheetnames == ["1 early", "2 mid", "3 revised", "4 last"]
    cells = [cell.value for row in book["2 mid"].iter_rows() for cell in row if cell.value]
    assert "plate-3" in cells and any(str(cell).startswith("no ") for cell in cells)


def test_with_json_a_chart_writes_only_where_it_is_told_to(bookshelf: Counter, sourcing: Run) -> None:
    before = bookshelf.files()
    record = said(sourcing, "chart", "larch5", "--era", "last")
    assert bookshelf.files() == before
    (era,) = record["eras"]
    assert [row["design"] for row in era["rows"]] == ["block-e"]
    assert sourcing("chart", "larch5", "--json", "--out", "wall").code == 0
    assert (bookshelf.folder / "wall" / "chart-larch5" / "chart.html").is_file()


def test_an_inspection_that_was_failed_is_priced_by_two_answers(counter: Counter, sourcing: Run) -> None:
    failed = said(sourcing, "quote", "scenarios/winding-too-low.toml")
    passed = said(sourcing, "quote", "scenarios/free-freight.toml")  # the same unit, and it passed
    saved = float(failed["totals"]["whole"]) - float(passed["totals"]["whole"])
    assert "block" in passed["kept"] and "block" not in failed["kept"]
    assert failed["notes"][1].startswith(f"keeping the found Solenoid block would have saved {saved:.2f}: ")


def test_a_reading_of_nothing_that_is_inspected_is_a_fault(counter: Counter, sourcing: Run) -> None:
    counter.add(counter.job, '\n[readings]\nohms = 3\nwinding = "low"\n')
    told = sourcing("quote", counter.job)
    assert told.code == 2
    assert 'readings ohms: expected an inspection of larch5: winding, leak; found "ohms"' in told.err
    assert 'readings winding: expected a number (ohm); found "low"' in told.err


def test_a_wrong_check_digit_of_a_north_american_number_is_a_fault(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.job, 'built = "2003-05"', 'vin = "4ZZAB12A03A000001"')
    told = sourcing("identify", counter.job)
    assert told.code == 2
    assert "vehicle vin: expected the check digit" in told.err and "(49 CFR 565.15, for North America)" in told.err
