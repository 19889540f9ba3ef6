"""Orders: a supplier's own numbers, words, packs, prices and coins, in a workbook and as CSV; the list of cores."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from quote.engines import ENGINES, Values, stored, without_values
from quote.hand import Opened, block_and_screen, chosen
from sourcing.money import decimal
from sourcing.plan import Plan
from sourcing.quote.orders import HEADERS, order_csv, orders_for_suppliers
from sourcing.quote.papers import papers_of

PLANS: dict[str, Callable[[Opened], Plan]] = {
    "two suppliers, one of them with steps": lambda opened: block_and_screen(opened()),
    "a kit over the free freight": lambda opened: chosen(
        opened(("390.00", "400.00")), {"K-9": 1}, {"block": "K-9", "plate": "K-9"}, {"plate": "K-9"}
    ),
    "nothing bought": lambda opened: chosen(opened(), {}, {}),
}


def rows_of(content: bytes) -> list[list[object]]:
    return [[cell.value for cell in row] for row in openpyxl.load_workbook(io.BytesIO(content), data_only=True).active]


def by_first(content: bytes, column: int = 1) -> dict[object, list[object]]:
    return {row[column]: row for row in rows_of(content)}


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_one_order_for_each_supplier_and_way_of_sending(plan: Callable[[Opened], Plan], opened: Opened) -> None:
    made = plan(opened)
    names = {f"order-{order.supplier}-{order.mode}" for order in made.orders}
    assert {name for name in papers_of(made) if name.startswith("order")} == {
        f"{name}.{kind}" for name in names for kind in ("xlsx", "csv")
    }


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
@pytest.mark.parametrize("engine", ENGINES)
def test_an_engine_of_its_own_finds_every_total_of_an_order(
    engine: Callable[[Path, Values], Values], plan: Callable[[Opened], Plan], opened: Opened, tmp_path: Path
) -> None:
    for name, content in papers_of(plan(opened)).items():
        if name.endswith(".xlsx") and name != "quote.xlsx":
            (tmp_path / name).write_bytes(content)
            ours = stored(tmp_path / name)
            theirs = engine(without_values(tmp_path / name, tmp_path / f"bare-{name}"), ours)
            assert {cell: value for cell, value in ours.items() if abs(value - theirs[cell]) > 1e-6} == {}


def test_an_order_in_the_shops_own_currency_comes_to_the_plans_cash(opened: Opened) -> None:
    plan = chosen(opened(), {"K-9": 1}, {"block": "K-9", "plate": "K-9"})
    (order,) = orders_for_suppliers(plan)
    # 390.00, core 80.00, freight 10.00 + 2.5 kg x 1.00
    assert (order.parts_minor, order.cores_minor, order.freight_minor) == (39000, 8000, 1250)
    assert order.total_minor == plan.totals.cash
    sheet = by_first(papers_of(plan)["order-nrth-ground.xlsx"])
    assert sheet["Total in USD, before taxes that you add"][7] == float(decimal(plan.totals.cash))


def test_an_order_abroad_speaks_in_the_suppliers_coins(opened: Opened) -> None:
    order = orders_for_suppliers(block_and_screen(opened()))[1]
    # the first two of five screens at 10.00, the others at 9.00: 47.00 in its own currency
    assert (order.currency, order.parts_minor, order.total_minor) == ("EUR", 4700, 4700)
    assert order.lines[0].steps == ((2, 1000), (3, 900))
    line = by_first(papers_of(block_and_screen(opened()))["order-sth-counter.xlsx"])["S-1"]
    assert line[3:8] == [5, 1, 5, 9.4, 47.0]


def test_a_line_says_where_its_price_was_quoted_and_whether_there_is_stock(opened: Opened) -> None:
    line = by_first(papers_of(block_and_screen(opened()))["order-nrth-ground.xlsx"])["00123"]
    assert line[2] == "=1+1"
    assert [line[10], line[11], line[13]] == ["2026-02-01.csv", 2, "confirm stock"]
    assert line[12].date().isoformat() == "2026-02-01"  # type: ignore[attr-defined]


def test_an_order_says_nothing_of_customer_other_suppliers_or_our_prices(opened: Opened) -> None:
    papers = papers_of(block_and_screen(opened()))
    for name, words in (
        ("order-nrth-ground", ("Southfield", "S-1", "362.5")),
        ("order-sth-counter", ("Northgate", "00123")),
    ):
        told = papers[f"{name}.csv"].decode() + str(rows_of(papers[f"{name}.xlsx"]))
        assert not [word for word in (*words, "Invented: A. Person", "1.45") if word in told]


def test_what_is_promised_stands_on_the_order(opened: Opened) -> None:
    problem = opened(("date = 2026-03-02", "date = 2026-03-02\nneed_by = 2026-03-30"))
    assert "needed here by 2026-03-30" in str(rows_of(papers_of(block_and_screen(problem))["order-nrth-ground.xlsx"]))


RUNNING = [
    "=1+1",
    "+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(1)",
    "\t=1+1",
    "\r=1+1",
    " =1+1",
    "\u202e=1+1",
    '=HYPERLINK("x")',
]


@pytest.mark.parametrize("text", RUNNING)
def test_no_cell_of_the_csv_runs_as_a_formula(text: str, opened: Opened) -> None:
    (order, *_) = orders_for_suppliers(block_and_screen(opened()))
    line = replace(order.lines[0], description=text, number=text, quoted=text)
    told = order_csv(replace(order, name=text, mode=text, job=text, lines=(line,)))
    rows = list(csv.reader(io.StringIO(told.decode("utf-8-sig"))))
    assert rows[0] == list(HEADERS)
    assert len(rows) == 2 and len(rows[1]) == len(HEADERS)
    assert not [cell for cell in rows[1] if cell[:1] in "=+-@\t\r" and cell]


def test_a_part_number_comes_through_the_csv_as_it_is(opened: Opened) -> None:
    (order, *_) = orders_for_suppliers(block_and_screen(opened()))
    row = next(csv.DictReader(io.StringIO(order_csv(order).decode("utf-8-sig"))))
    assert (row["part_number"], row["unit_price"], row["core_charges"]) == ("00123", "250.00", "80.00")


@pytest.mark.parametrize("mode", ["by air / next day", "..", 'a:b*c?"<>|', "CON", "x" * 80, "Luft äöü", "\u202e"])
def test_no_mode_makes_a_file_name_that_leads_away(mode: str, opened: Opened) -> None:
    plan = block_and_screen(opened())
    (order, *_) = (replace(one, mode=mode) for one in orders_for_suppliers(plan))
    assert not set(order.stem) & set('/\\:*?"<>|. ')
    assert len(order.stem) < 120
    others = {replace(order, mode=other).stem for other in ("a b", "a/b", "a-b", "a:b")}
    assert len(others) == 4


def test_the_cores_say_what_goes_to_whom_and_what_comes_back(opened: Opened) -> None:
    plan = block_and_screen(opened())
    rows = by_first(papers_of(plan)["cores.xlsx"], 0)
    assert rows["Block one"][1:4] == ["Solenoid block", "Northgate Invented", "00123"]
    assert rows["Block one"][4:9] == ["ask", "ask", 80.0, 0.9, 72.0]
    assert rows["Credit in all"][8] == 72.0
    assert rows["Cost of sending them to Northgate Invented"][8] == 12.0


def test_without_cores_the_list_says_so(opened: Opened) -> None:
    assert "none" in by_first(papers_of(chosen(opened(), {}, {}))["cores.xlsx"], 0)
