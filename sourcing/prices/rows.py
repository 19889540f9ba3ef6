"""What a price sheet says, as values: its priced rows, its tables, and what a person must still say."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from sourcing.faults import Fault, UnclearColumn
from sourcing.partnumber import PartNumber


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """A price of one piece from a quantity on."""

    quantity: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class PriceRow:
    """A number's price as a sheet states it; None where the sheet says nothing.

    `price` is that of a single piece, None only where the breaks start above 1; `breaks` ascend by quantity, without the
    base. `row` is the one that the spreadsheet shows.
    """

    part_number: PartNumber
    description: str
    price: Decimal | None
    breaks: tuple[PriceBreak, ...]
    currency: str
    core_charge: Decimal | None
    stock: int | None
    pack: int | None
    minimum: int | None
    lead_days: int | None
    valid_until: date | None
    sheet: str
    row: int


@dataclass(frozen=True, slots=True)
class Table:
    """A table of prices in a sheet: its header, its columns by field, and its priced rows, repeated numbers included.

    `decimal` is the mark of its amounts: '.', ',', both where they differ, '' where no amount needs one.
    """

    sheet: str
    header_row: int
    columns: dict[str, str]
    rows: int
    price_sum: Decimal
    currency: str
    decimal: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """What a person must say before a sheet can be read: which column, or which decimal mark, is meant."""

    field: str
    choices: tuple[str, ...]

    def fault(self, **where: Any) -> UnclearColumn:
        """The question as a fault at a place."""
        expected = {"decimal": "a decimal mark that is certain", "date_order": "an order of day and month that is certain",
                    "sheet": "the sheet of that name"}.get(self.field, "")  # fmt: skip
        key = "name" if self.field == "sheet" else self.field
        found = " or ".join(self.choices) if expected else ", ".join(self.choices)
        return UnclearColumn(**where, place=self.field, found=found or "no such column", expected=expected,
                             remedy=f"Say {key} in suppliers.toml under [supplier.sheet]." if expected else "")  # fmt: skip


@dataclass(frozen=True, slots=True)
class PriceSheet:
    """A file as it was read. `barred`: canonical part numbers that stand in it without a usable price, and why."""

    file: str
    status: Literal["read", "unsure", "refused"]
    tables: tuple[Table, ...] = ()
    rows: tuple[PriceRow, ...] = ()
    faults: tuple[Fault, ...] = ()
    questions: tuple[Question, ...] = ()
    barred: dict[str, Fault] = field(default_factory=dict)

    @property
    def decimal(self) -> str:
        """The decimal marks of its tables: one, both where they differ, '' where no amount needs one."""
        return "".join(sorted({mark for table in self.tables for mark in table.decimal}))
