"""What a new sheet changed: which numbers, by how much, and for which designs."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from sourcing.faults import Fault, UnreadPrice
from sourcing.partnumber import PartNumber, canonical
from sourcing.prices.changes import Changes, Kind, changes
from sourcing.prices.offers import Source
from sourcing.prices.parts import Part
from sourcing.prices.rows import PriceBreak, PriceRow

WHERE = Source("list.csv", "", 2, date(2026, 4, 1))


def row(number: str, price: str | None, breaks: dict[int, str] | None = None, **terms: Any) -> PriceRow:
    stated = {"core_charge": None, "stock": None, "pack": None, "minimum": None, "lead_days": None, "valid_until": None}
    steps = tuple(PriceBreak(quantity, Decimal(at)) for quantity, at in (breaks or {}).items())
    return PriceRow(PartNumber(number), f"part {number}", None if price is None else Decimal(price), steps, "",
                    **{**stated, **terms}, sheet="", row=2)  # fmt: skip


def standing(*rows: PriceRow, **barred: Fault) -> dict[str, tuple[PriceRow, Source] | Fault]:
    return {canonical(one.part_number.spelt): (one, WHERE) for one in rows} | barred


def part(number: str, *fills: str, supplier: str = "quarry") -> Part:
    return Part(supplier, PartNumber(number), fills, "reman", 0, frozenset(fills), None, "", "")


def compared(before: dict[str, Any], after: dict[str, Any], *parts: Part) -> Changes:
    return changes(before, after, {"larch5": parts}, "quarry")


@pytest.mark.parametrize(
    ("before", "after", "kind", "difference", "percent"),
    [
        ("200.00", "210.00", Kind.DEARER, "10.00", "5.0"),
        ("200.00", "150.00", Kind.CHEAPER, "-50.00", "-25.0"),
        ("3.00", "3.01", Kind.DEARER, "0.01", "0.3"),
        (None, "9.00", Kind.NEW, None, None),
        ("9.00", None, Kind.GONE, None, None),
    ],
)
def test_a_number_is_new_gone_dearer_or_cheaper_by_money_and_percent(
    before: str | None, after: str | None, kind: Kind, difference: str | None, percent: str | None
) -> None:
    old = standing(row("A-1", before)) if before else {}
    new = standing(row("A-1", after)) if after else {}
    [change] = compared(old, new).changes
    assert (change.kind, change.difference, change.percent) == (
        kind,
        None if difference is None else Decimal(difference),
        None if percent is None else Decimal(percent),
    )


def test_a_number_that_is_the_same_is_only_counted() -> None:
    found = compared(standing(row("A-1", "9.00"), row("A-2", "8.00")), standing(row("a1", "9.00"), row("A-2", "8.00")))
    assert (found.changes, found.same) == ((), 2)


def test_a_number_that_lost_its_price_says_why() -> None:
    call = UnreadPrice(sheet="", row=7, place="Price", found='"call"')
    [change] = compared(standing(row("A-1", "9.00")), standing(A1=call)).changes
    assert change.kind == Kind.BARRED and '"call"' in change.why
    # without a price before and after there is nothing to tell
    assert compared({"A1": call}, {"A1": call}) == Changes((), 1)


def test_core_charge_and_stock_are_told_at_the_same_price_and_at_another() -> None:
    old = standing(row("A-1", "9.00", core_charge=Decimal(50), stock=4), row("A-2", "9.00", stock=4))
    new = standing(row("A-1", "9.00", core_charge=Decimal(60), stock=0), row("A-2", "9.50", stock=None))
    one, two = compared(old, new).changes
    assert (one.kind, one.terms) == (Kind.TERMS, {"core_charge": (Decimal(50), Decimal(60)), "stock": (4, 0)})
    assert (two.kind, two.terms) == (Kind.DEARER, {"stock": (4, None)})


def test_saying_nothing_and_saying_the_usual_are_the_same_terms() -> None:
    old = standing(row("A-1", "9.00"))
    new = standing(row("A-1", "9.00", core_charge=Decimal("0.00"), pack=1, minimum=1))
    assert compared(old, new).changes == ()
    # no stock stated can be bought, none in stock cannot: that is a difference
    assert [change.kind for change in compared(old, standing(row("A-1", "9.00", stock=0))).changes] == [Kind.TERMS]


def test_a_break_that_is_gone_is_a_change_of_terms() -> None:
    [change] = compared(standing(row("A-1", "9.00", {5: "8.00"})), standing(row("A-1", "9.00"))).changes
    assert change.kind == Kind.TERMS and list(change.terms) == ["breaks"]


def test_where_prices_start_above_one_piece_the_first_break_is_compared() -> None:
    [change] = compared(standing(row("A-1", None, {5: "8.00"})), standing(row("A-1", None, {5: "8.40"}))).changes
    assert (change.kind, change.difference) == (Kind.DEARER, Decimal("0.40"))


def test_the_designs_touched_are_those_of_this_suppliers_parts_in_every_family() -> None:
    old, new = standing(row("A-1", "9.00"), row("A-2", "5.00")), standing(row("A-1", "9.50"), row("A-2", "6.00"))
    parts = {"larch5": [part("a 1", "block-a", "plate-1"), part("A-2", "block-a", supplier="harbour")],
             "rowan4": [part("A-1", "block-r")]}  # fmt: skip
    found = changes(old, new, parts, "quarry")
    assert list(found.designs) == ["block-a", "block-r", "plate-1"]
    assert [change.part_number for change in found.ours] == ["A-1"]
