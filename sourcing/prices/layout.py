"""How a sheet is laid out, as far as somebody has said it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sourcing.prices.declared import SheetLayout

FIELDS = (
    "part_number", "description", "price", "currency", "core_charge", "stock", "pack", "minimum", "lead_days",
    "valid_until", "quantity", "superseded_by", "valid_from", "price_unit", "group",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layout:
    """What is known of a sheet before it is read.

    `columns` holds header texts by field; an empty text says that the sheet has no such column. Where a sheet has no row
    of headers, a column's letter stands for its header. `currency` is the supplier's: it says which dollar, crown or yen a
    bare sign means.
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
        if sheet is None:
            return cls(dict(columns), currency=currency)
        return cls(dict(columns), sheet.name, sheet.header_row, sheet.decimal, sheet.date_order, sheet.encoding,
                   sheet.separator, currency)  # fmt: skip

    def with_columns(self, columns: Mapping[str, str]) -> Layout:
        """The same layout with the columns that a person names, by field; a break's field is its quantity and a plus: "10+"."""
        return replace(self, columns={**self.columns, **columns})

    def said(self) -> dict[str, Any]:
        """The layout as plain values, by which another process makes it again."""
        return asdict(replace(self, columns=dict(sorted(self.columns.items()))))


def is_field(name: str) -> bool:
    """Whether a column can be declared under this name.

    >>> is_field("price"), is_field("10+"), is_field("colour")
    (True, True, False)
    """
    return name in FIELDS or re.fullmatch(r"[1-9]\d{0,5}\+", name) is not None
