"""`sourcing prices`: what a design costs and has cost."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable

import pytest

import sourcing as package
from cli.conftest import Counter, Said
from sourcing.faults import BadInput

Run = Callable[..., Said]


def test_each_supplier_is_told_now_and_at_each_date_that_changed_something(counter: Counter, sourcing: Run) -> None:
    said = sourcing("prices", "block-b")
    assert said.code == 0
    harbour = said.out.split("  Harbour Row Parts 0041102\n")[1]
    lines = [line.split() for line in harbour.splitlines()[1:3]]
    assert [(line[0], line[1]) for line in lines] == [("2026-03-02", "298.00"), ("2026-08-31", "349.00")]
    assert "+51.00" in harbour.splitlines()[2]
    now = said.out.split("At each date")[0]
    assert "352.00 EUR" in now and "394.24" in now  # 352.00 at 1.12
    assert "kit: block-b + plate-2" in now


def test_the_object_gives_every_date_in_both_currencies_with_its_source(counter: Counter, sourcing: Run) -> None:
    told = json.loads(sourcing("prices", "block-b", "--json").out)
    assert (told["design"], told["families"], told["currency"]) == ("block-b", ["larch5"], "USD")
    assert [one["supplier"] for one in told["parts"]] == ["birkental", "harbour", "quarry", "saltpan", "tallow"]
    assert {len(one["dates"]) for one in told["parts"]} == {13}
    last = told["parts"][0]["dates"][-1]
    assert (last["price"], last["shop_price"], last["stock"]) == ("352.00", "394.24", 3)
    assert last["source"]["file"] == "catalogs/price-sheets/birkental/2026-09-01 Preisliste.csv"
    kit = told["parts"][-1]
    assert (kit["kit"], kit["fills"]) == (True, ["block-b", "plate-2"])


def test_the_csv_has_a_line_for_each_part_and_date(counter: Counter, sourcing: Run) -> None:
    assert sourcing("prices", "plate-2", "--csv", "plate.csv").code == 0
    with (counter.folder / "plate.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    told = json.loads(sourcing("prices", "plate-2", "--json").out)
    assert len(rows) == sum(len(one["dates"]) for one in told["parts"])
    assert {row["part_number"] for row in rows} == {one["part_number"] for one in told["parts"]}


def test_an_unknown_design_is_a_fault_that_suggests_the_nearest(counter: Counter, sourcing: Run) -> None:
    said = sourcing("prices", "blok-b")
    assert said.code == 2 and "Nearest: block-b" in said.err
    said = sourcing("prices", "block-b", "--family", "rowan4")
    assert said.code == 2 and "larch5" in said.err


def test_a_sheet_that_cannot_be_read_is_named_and_the_rest_is_told(counter: Counter, sourcing: Run) -> None:
    (counter.catalogs / "price-sheets" / "quarry" / "2026-07-01.csv").write_bytes(b"<html><body></body></html>")
    said = sourcing("prices", "block-b")
    assert said.code == 4
    assert "2026-07-01.csv" in said.out and "a web page" in said.out and "Harbour Row Parts" in said.out


def test_a_notebook_gets_the_same_as_a_frame(counter: Counter, sourcing: Run) -> None:
    table = package.price_history(package.open_shop(counter.catalogs), "block-b")
    told = json.loads(sourcing("prices", "block-b", "--json").out)
    assert len(table) == sum(len(one["dates"]) for one in told["parts"])
    last = table[(table["supplier"] == "birkental")].iloc[-1]
    assert (last["price"], last["shop_price"], last["currency"]) == (352.0, 394.24, "EUR")
    with pytest.raises(BadInput, match="Nearest"):
        package.price_history(package.open_shop(counter.catalogs), "blok-b")
