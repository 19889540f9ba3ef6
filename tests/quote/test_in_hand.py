"""Parts in hand on the papers: what the customer is charged and told, what the shop sees, what scripts are told."""

from __future__ import annotations

import openpyxl

from quote.hand import HERE, TERMS, Opened, all_in_hand, block_sent_back
from sourcing.labels import labels_of
from sourcing.quote.cautions import cautions
from sourcing.quote.charging import charge
from sourcing.quote.described import described
from sourcing.quote.record import plan_record
from sourcing.quote.workbook import write_quote


def test_what_is_here_is_charged_like_a_bought_part_but_not_what_the_customer_brought(opened: Opened) -> None:
    charged = charge(all_in_hand(opened(HERE)))
    problem = opened(HERE)
    prices = {part.positions: (described(part, problem, labels_of("en")), part.price_cents) for part in charged.parts}
    assert prices == {
        ("block",): ("Block one, rebuilt, 12 months warranty, already here", 36250),  # 250.00 x 1.45
        ("plate",): ("Plate one, supplied by you, no warranty", 0),
        ("screen",): ("Screen one, from our shelf", 1755),  # 10.00 x 1.755
    }
    assert charged.cores == ()  # 80.00 were paid before; the old block goes back against it
    assert charged.freight_cents == 0
    # landed 250.00 + 10.00 - 72.00 + 12.00 = 200.00; the core charge of 80.00 was paid before, and is taken off too
    assert (charged.landed_cents, charged.paid_cores_cents) == (20000, 8000)
    assert charged.margin_cents == charged.before_tax_cents - 28000 - 4155 - 40000


def test_a_core_that_nobody_takes_in_time_is_charged_in_full(opened: Opened) -> None:
    late = (HERE[0], HERE[1].replace("2026-02-27", "2026-01-30"))  # 31 days before the job's date
    problem = opened(late, TERMS)
    assert not problem.in_hand["block"].takes_core


def test_a_part_that_goes_back_costs_what_the_supplier_keeps(opened: Opened) -> None:
    plan = block_sent_back(opened(HERE, TERMS))
    # kit 390.00 + 10.5 % of 250.00 = 26.25; kit's core 80.00 less 80.00 that comes back with the block
    assert (plan.totals.parts, plan.totals.core_charges) == (41625, 0)
    assert plan.totals.freight == 1650  # 10.00 + 2.5 kg x 1.00 + the order's fee of 4.00
    charged = charge(plan)
    assert charged.paid_cores_cents == 8000
    told = plan_record(plan)["in_hand"]
    assert told == [
        {"position": "block", "design": "block-1", "source": "received", "supplier": "nrth", "part_number": "00123",
         "becomes": "sent back", "cost": "26.25", "core_charge_back": "80.00"},
        {"position": "plate", "design": "plate-1", "source": "customer", "becomes": "given back", "cost": "0.00"},
        {"position": "screen", "design": "screen-1", "source": "shelf", "becomes": "stays on the shelf", "cost": "0.00"},
    ]  # fmt: skip


def test_the_quote_says_that_the_customers_part_has_no_warranty(opened: Opened) -> None:
    said = [caution.says for caution in cautions(all_in_hand(opened(HERE)))]
    assert any("without any warranty" in says and "Range plate (Plate one)" in says for says in said)
    assert said.index(next(s for s in said if "without any warranty" in s)) == 1  # after the start in gear
    assert not any("without any warranty" in c.says for c in cautions(block_sent_back(opened(HERE, TERMS))))


def test_each_sheet_shows_its_own_side_of_a_part_in_hand(opened: Opened, tmp_path_factory: object) -> None:
    plan = all_in_hand(opened(HERE))
    path = tmp_path_factory.mktemp("made") / "quote.xlsx"  # type: ignore[attr-defined]
    write_quote(plan, path)
    book = openpyxl.load_workbook(path, data_only=True)
    customer = " ".join(str(cell.value) for row in book["Quote"].iter_rows() for cell in row if cell.value)
    assert "supplied by you, no warranty" in customer
    assert "already here" in customer
    assert "Northgate" not in customer
    shop = [[cell.value for cell in row] for row in book["Parts and sources"].iter_rows()]
    (row,) = [row for row in shop if row[2] == "received"]
    assert row[1:10] == ["Northgate Invented", "received", "00123", "Block one", "fills", 1, 250, 250, 80]


def test_what_the_customer_brought_touches_what_it_stands_for(opened: Opened) -> None:
    assert cautions(all_in_hand(opened(HERE)))[0].code == "start-in-gear"
