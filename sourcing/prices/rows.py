"""What a price sheet says, as values: its priced rows, its tables, and what a person must still say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from sourcing.faults import ChangedLayout, Fault, UnclearColumn
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
    base. `row` is the one that the spreadsheet shows. `superseded_by` is the number that the sheet says follows this one, `group`
    the brand or group of the heading above it.
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
    superseded_by: str = ""
    valid_from: date | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of prices in a sheet: its header, its columns by field, and its priced rows, repeated numbers included.

    `decimal` is the mark of its amounts: '.', ',', both where they differ, '' where no amount needs one. `confidence`, from 0
    to 1, is how surely header words and contents agree on the columns; `asides` counts the rows that are none of our business,
    `hidden_rows` those that the spreadsheet hides and that were read all the same; `hidden` tells that the whole sheet is.
    """

    sheet: str
    header_row: int
    columns: dict[str, str]
    rows: int
    price_sum: Decimal
    currency: str
    decimal: str = ""
    confidence: float = 1.0
    asides: int = 0
    hidden_rows: int = 0
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """What a person must say before a sheet can be read: which column, or which decimal mark, is meant.

    `declared` is the header that a layout names for the field and that the sheet does not have.
    """

    field: str
    choices: tuple[str, ...]
    declared: str = ""

    def fault(self, **where: Any) -> Fault:
        """The question as a fault at a place; where a layout was declared that no longer fits, that is what it says."""
        if self.declared:
            return ChangedLayout(**where, place=self.field, found=", ".join(self.choices) or "no such column",
                                 expected=f'the declared header "{self.declared}"')  # fmt: skip
        expected = {"decimal": "a decimal mark that is certain", "date_order": "an order of day and month that is certain",
                    "sheet": "the sheet of that name"}.get(self.field, "")  # fmt: skip
        key = "name" if self.field == "sheet" else self.field
        found = " or ".join(self.choices) if expected else ", ".join(self.choices)
        return UnclearColumn(**where, place=self.field, found=found or "no such column", expected=expected,
                             remedy=f"Say {key} in suppliers.toml under [supplier.sheet]." if expected else "")  # fmt: skip


@dataclass(frozen=True, slots=True)
class PriceSheet:
    """A file as it was read.

    `rows` holds each number that can be bought once, `stood` every priced row as it stood, repeated ones included; `barred`:
    canonical part numbers that stand in it without a usable price, and why. `notes` are sentences on how it was read: what was
    hidden, what serves as part number. `encoding` is that of a text.
    """

    file: str
    status: Literal["read", "unsure", "refused"]
    tables: tuple[Table, ...] = ()
    rows: Sequence[PriceRow] = ()
    faults: tuple[Fault, ...] = ()
    questions: tuple[Question, ...] = ()
    barred: dict[str, Fault] = field(default_factory=dict)
    stood: Sequence[PriceRow] = ()
    notes: tuple[str, ...] = ()
    encoding: str = ""

    @property
    def decimal(self) -> str:
        """The decimal marks of its tables: one, both where they differ, '' where no amount needs one."""
        return "".join(sorted({mark for table in self.tables for mark in table.decimal}))

    @property
    def canonicals(self) -> Sequence[str]:
        """The canonical form of each row's number, in the order of the rows."""
        told = getattr(self.rows, "canonicals", None)
        return told if told is not None else [row.part_number.canonical for row in self.rows]

    def row_of(self, canonical: str) -> PriceRow | None:
        """The row of a number, or None where it has none that can be bought."""
        finds = getattr(self.rows, "place_of", None)
        place = (
            finds(canonical) if finds else next((n for n, key in enumerate(self.canonicals) if key == canonical), None)
        )
        return None if place is None else self.rows[place]

    def spelt(self, place: int) -> str:
        """The number of a row as the sheet spells it."""
        column = getattr(self.rows, "column", None)
        return str(column("number")[place]) if column else self.rows[place].part_number.spelt

    def places_in_other_currency(self, currency: str) -> list[int]:
        """The rows, by place, that name another currency than this one."""
        distinct = getattr(self.rows, "distinct", None)
        if distinct and distinct("currency") <= {"", currency}:
            return []
        return [at for at, row in enumerate(self.rows) if row.currency and row.currency != currency]
