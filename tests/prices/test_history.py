"""What a design has cost: every supplier, every date, kits as kits."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from prices.making import csv_bytes
from sourcing.partnumber import PartNumber
from sourcing.prices.history import COLUMNS, History, frame, histories
from sourcing.prices.parts import Part
from sourcing.prices.record import PriceRecord
from sourcing.prices.suppliers import Supplier
from sourcing.shop import Shop

SHOP = Shop(currency="USD", fx={"EUR": Decimal("1.10")})
SUPPLIERS = {"quarry": Supplier(code="quarry", name="Quarry Bend Exchange"),
             "birkental": Supplier(code="birkental", name="Birkental Ersatzteile", currency="EUR")}  # fmt: skip
NAMES = {"quarry": ("Quarry Bend Exchange", "USD"), "birkental": ("Birkental Ersatzteile", "EUR")}
HEAD = ["Part No", "Price", "Core charge", "Stock", "Valid until"]
File = Callable[..., None]


def part(supplier: str, number: str, *fills: str) -> Part:
    return Part(supplier, PartNumber(number), fills, "reman", 0, frozenset(fills), None, "", "")


PARTS = (part("quarry", "K-1", "block-a", "plate-1"), part("quarry", "A-1", "block-a"), part("quarry", "B-1", "block-b"),
         part("birkental", "7-1", "block-a"))  # fmt: skip


@pytest.fixture
def file(tmp_path: Path) -> File:
    def put(supplier: str, name: str, *rows: list[str]) -> None:
        home = tmp_path / "price-sheets" / supplier
        home.mkdir(parents=True, exist_ok=True)
        (home / name).write_bytes(csv_bytes([HEAD, *rows]))

    return put


@pytest.fixture
def look(tmp_path: Path) -> Callable[[], tuple[list[History], list[str]]]:
    def told() -> tuple[list[History], list[str]]:
        record = PriceRecord(tmp_path / "price-sheets", SUPPLIERS, SHOP, None)
        found, unread = histories(record, PARTS, "block-a", "larch5", NAMES)
        return found, [fault.code for fault in unread]

    return told


def test_each_part_is_told_at_every_date_single_ones_before_kits(file: File, look: Callable[..., tuple]) -> None:
    file("quarry", "2026-03-01.csv", ["A-1", "200.00", "50.00", "4", ""], ["K-1", "290.00", "", "", ""])
    file("birkental", "2026-04-01.csv", ["7-1", "100.00", "", "", ""])
    file("quarry", "2026-05-01 update.csv", ["A-1", "210.00", "50.00", "0", ""])
    found, unread = look()
    days = [date(2026, 3, 1), date(2026, 4, 1), date(2026, 5, 1)]
    assert unread == []
    assert [(one.part.number.spelt, one.is_kit) for one in found] == [("7-1", False), ("A-1", False), ("K-1", True)]
    assert all([point.day for point in one.points] == days for one in found)
    foreign, single, kit = found
    # 100.00 EUR at 1.10 is 110.00 USD; before April there is no sheet
    assert [(point.price, point.price_cents) for point in foreign.points] == [
        (None, None), (Decimal("100.00"), 11000), (Decimal("100.00"), 11000),
    ]  # fmt: skip
    assert foreign.points[0].why == "no sheet in force yet"
    assert [point.price_cents for point in single.points] == [20000, 20000, 21000]
    assert [point.core_cents for point in single.points] == [5000] * 3
    assert (single.now.why, single.before.price_cents) == ("sold out", 20000)
    assert [point.day for point in single.turns] == [days[0], days[2]]
    assert [point.price_cents for point in kit.points] == [29000] * 3 and len(kit.turns) == 1


def test_a_price_that_has_ended_is_shown_and_said_to_have_ended(file: File, look: Callable[..., tuple]) -> None:
    file("quarry", "2026-03-01.csv", ["A-1", "200.00", "", "", "2026-04-01"])
    file("birkental", "2026-04-01.csv", ["7-1", "100.00", "", "", ""])
    file("birkental", "2026-04-02.csv", ["7-1", "100.00", "", "", ""])
    single = look()[0][1]
    assert [point.why for point in single.points] == ["", "", "the price ended on 2026-04-01"]
    assert single.now.price_cents == 20000


def test_a_number_without_a_usable_price_says_so(file: File, look: Callable[..., tuple]) -> None:
    file("quarry", "2026-03-01.csv", ["A-1", "call", "", "", ""], ["B-1", "9.00", "", "", ""])
    single = look()[0][1]
    assert single.now.price is None and '"call"' in single.now.why
    assert look()[0][2].now.why == "not in the sheet in force"


def test_a_sheet_that_cannot_be_read_leaves_the_other_suppliers_standing(
    file: File, look: Callable[..., tuple], tmp_path: Path
) -> None:
    file("birkental", "2026-03-01.csv", ["7-1", "100.00", "", "", ""])
    file("quarry", "2026-03-01.csv", ["A-1", "200.00", "", "", ""])
    (tmp_path / "price-sheets" / "quarry" / "2026-04-01.csv").write_bytes(b"<html><body>gone</body></html>")
    found, unread = look()
    assert unread == ["refused-sheet"]
    assert [point.price_cents for point in found[0].points] == [11000, 11000]
    assert [point.price_cents for point in found[1].points] == [20000, None]
    assert found[1].now.why == "the sheet in force cannot be read"


def test_the_frame_has_a_row_for_each_part_and_date(file: File, look: Callable[..., tuple]) -> None:
    file("quarry", "2026-03-01.csv", ["A-1", "200.00", "50.00", "4", ""], ["K-1", "290.00", "", "", "2026-06-30"])
    file("birkental", "2026-04-01.csv", ["7-1", "100.00", "", "", ""])
    table = frame(look()[0])
    assert tuple(table.columns) == COLUMNS and len(table) == 6
    wide = table.pivot(index="date", columns="part_number", values="shop_price")
    assert wide["A-1"].tolist() == [200.0, 200.0]
    assert wide["7-1"].isna().tolist() == [True, False] and wide["7-1"].iloc[1] == 110.0
    kit = table[table["part_number"] == "K-1"].iloc[0]
    assert (kit["kit"], str(kit["valid_until"].date())) == ("block-a + plate-1", "2026-06-30")
    assert table["stock"].dtype == "Int64"


def test_the_frame_of_a_design_that_nobody_sells_has_its_columns_and_no_row() -> None:
    table = frame([])
    assert tuple(table.columns) == COLUMNS and table.empty
