"""How a sheet is laid out, as suppliers.toml declares it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Literal

from pydantic import Field

from sourcing.reading import Record

FIELDS = (
    "part_number", "description", "price", "currency", "core_charge", "stock", "pack", "minimum", "lead_days",
    "valid_until", "quantity", "superseded_by", "valid_from", "price_unit", "group",
)  # fmt: skip


class SheetLayout(Record):
    """[supplier.sheet]: how a supplier's sheets are written, where recognition needs help."""

    name: str | None = None
    header_row: Annotated[int, Field(ge=1, le=1_048_576)] | None = None
    decimal: Literal[".", ","] | None = None
    date_order: Literal["dmy", "mdy", "ymd"] | None = None
    encoding: str | None = None
    separator: Annotated[str, Field(min_length=1, max_length=1)] | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """What is known of a sheet before it is read.

    `columns` holds header texts by field; an empty text says that the sheet has no such column. `currency` is the
    supplier's: it says which dollar, crown or yen a bare sign means.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    sheet: str | None = None
    header_row: int | None = None
    decimal: str | None = None
    date_order: str | None = None
    encoding: str | None = None
    separator: str | None = None
    currency: str = ""

    @classmethod
    def declared(cls, columns: Mapping[str, str], sheet: SheetLayout | None = None, currency: str = "") -> Layout:
        """The layout that suppliers.toml declares."""
        said = sheet or SheetLayout()
        return cls(dict(columns), said.name, said.header_row, said.decimal, said.date_order, said.encoding,
                   said.separator, currency)  # fmt: skip

    def with_columns(self, columns: Mapping[str, str]) -> Layout:
        """The same layout with the columns that a person names, by field; a break's field is its quantity and a plus: "10+"."""
        return replace(self, columns={**self.columns, **columns})


def is_field(name: str) -> bool:
    """Whether a column can be declared under this name.

    >>> is_field("price"), is_field("10+"), is_field("colour")
    (True, True, False)
    """
    return name in FIELDS or re.fullmatch(r"[1-9]\d{0,5}\+", name) is not None
