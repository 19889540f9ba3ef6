"""What is in force on a day: the decimal mark of a sheet that leaves it open, told by the supplier's other sheets."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from sourcing.faults import BadInput
from sourcing.partnumber import PartNumber
from sourcing.prices.declared import SheetLayout
from sourcing.prices.offers import Offers
from sourcing.prices.parts import Part
from sourcing.prices.record import PriceRecord
from sourcing.prices.sheet import Question
from sourcing.prices.suppliers import Supplier
from sourcing.shop import Shop

from .making import HEAD, csv_bytes, xlsx_bytes

PART = Part("s", PartNumber("A-1"), ("screen-1",), "new", 12, frozenset(), None, "", "")
DAY = date(2026, 3, 9)
POINTS = csv_bytes([HEAD, ["A-1", "", "52.50"]], "\t")
COMMAS = csv_bytes([HEAD, ["A-1", "", "52,50"]], "\t")
OPEN = csv_bytes([HEAD, ["A-1", "", "52.765"]], "\t")


def record(folder: Path, sheet: SheetLayout | None = None, **files: bytes) -> PriceRecord:
    """A supplier's record of sheets, each named by its day in March 2026."""
    (folder / "s").mkdir(exist_ok=True)
    for name, content in files.items():
        day, _, update = name.removeprefix("d").partition("_")
        (folder / "s" / f"2026-03-{day} {update}.txt").write_bytes(content)
    supplier = Supplier(code="s", name="S", sheet=sheet or SheetLayout())
    return PriceRecord(folder, {"s": supplier}, Shop(currency="USD"), None)


def price(offers: Offers) -> int:
    """The one price, in cents."""
    return offers.offers[0].steps[0].cents


def test_an_open_mark_is_the_one_that_the_other_sheets_in_force_prove(tmp_path):
    # 52.765 is 52.765 where the supplier's own list writes 52.50, and 52765 where it writes 52,50
    assert price(record(tmp_path, d02=POINTS, d05_update=OPEN).in_force(DAY, [PART])) == 5277
    assert price(record(tmp_path, d02=COMMAS, d05_update=OPEN).in_force(DAY, [PART])) == 5276500


@pytest.mark.parametrize(
    "files",
    [
        {"d02": OPEN},
        {"d02": OPEN, "d05_update": OPEN},
        {"d02": xlsx_bytes([HEAD, ["A-1", "", 52.5]]), "d05_update": OPEN},
        {"d02": POINTS, "d05_update": COMMAS, "d06_update": OPEN},
        {"d02": csv_bytes([HEAD, ["A-1", "", "52.50"], ["A-2", "", "52,50"]], "\t"), "d05_update": OPEN},
        {"d01": POINTS, "d02": OPEN},
        {"d02": OPEN, "d20_update": POINTS},
    ],
    ids=["alone", "all open", "numbers only", "sheets differ", "a sheet differs in itself", "overtaken", "yet to come"],
)
def test_a_mark_that_no_sheet_in_force_proves_is_asked_about(tmp_path, files):
    with pytest.raises(BadInput) as caught:
        record(tmp_path, **files).in_force(DAY, [PART])
    assert {fault.place for fault in caught.value.faults} == {"decimal"}
    assert "[supplier.sheet]" in caught.value.faults[0].remedy


def test_the_mark_can_be_declared(tmp_path):
    assert price(record(tmp_path, SheetLayout(decimal="."), d02=OPEN).in_force(DAY, [PART])) == 5277


def test_a_sheet_that_leaves_more_open_than_its_mark_is_asked_about_as_it_stands(tmp_path):
    two = csv_bytes([["Part No", "Price A", "Price B", "Core Charge"], ["A-1", "5.00", "6.00", "52.765"]], "\t")
    with pytest.raises(BadInput) as caught:
        record(tmp_path, d02=POINTS, d05_update=two).in_force(DAY, [PART])
    assert "price" in {fault.place for fault in caught.value.faults}


def test_each_day_asks_the_sheets_of_its_own(tmp_path):
    prices = record(tmp_path, d02=POINTS, d05_update=OPEN, d07_update=COMMAS)
    assert price(prices.in_force(date(2026, 3, 6), [PART])) == 5277
    with pytest.raises(BadInput):
        prices.in_force(DAY, [PART])
    assert price(prices.in_force(date(2026, 3, 6), [PART])) == 5277


def test_a_question_says_what_to_write_and_where():
    assert str(Question("decimal", (".", ",")).fault(file="a.tsv")) == (
        "a.tsv, decimal: expected a decimal mark that is certain; found . or ,. "
        "Say decimal in suppliers.toml under [supplier.sheet]."
    )
