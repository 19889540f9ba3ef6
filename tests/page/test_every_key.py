"""Every key that a shop's files may have can be changed on the page, but for those that are named here with their reason."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from sourcing.book import family as books
from sourcing.book.family import read_family
from sourcing.job import Discount, Extra, Header, InHand, Labour, Limits, Unit, Vehicle
from sourcing.letterhead import Letterhead
from sourcing.page.bookfields import KINDS, fields_of, part_fields
from sourcing.page.chargeform import EXTRA
from sourcing.page.fields import Field
from sourcing.page.forms import FORMS
from sourcing.page.shopfields import PAGES, shop_fields, wanted_field
from sourcing.page.supplierfields import layout_fields, supplier_fields
from sourcing.prices.declared import SheetLayout
from sourcing.prices.parts import COLUMNS
from sourcing.prices.suppliers import Earlier, Freight, Supplier
from sourcing.shop import Markup, Shop, Supplies, Wanted

ROOT = Path(__file__).resolve().parents[2]
LARCH = read_family(ROOT / "catalogs" / "larch5" / "interchange.toml")
BY_HAND = {
    "family.code": "it is the folder's name, and jobs and sheets name the family by it",
    "format": "it says which format the file has, and there is one",
}


def keys_of(record: type[BaseModel], above: str = "") -> set[str]:
    return {f"{above}{field.alias or name}" for name, field in record.model_fields.items()}


def asked_by(fields: list[Field]) -> dict[str, Field]:
    return {field.key: field for field in fields}


def cells_of(field: Field) -> set[str]:
    return {cell.key for cell in field.columns}


def test_shop_toml_has_a_form_for_each_of_its_keys() -> None:
    asked = asked_by([field for page in PAGES for field in shop_fields(page, ROOT / "catalogs")])
    tables = {"shop_supplies": Supplies, "letterhead": Letterhead}
    wanted = {key for key in keys_of(Shop) if key not in tables}
    wanted |= {key for name, record in tables.items() for key in keys_of(record, f"{name}.")}
    assert asked.keys() == wanted
    assert cells_of(asked["markup"]) == keys_of(Markup)
    assert cells_of(asked["wanted"]) == keys_of(Wanted) == cells_of(wanted_field(()))


def test_suppliers_toml_has_a_form_for_each_of_its_keys() -> None:
    asked = asked_by([*supplier_fields(), *layout_fields()])
    assert asked.keys() == keys_of(Supplier)
    assert cells_of(asked["freight"]) == keys_of(Freight)
    assert cells_of(asked["sheet"]) == keys_of(SheetLayout)
    assert cells_of(asked["earlier"]) == keys_of(Earlier)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_book_has_a_form_for_each_key_of_each_kind(kind: str) -> None:
    record = getattr(books, kind.capitalize())
    assert asked_by(fields_of(kind, LARCH)).keys() == keys_of(record)


def test_a_book_has_a_form_for_each_kind_and_a_part_number_for_each_column() -> None:
    lists = keys_of(books.Family) - {"family"}
    assert lists - KINDS.keys() == {"format"} & BY_HAND.keys()
    assert keys_of(books.Title, "family.") - {"family.name"} == {"family.code"} & BY_HAND.keys()
    assert asked_by(part_fields(LARCH, {})).keys() == set(COLUMNS)


class SaysAll:
    """A form in which everything is said."""

    def get(self, name: str, /) -> str:
        told = {"what-0": "right", "position-0": "block", "here-design": "plate-1", "what-1": "missing", "extra-rows": "1",
                "wanted-rows": "1", "extra-taxed-0": "labour"}  # fmt: skip
        return told.get(name, "" if name.startswith("what-") or "-out-" in name or name.startswith("known-") else "1")

    def all(self, name: str, /) -> list[str]:
        return ["block"] if name in ("keep", "require", "cores") else []


def job_keys() -> Iterator[str]:
    tables: dict[str, Any] = {"job": Header, "vehicle": Vehicle, "unit": Unit, "limits": Limits, "labour": Labour}
    for table, record in tables.items():
        for key in keys_of(record):
            facts = "vehicle" if table == "vehicle" else "unit"
            codes = [fact.code for fact in LARCH.facts if fact.of == facts]
            yield from [f"{table}.facts.{code}" for code in codes] if key == "facts" else [f"{table}.{key}"]
    yield from (f"found.{mark.position}.{mark.code}" for mark in LARCH.marks)
    yield from (f"readings.{one.code}" for one in LARCH.inspections)
    yield from keys_of(InHand, "in_hand.block.")
    yield from ("wanted", "extra", "quote.discount")


def test_a_job_has_a_form_for_each_of_its_keys() -> None:
    said = {key for form in FORMS.values() for key in form(SaysAll(), LARCH, {})}
    assert set(job_keys()) - said == set()
    assert cells_of(EXTRA) == keys_of(Extra) and keys_of(Discount) == {"amount", "share"}  # one field says either
