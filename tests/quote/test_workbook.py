"""The workbook: its formulas, its bytes, its texts, what it shows to whom."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from quote.engines import ENGINES, Values, stored, without_values
from quote.hand import HERE, TERMS, Opened, all_in_hand, block_and_screen, block_sent_back, chosen
from sourcing.plan import TOTALS, Plan
from sourcing.quote.charging import charge
from sourcing.quote.sheets.costs import NAMES
from sourcing.quote.workbook import quote_bytes, write_quote

HALF = [("labour_rate = 95.05", "labour_rate = 1.15"), ("base_hours = 10", "base_hours = 2.5"),
        ("tax_labour = 0.03", "tax_labour = 0.125"), ("factor = 1.45", "factor = 1.4505"),
        ("250.00,80.00", "249.00,80.05")]  # fmt: skip
NO_STEPS = [("markup = [{up_to = 10.34, factor = 1.755}, {up_to = 250, factor = 1.45}, {factor = 1.30}]", ""),
            (", cap = 40.00", ""), ("labour_cost = 40.00", "")]  # fmt: skip
PLANS: dict[str, Callable[[Opened], Plan]] = {
    "block and screens": lambda opened: block_and_screen(opened()),
    "halves of a cent": lambda opened: block_and_screen(opened(*HALF)),
    "no mark-up, no cap": lambda opened: block_and_screen(opened(*NO_STEPS)),
    "a kit over the free freight": lambda opened: chosen(
        opened(("390.00", "400.00")), {"K-9": 1}, {"block": "K-9", "plate": "K-9"}, {"plate": "K-9"}
    ),
    "everything in hand": lambda opened: all_in_hand(opened(HERE)),
    "a block sent back": lambda opened: block_sent_back(opened(HERE, TERMS)),
    "nothing bought": lambda opened: chosen(opened(), {}, {}),
}


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
@pytest.mark.parametrize("engine", ENGINES)
def test_an_engine_of_its_own_finds_every_value_that_we_stored(
    engine: Callable[[Path, Values], Values], plan: Callable[[Opened], Plan], opened: Opened, tmp_path: Path
) -> None:
    write_quote(plan(opened), tmp_path / "quote.xlsx")
    ours = stored(tmp_path / "quote.xlsx")
    assert len(ours) > 20
    theirs = engine(without_values(tmp_path / "quote.xlsx", tmp_path / "bare.xlsx"), ours)
    assert {cell: value for cell, value in ours.items() if abs(value - theirs[cell]) > 1e-6} == {}


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_the_stored_values_are_those_of_charge_and_plan(
    plan: Callable[[Opened], Plan], opened: Opened, tmp_path: Path
) -> None:
    made = plan(opened)
    write_quote(made, tmp_path / "quote.xlsx")
    book, charged = openpyxl.load_workbook(tmp_path / "quote.xlsx", data_only=True), charge(made)
    customer = {row[0].value: row[4].value for row in book["Quote"].iter_rows()}
    assert cents(customer["Before tax"]) == charged.before_tax_cents
    assert cents(customer["Labour"]) == charged.labour_cents
    assert cents(customer["Shop supplies"]) == charged.supplies_cents
    assert cents(customer["Total"]) == charged.total_cents
    dates = {row[2].value: row[4].value for row in book["Quote"].iter_rows()}
    assert dates["This quote stands until"].date() == charged.stands_until
    shop = {
        str(row[1].value).removesuffix(" - made least"): row[8].value for row in book["Parts and sources"].iter_rows()
    }
    assert {name: cents(shop[NAMES[name]]) for name in TOTALS} == {name: made.totals.of(name) for name in TOTALS}
    assert cents(shop["Margin"]) == charged.margin_cents


def cents(amount: object) -> int:
    assert isinstance(amount, int | float)
    return round(amount * 100)


def test_equal_plans_give_equal_bytes(opened: Opened) -> None:
    assert quote_bytes(block_and_screen(opened())) == quote_bytes(block_and_screen(opened()))


HOSTILE = ["=cmd|' /C calc'!A0", "+1+2", "-2+3", "@SUM(1)", "=HYPERLINK(0)", "{=1+1}", "http://example.invalid/x",
           "mailto:a@example.invalid", "a\\u0001b\\u0007\\tc", "\\u05e9\\u05dc\\u05d5\\u05dd \\u0645\\u0631\\u062d\\u0628\\u0627",
           "\\U0001F468\\u200D\\U0001F527 wrench", "\\u202Ereversed", "_x0041_", "&P &D", "word " * 700, "x" * 3900]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_text_becomes_a_formula_or_a_link(text: str, opened: Opened, tmp_path: Path) -> None:
    quoted = f'"{text}"'
    problem = opened(
        ('"Invented: A. Person"', quoted), ('"Block one"', quoted), ('"Northgate Invented"', quoted),
        ('"Look at the tracks first."', quoted), ('"Fit the block"', quoted),
        ('"The block\'s springs must meet the plate\'s tracks"', quoted), ('number = "77"', f'number = "{text[:60]}"'),
    )  # fmt: skip
    write_quote(block_and_screen(problem), tmp_path / "quote.xlsx")
    ours, plain = openpyxl.load_workbook(tmp_path / "quote.xlsx"), tmp_path / "plain.xlsx"
    write_quote(block_and_screen(opened()), plain)
    formulas = {
        cell.value for sheet in openpyxl.load_workbook(plain) for row in sheet for cell in row if cell.data_type == "f"
    }
    for sheet in ours:
        for row in sheet:
            for cell in row:
                assert cell.hyperlink is None
                if cell.data_type == "f":
                    assert as_shape(cell.value) in {as_shape(formula) for formula in formulas}
                elif isinstance(cell.value, str):
                    assert all(sign.isprintable() or sign == "\u200d" for sign in cell.value)
                    assert "\u202e" not in cell.value
                    assert cell.quotePrefix or cell.number_format == "@"


def as_shape(formula: object) -> str:
    """A formula without its row numbers: further lines of text only push it down."""
    return "".join(sign for sign in str(formula) if not sign.isdigit())


def test_a_part_number_keeps_its_zeros(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "quote.xlsx")["Parts and sources"] for cell in row]
    found = [cell for cell in cells if cell.value == "00123"]
    assert len(found) >= 2 and all(cell.number_format == "@" for cell in found)


def test_the_customer_sees_no_supplier_no_part_number_and_no_cost(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "quote.xlsx", data_only=True)["Quote"]
    shown = [cell.value for row in sheet for cell in row if cell.value is not None]
    words = " ".join(str(value) for value in shown).casefold()
    assert not any(
        secret in words for secret in ("nrth", "sth", "northgate", "southfield", "00123", "s-1", ".csv", "margin")
    )
    costs = {250.0, 10.34, 51.7, 80.0, 72.0, 301.7, 334.2}
    assert not costs & {value for value in shown if isinstance(value, int | float)}


def test_the_customers_sheet_is_one_page_with_its_headings_repeated(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "quote.xlsx")["Quote"]
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) in ((None, None), (1, 1))  # one is the default
    head = next(row[0].row for row in sheet if row[0].value == "Position")
    assert sheet.print_title_rows == f"${head}:${head}"
    assert sheet.print_area.endswith(f"$E${sheet.max_row}")


def test_every_price_carries_its_file_row_and_date(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    rows = [
        [cell.value for cell in row] for row in openpyxl.load_workbook(tmp_path / "quote.xlsx")["Parts and sources"]
    ]
    block = next(row for row in rows if row[3] == "00123" and "2026-02-01" in str(row[1]))
    assert block[5] == 2 and block[6].date().isoformat() == "2026-02-01"
    assert block[8] == "not stated" and "confirm" in block[12]


def test_a_promise_asks_for_the_stock_to_be_confirmed(opened: Opened, tmp_path: Path) -> None:
    problem = opened(("date = 2026-03-02", "date = 2026-03-02\nneed_by = 2026-03-30"))
    write_quote(block_and_screen(problem), tmp_path / "quote.xlsx")
    cells = [cell.value for row in openpyxl.load_workbook(tmp_path / "quote.xlsx")["Parts and sources"] for cell in row]
    assert "confirm stock before promising" in cells


def test_every_rule_says_whether_it_was_checked(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    rows = checked(tmp_path / "quote.xlsx")
    assert (rows["pair"], rows["tap"]) == ("holds", "not in force: lever is gate, not tap")
    write_quote(block_and_screen(opened(('facts = {lever = "gate"}', ""))), tmp_path / "open.xlsx")
    assert checked(tmp_path / "open.xlsx")["tap"] == "not in force: lever is open; every value gives the same plan"


def checked(path: Path) -> dict[object, object]:
    """What the sheet of rules says of each."""
    return {row[0].value: row[3].value for row in openpyxl.load_workbook(path)["Rules checked"] if row[3].value}


def test_a_run_cut_short_leaves_the_old_workbook_alone(
    opened: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "reports" / "quote.xlsx"
    write_quote(block_and_screen(opened()), path)
    old = path.read_bytes()

    def cut(self: Path, target: Path) -> Path:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", cut)
    with pytest.raises(KeyboardInterrupt):
        write_quote(chosen(opened(), {}, {}), path)
    assert path.read_bytes() == old
    assert [found.name for found in path.parent.iterdir()] == ["quote.xlsx"]


def test_nothing_in_the_file_points_outside(opened: Opened, tmp_path: Path) -> None:
    write_quote(block_and_screen(opened()), tmp_path / "quote.xlsx")
    with zipfile.ZipFile(tmp_path / "quote.xlsx") as packed:
        assert not any(b'TargetMode="External"' in packed.read(name) for name in packed.namelist())
