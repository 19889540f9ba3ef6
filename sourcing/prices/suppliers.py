"""A supplier's terms of trade: currency, freight, minimums, cores, breaks, and how its sheet is laid out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from sourcing.faults import BadValue, Fault, RepeatedCode, UnknownName, shown
from sourcing.prices.declared import SheetLayout
from sourcing.prices.layout import FIELDS, Layout, is_field
from sourcing.reading import Amount, Code, Day, Record, Share, Words, read_text, toml_of
from sourcing.shop import Currency

Days = Annotated[int, Field(ge=0, le=1000)]


class Freight(Record):
    """One way in which a supplier sends: working days in transit and what an order costs."""

    mode: Code
    days: Days
    flat: Amount = Decimal(0)
    per_kg: Amount = Decimal(0)
    free_over: Amount | None = None


COUNTER = Freight(mode="counter", days=0)


class Earlier(Record):
    """[[supplier.earlier]]: how a supplier's sheets were laid out up to a day, where that has changed since."""

    until: Day
    columns: dict[str, str] = {}
    sheet: SheetLayout = SheetLayout()


class Supplier(Record):
    """One [[supplier]] of suppliers.toml; amounts are in the supplier's own currency.

    order_fee     once an order, whatever its freight; counts within the order's freight and is never waived
    return_days   calendar days from the day on which a part came within which it is taken back unused; left out: not at all
    restock_share share of the price that the supplier keeps of a part that goes back
    core_days     calendar days from the day on which a part came within which its core must be back; left out: no end
    core_needs    the state in which a core must be, in the supplier's words: "complete, drained, in its box"
    """

    code: Code
    name: Words
    currency: Currency | None = None
    lead_days: Days = 0
    order_minimum: Amount = Decimal(0)
    core_recovery: Share = Decimal(1)
    core_return_cost: Amount = Decimal(0)
    order_fee: Amount = Decimal(0)
    return_days: Days | None = None
    restock_share: Share = Decimal(0)
    core_days: Days | None = None
    core_needs: Words = ""
    breaks: Literal["all-units", "incremental"] = "all-units"
    freight: list[Freight] = []
    columns: dict[str, str] = {}
    sheet: SheetLayout = SheetLayout()
    earlier: list[Earlier] = []

    @property
    def modes(self) -> tuple[Freight, ...]:
        return tuple(self.freight) or (COUNTER,)

    def layout(self, shop_currency: str, day: date | None = None) -> Layout:
        """How its sheets are laid out now, or were on a day; a bare currency sign means its own currency."""
        held = [period for period in self.earlier if day is not None and day <= period.until]
        said: Supplier | Earlier = min(held, key=lambda period: period.until) if held else self
        return Layout.declared(said.columns, said.sheet, self.currency or shop_currency)


class Suppliers(Record):
    """suppliers.toml."""

    suppliers: list[Supplier] = Field(default=[], alias="supplier")


def read_suppliers(path: Path) -> dict[str, Supplier]:
    """Read suppliers.toml. Raises BadInput with every fault of the file."""
    return suppliers_of(read_text(path), path)


def suppliers_of(text: str, path: Path) -> dict[str, Supplier]:
    """The same for a text at hand, which need not stand in the file of that name."""
    listed = toml_of(text, path, Suppliers, lambda read: _faults(read.suppliers, shown(path))).suppliers
    return {supplier.code: supplier for supplier in listed}


def _faults(listed: list[Supplier], file: str) -> Iterator[Fault]:
    seen: set[str] = set()
    for supplier in listed:
        place = f"supplier ({supplier.code})"
        if supplier.code in seen:
            yield RepeatedCode(file=file, place="supplier", found=f'"{supplier.code}" twice')
        seen.add(supplier.code)
        if supplier.code in (".", "..") or set(supplier.code) & set('/\\:*?"<>|'):
            yield BadValue(file=file, place=f"{place} code", found=f'"{supplier.code}"',
                           expected="a code that can name a folder")  # fmt: skip
        modes = [freight.mode for freight in supplier.freight]
        for mode in sorted({mode for mode in modes if modes.count(mode) > 1}):
            yield RepeatedCode(file=file, place=f"{place} freight mode", found=f'"{mode}" twice')
        ends = [period.until for period in supplier.earlier]
        for day in sorted({day for day in ends if ends.count(day) > 1}):
            yield RepeatedCode(file=file, place=f"{place} earlier", found=f"until = {day.isoformat()} twice")
        for field in [*supplier.columns, *(field for period in supplier.earlier for field in period.columns)]:
            if not is_field(field):
                yield UnknownName(file=file, place=f"{place} columns", found=f'"{field}"',
                                  expected=f"a field: {', '.join(FIELDS)}")  # fmt: skip
