"""A textbook's make-or-buy decision comes out of the tool's own files, `compare` and the break-even of a price.

Source: the bagel shop of R. D. Reid and N. R. Sanders, "Operations Management: An Integrated Approach", Wiley, chapter 4
(supply chain management), the example of make-or-buy analysis. To buy costs 1,000 a year for airtight containers and 0.40
for each bagel; to make costs 15,000 a year for a small kitchen and 0.15 for each. At 60,000 bagels a year buying costs
25,000 and making 24,000; the two are equal at 56,000 bagels, where each costs 23,400 (the last is arithmetic on the example).
The example's figures were read in a public transcript of it; book and chapter are named from memory.

How it is told here: a year's bagels are one pack of one part number, bought or made, and each is a route of its own. A fixed
cost is the flat freight of an order or, the second time, a task that one route needs. The tool's axis is the price and not
the quantity, so the published quantity is met from both sides: at it the two routes cost the same to the cent and the price
of a bought bagel turns the choice at the published 0.40; a bagel less and buying is the cheapest, a bagel more and making is.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sourcing.cli import app

EQUAL, EXPECTED = 56_000, 60_000
FIXED = {"make": "15000.00", "buy": "1000.00"}
EACH = {"make": "0.15", "buy": "0.40"}


def write_shop(pieces: int, fixed: str, folder: Path) -> Path:
    """The two routes as two suppliers; `fixed` says whether the kitchen is freight or a task. Returns the job."""
    catalogs = folder / "catalogs"
    book = """format = 1
[family]
code = "bagels"
name = "Bagels"
[[era]]
code = "year"
name = "year"
from = "2000-01"
[[position]]
code = "bagel"
name = "Bagel"
lead = true
"""
    terms, parts = [], ["supplier,part_number,fills,condition"]
    for way, price in EACH.items():
        book += f'[[design]]\ncode = "{way}"\nposition = "bagel"\nname = "{way}"\nfitted = ["year"]\n'
        terms.append(f'[[supplier]]\ncode = "{way}r"\nname = "{way}r"')
        if way == "buy" or fixed == "freight":
            terms.append(f'[[supplier.freight]]\nmode = "road"\ndays = 0\nflat = {FIXED[way]}')
        parts.append(f"{way}r,BAGEL-{way},{way},new")
        sheet = catalogs / "price-sheets" / f"{way}r" / "2026-01-02.csv"
        sheet.parent.mkdir(parents=True)
        with sheet.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([["Part Number", "Price", "Pack"], [f"BAGEL-{way}", price, pieces]])
    if fixed == "task":
        book += f'[[task]]\ncode = "kitchen"\nname = "Kitchen"\nhours = 0\ncost = {FIXED["make"]}\n'
        book += 'when = {bagel = ["make"]}\n'
    (catalogs / "bagels").mkdir()
    (catalogs / "bagels" / "interchange.toml").write_text(book, encoding="utf-8")
    (catalogs / "bagels" / "parts.csv").write_text("\n".join(parts), encoding="utf-8")
    (catalogs / "suppliers.toml").write_text("\n".join(terms), encoding="utf-8")
    (catalogs / "shop.toml").write_text('currency = "USD"\n', encoding="utf-8")
    job = folder / "job.toml"
    job.write_text('[job]\nnumber = "1"\nfamily = "bagels"\ndate = 2026-01-05\n[unit]\nbuilt = "2026-01"\n', "utf-8")
    return job


def compared(pieces: int, fixed: str, folder: Path, *more: str) -> dict[str, Any]:
    """What `compare --json` says of a year with so many bagels."""
    folder.mkdir(exist_ok=True)
    job = write_shop(pieces, fixed, folder)
    said = CliRunner().invoke(app, ["compare", str(job), "--catalogs", str(folder / "catalogs"), "--json", *more])
    assert said.exit_code == 0, said.output
    found: dict[str, Any] = json.loads(said.output)
    return found


def costs(said: dict[str, Any]) -> dict[str, str]:
    return {route["design"]: route["cost"] for route in said["routes"]}


@pytest.mark.parametrize("fixed", ["freight", "task"])
def test_at_the_expected_sales_making_costs_a_thousand_less(fixed: str, tmp_path: Path) -> None:
    said = compared(EXPECTED, fixed, tmp_path)
    assert costs(said) == {"make": "24000.00", "buy": "25000.00"}
    assert said["cheapest"] == said["recommended"] == "make"
    dearer = said["routes"][1]
    assert dearer["more"] == "1000.00"
    assert dearer["causes"]["parts"] == "15000.00"


@pytest.mark.parametrize("fixed", ["freight", "task"])
def test_both_cost_the_same_at_the_published_quantity_and_change_places_there(fixed: str, tmp_path: Path) -> None:
    assert costs(compared(EQUAL, fixed, tmp_path / "at")) == {"make": "23400.00", "buy": "23400.00"}
    assert compared(EQUAL - 1, fixed, tmp_path / "below")["cheapest"] == "buy"
    assert compared(EQUAL + 1, fixed, tmp_path / "above")["cheapest"] == "make"


@pytest.mark.parametrize("fixed", ["freight", "task"])
def test_at_the_published_quantity_the_choice_turns_at_the_published_price(fixed: str, tmp_path: Path) -> None:
    said = compared(EQUAL, fixed, tmp_path, "--part", "buyr/BAGEL-buy", "--from", "0.01", "--to", "1.00")
    (study,) = said["break_even"]
    assert (study["supplier"], study["part_number"], study["price"]) == ("buyr", "BAGEL-buy", "0.40")
    first, last = study["pieces"]
    assert (first["from"], first["design"], first["uses_part"], first["cost_at_from"]) == (
        "0.01",
        "buy",
        True,
        "1560.00",
    )
    assert (last["to"], last["design"], last["uses_part"], last["cost_at_to"]) == ("1.00", "make", False, "23400.00")
    # At 0.40 itself the two are equal: the coin belongs to either.
    assert (first["to"], last["from"]) in (("0.40", "0.41"), ("0.39", "0.40"))
    assert first["cost_at_to"] == {"0.40": "23400.00", "0.39": "22840.00"}[first["to"]]


def test_at_the_expected_sales_buying_wins_up_to_what_making_costs_over_its_containers(tmp_path: Path) -> None:
    """(24,000 - 1,000) / 60,000 = 0.3833: arithmetic on the example."""
    said = compared(EXPECTED, "freight", tmp_path, "--part", "buyr/BAGEL-buy", "--from", "0.30", "--to", "0.50")
    first, last = said["break_even"][0]["pieces"]
    assert (first["to"], first["cost_at_to"]) == ("0.38", "23800.00")
    assert (last["from"], last["cost_at_from"], last["design"]) == ("0.39", "24000.00", "make")
    (ask,) = [ask for ask in said["asks"] if ask["supplier"] == "buyr"]
    assert ask["wins_at"] == "0.38"
