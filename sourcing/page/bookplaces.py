"""The places of a shop's book that a form changes: where each entry stands, and what its file must be to be saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sourcing import bookfile
from sourcing.book.family import Family, family_of
from sourcing.book.review import Finding, review
from sourcing.bookshelf import numbers_of
from sourcing.faults import BadInput, BadValue, MissingFile, RepeatedCode, shown
from sourcing.jobtext import changed, difference, lines_of
from sourcing.page.asked import Forged, Form
from sourcing.page.bookfields import FAMILY, KINDS, PART, family_fields, fields_of, part_fields
from sourcing.page.carried import plain_in
from sourcing.page.desk import Desk
from sourcing.page.fields import Field, Kind, Options
from sourcing.page.fieldsaid import beside, kept_as_it_is, value_in
from sourcing.page.reach import NotThere
from sourcing.page.shopfields import PAGES, shop_fields
from sourcing.page.supplierfields import LAYOUT, SUPPLIER, layout_fields, supplier_fields
from sourcing.prices.parts import COLUMNS, Part, parts_of
from sourcing.prices.suppliers import Supplier, read_suppliers, suppliers_of
from sourcing.reading import read_text, tables_of
from sourcing.shop import shop_of
from sourcing.tomltext import literal

Entry = dict[str, Any]
UNDER_HEADS = ("columns", "sheet")  # tables of a supplier that stand under a head of their own


@dataclass(frozen=True)
class Place:
    """The entries of one kind in one file. `family` None: of the shop itself."""

    desk: Desk
    kind: Kind
    path: Path
    family: Family | None
    fields: list[Field]
    home: str

    @property
    def table(self) -> str:
        """The list of the file in which the entries stand."""
        return SUPPLIER.name if self.kind is LAYOUT else self.kind.name

    @property
    def links(self) -> tuple[tuple[str, str], ...]:
        """Where else the same entry is spoken of: an address without its key, and words."""
        if self.kind is SUPPLIER:
            return (("/book/layouts", "How its sheets are laid out"),)
        return (("/book/suppliers", "Its terms"),) if self.kind is LAYOUT else ()

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
        named = bookfile.entries(self.text, self.table)
        return [
            (str(one.get("code", "")), str(one.get("name") or one.get("says") or one.get("ask") or "")) for one in named
        ]

    def standing(self, text: str, key: str) -> Entry | None:
        """An entry as it stands in a text; None for a new one."""
        if self.kind is PART:
            row = bookfile.row_of(text, _number(key)) if key else None
            return None if row is None else _part_entry(row)
        return bookfile.entry_of(text, self.table, key) if key else None

    def said(self, form: Form, old: Entry | None) -> Entry:
        """What a form changes of an entry, by key."""
        told = {field.key: value_in(field, form, self.family) for field in self.fields}
        before = old or {}
        return {
            field.key: beside(field, before.get(field.key), told[field.key])
            for field in self.fields
            if not kept_as_it_is(field, before.get(field.key), told[field.key])
        }

    def changed(self, text: str, key: str, edits: Entry) -> str:
        """A text with an entry changed or added. Raises BadInput where a new one has a code that is taken."""
        if self.kind is PART:
            cells = {name: _cell(name, value) for name, value in edits.items()}
            return bookfile.with_row(text, _number(key) if key else None, cells, COLUMNS)
        if not key and edits.get("code") and bookfile.entry_of(text, self.table, str(edits["code"])):
            taken = f'"{edits["code"]}" twice'
            raise BadInput([RepeatedCode(file=shown(self.path), place=self.kind.name, found=taken)])
        return bookfile.with_entry(text, self.table, key or None, edits, UNDER_HEADS)

    def without(self, text: str, key: str) -> str:
        """A text without an entry."""
        return (
            bookfile.without_row(text, _number(key))
            if self.kind is PART
            else bookfile.without_entry(text, self.table, key)
        )

    def check(self, text: str) -> None:
        """Raises BadInput where the file would not do, or another one not beside it."""
        self.looked_at(text)

    def looked_at(self, text: str) -> tuple[Finding, ...]:
        """The holes of the book as it would be. Raises BadInput with its faults."""
        catalogs = self.desk.reach.catalogs
        if self.table == SUPPLIER.name:
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


class TablesPlace(Place):
    """What is no list: one entry, its fields by the dotted keys of its file; what the form does not ask stays."""

    def listed(self) -> list[tuple[str, str]]:
        return []

    def standing(self, text: str, key: str) -> Entry | None:
        tables = tables_of(text, self.path)
        return {field.key: found for field in self.fields if (found := _at(tables, field.key)) is not None}

    def changed(self, text: str, key: str, edits: Entry) -> str:
        tables = tables_of(text, self.path)
        before = dict(lines_of(tables))
        for name, value in edits.items():
            self._set(tables, name, value)
        return changed(text, difference(before, dict(lines_of(tables))))

    def _set(self, tables: Entry, key: str, value: Any) -> None:
        *way, last = key.split(".")
        for step in way:
            tables = tables.setdefault(step, {})
            if not isinstance(tables, dict):
                found = f'"{tables}"'
                raise BadInput([BadValue(file=shown(self.path), place=step, found=found, expected="a table")])
        if value is None:
            tables.pop(last, None)
        else:
            tables[last] = value

    def looked_at(self, text: str) -> tuple[Finding, ...]:
        if self.kind is FAMILY:
            return super().looked_at(text)
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
    if kind in PAGES:
        fields = shop_fields(kind, catalogs, designs_of(desk) if kind == "shelf" else ())
        return TablesPlace(desk, PAGES[kind], catalogs / "shop.toml", None, fields, f"/book/{kind}")
    if kind == "supplier":
        return Place(desk, SUPPLIER, catalogs / "suppliers.toml", None, supplier_fields(), "/book/suppliers")
    if kind == "layout":
        return Place(desk, LAYOUT, catalogs / "suppliers.toml", None, layout_fields(), "/book/layouts")
    family = desk.shelf().family(code, "family")
    home = f"/families/{quote(family.code, safe='')}/book/{kind}"
    book = catalogs / family.code / "interchange.toml"
    if kind == FAMILY.name:
        return TablesPlace(desk, FAMILY, book, family, family_fields(), home)
    if kind == "part":
        fields = part_fields(family, read_suppliers(catalogs / "suppliers.toml"))
        path = catalogs / family.code / "parts.csv"
        if not path.is_file():
            raise BadInput([MissingFile(file=shown(path), expected="the family's part numbers")])
        return Place(desk, PART, path, family, fields, home)
    if kind not in KINDS:
        raise NotThere(f'A book has no "{kind}".')
    return Place(desk, KINDS[kind], book, family, fields_of(kind, family), home)


def designs_of(desk: Desk) -> Options:
    """The designs of every book that can be read."""
    found: dict[str, str] = {}
    for code in desk.shelf().families:
        try:
            family = desk.shelf().family(code)
        except BadInput:
            continue
        found |= {one.code: f"{one.name} ({one.code})" for one in family.designs if one.code not in found}
    return tuple(found.items())


def opened_text(entry: Entry | None) -> str:
    """An entry as one text, the form in which a page carries it."""
    return "" if entry is None else literal(entry)


def opened_in(text: str) -> Entry | None:
    """An entry out of such a text. Raises Forged where it is none."""
    if not text:
        return None
    found = plain_in(f"x = {text}")["x"]
    if not isinstance(found, dict):
        raise Forged
    return found
