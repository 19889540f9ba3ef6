"""The places of a shop's book that a form changes: where each entry stands, and what its file must be to be saved."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sourcing import bookfile
from sourcing.book.family import Family, family_of
from sourcing.book.review import Finding, review
from sourcing.bookshelf import numbers_of
from sourcing.faults import BadInput, MissingFile, RepeatedCode, shown
from sourcing.jobtext import changed, literal
from sourcing.page.asked import Forged, Form
from sourcing.page.bookforms import (
    KINDS,
    PART,
    SUPPLIER,
    Field,
    Kind,
    fields_of,
    kept_as_it_is,
    part_fields,
    shop_fields,
    supplier_fields,
    value_in,
)
from sourcing.page.desk import Desk
from sourcing.page.reach import NotThere
from sourcing.prices.parts import COLUMNS, Part, parts_of
from sourcing.prices.suppliers import Supplier, read_suppliers, suppliers_of
from sourcing.reading import read_text, tables_of
from sourcing.shop import shop_of

Entry = dict[str, Any]


@dataclass(frozen=True)
class Place:
    """The entries of one kind in one file. `family` None: the shop's own."""

    desk: Desk
    kind: Kind
    path: Path
    family: Family | None
    fields: list[Field]
    home: str

    @cached_property
    def text(self) -> str:
        """The file's text. Raises BadInput."""
        return read_text(self.path)

    def listed(self) -> list[tuple[str, str]]:
        """Every entry: what it is known by, and how a person calls it."""
        if self.kind is PART:
            return [
                (f"{row.get('supplier', '')}/{row.get('part_number', '')}", row.get("fills", ""))
                for row in bookfile.rows(self.text)
            ]
        named = bookfile.entries(self.text, self.kind.name)
        return [
            (str(one.get("code", "")), str(one.get("name") or one.get("says") or one.get("ask") or "")) for one in named
        ]

    def standing(self, text: str, key: str) -> Entry | None:
        """An entry as it stands in a text; None for a new one."""
        if self.kind is PART:
            row = bookfile.row_of(text, _number(key)) if key else None
            return None if row is None else _part_entry(row)
        return bookfile.entry_of(text, self.kind.name, key) if key else None

    def said(self, form: Form, old: Entry | None) -> Entry:
        """What a form changes of an entry, by key."""
        told = {field.key: value_in(field, form, self.family) for field in self.fields}
        return {
            field.key: told[field.key]
            for field in self.fields
            if not kept_as_it_is(field, (old or {}).get(field.key), told[field.key])
        }

    def changed(self, text: str, key: str, edits: Entry) -> str:
        """A text with an entry changed or added. Raises BadInput where a new one has a code that is taken."""
        if self.kind is PART:
            cells = {name: _cell(name, value) for name, value in edits.items()}
            return bookfile.with_row(text, _number(key) if key else None, cells, COLUMNS)
        if not key and edits.get("code") and bookfile.entry_of(text, self.kind.name, str(edits["code"])):
            taken = f'"{edits["code"]}" twice'
            raise BadInput([RepeatedCode(file=shown(self.path), place=self.kind.name, found=taken)])
        return bookfile.with_entry(text, self.kind.name, key or None, edits)

    def without(self, text: str, key: str) -> str:
        """A text without an entry."""
        return (
            bookfile.without_row(text, _number(key))
            if self.kind is PART
            else bookfile.without_entry(text, self.kind.name, key)
        )

    def check(self, text: str) -> None:
        """Raises BadInput where the file would not do, or another one not beside it."""
        self.looked_at(text)

    def looked_at(self, text: str) -> tuple[Finding, ...]:
        """The holes of the book as it would be. Raises BadInput with its faults."""
        catalogs = self.desk.reach.catalogs
        if self.kind is SUPPLIER:
            suppliers = suppliers_of(text, self.path)
            for family in self.desk.families():
                _parts(catalogs, family, suppliers)
            return ()
        assert self.family is not None
        suppliers = read_suppliers(catalogs / "suppliers.toml")
        if self.kind is PART:
            return review(self.family, numbers_of(parts_of(text, self.path, self.family, suppliers)))
        family = family_of(text, self.path)
        return review(family, numbers_of(_parts(catalogs, family, suppliers)))


class ShopPlace(Place):
    """shop.toml: one entry, its fields by dotted keys; what the form does not ask stays."""

    def standing(self, text: str, key: str) -> Entry | None:
        tables = tables_of(text, self.path)
        return {field.key: found for field in self.fields if (found := _at(tables, field.key)) is not None}

    def changed(self, text: str, key: str, edits: Entry) -> str:
        return changed(text, {name: None if value is None else literal(value) for name, value in edits.items()})

    def looked_at(self, text: str) -> tuple[Finding, ...]:
        shop_of(text, self.path)
        return ()


def _at(tables: Mapping[str, Any], key: str) -> Any:
    here: Any = tables
    for step in key.split("."):
        here = here.get(step) if isinstance(here, Mapping) else None
    return here


def _parts(catalogs: Path, family: Family, suppliers: Mapping[str, Supplier]) -> tuple[Part, ...]:
    path = catalogs / family.code / "parts.csv"
    return parts_of(read_text(path), path, family, suppliers) if path.is_file() else ()


def _number(key: str) -> tuple[str, str]:
    supplier, _, number = key.partition("/")
    return supplier, number


def _part_entry(row: Mapping[str, str]) -> Entry:
    """A row of parts.csv with its lists taken apart; blanks left out."""
    split = {"fills": " + ", "core_accepts": "|"}
    return {
        name: [one.strip() for one in cell.split(split[name]) if one.strip()] if name in split else cell
        for name, cell in row.items()
        if cell
    }


def _cell(name: str, value: Any) -> str:
    join = {"fills": " + ", "core_accepts": "|"}
    return join[name].join(value or []) if name in join else "" if value is None else " ".join(str(value).split())


def place_of(desk: Desk, kind: str, code: str = "") -> Place:
    """The place of a kind of entry. Raises NotThere, BadInput."""
    catalogs = desk.reach.catalogs
    if kind == "shop":
        return ShopPlace(
            desk, Kind("shop", "the shop", "The shop", ""), catalogs / "shop.toml", None, shop_fields(), "/book/shop"
        )
    if kind == "supplier":
        return Place(desk, SUPPLIER, catalogs / "suppliers.toml", None, supplier_fields(), "/book/suppliers")
    family = desk.shelf().family(code, "family")
    home = f"/families/{quote(family.code, safe='')}/book/{kind}"
    if kind == "part":
        fields = part_fields(family, read_suppliers(catalogs / "suppliers.toml"))
        path = catalogs / family.code / "parts.csv"
        if not path.is_file():
            raise BadInput([MissingFile(file=shown(path), expected="the family's part numbers")])
        return Place(desk, PART, path, family, fields, home)
    if kind not in KINDS:
        raise NotThere(f'A book has no "{kind}".')
    return Place(desk, KINDS[kind], catalogs / family.code / "interchange.toml", family, fields_of(kind, family), home)


def opened_text(entry: Entry | None) -> str:
    """An entry as one text, the form in which a page carries it."""
    return "" if entry is None else literal(entry)


def opened_in(text: str) -> Entry | None:
    """An entry out of such a text. Raises Forged where it is none."""
    if not text:
        return None
    try:
        found = tomllib.loads(f"x = {text}", parse_float=Decimal)["x"]
    except (ValueError, RecursionError):
        raise Forged from None
    if not isinstance(found, dict):
        raise Forged
    return found
