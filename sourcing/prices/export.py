"""Rows of price sheets as CSV that a spreadsheet program opens without running any of it."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from sourcing.prices.rows import PriceRow, PriceSheet

FIELDS = ("file", "sheet", "row", "part_number", "description", "price", "currency", "core_charge", "stock", "pack",
          "minimum", "lead_days", "valid_until")  # fmt: skip
_SIGNED_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)*")


def harmless(text: str) -> str:
    """Text as a CSV cell: what a spreadsheet program would run as a formula gets an apostrophe before it.

    >>> harmless("=1+1"), harmless("-12.50"), harmless("@here"), harmless("00710-02")
    ("'=1+1", '-12.50', "'@here", '00710-02')
    """
    if text[:1] in ("=", "+", "-", "@", "\t", "\r") and not _SIGNED_NUMBER.fullmatch(text):
        return "'" + text
    return text


def stood(amount: Decimal | None) -> str:
    """An amount as it stood: no rounding, no exponent."""
    return "" if amount is None else f"{amount:f}"


def rows_as_csv(sheets: Iterable[PriceSheet]) -> str:
    """The canonical rows of sheets, prices as they stood, breaks as columns such as "5+"."""
    listed = [(sheet.file, row) for sheet in sheets for row in sheet.stood or sheet.rows]
    quantities = sorted({step.quantity for _, row in listed for step in row.breaks})
    header = [*FIELDS, *(f"{quantity}+" for quantity in quantities)]
    return as_csv([header, *(_cells(file, row, quantities) for file, row in listed)])


def _cells(file: str, row: PriceRow, quantities: Sequence[int]) -> list[str]:
    steps = {step.quantity: step.price for step in row.breaks}
    counts = (row.stock, row.pack, row.minimum, row.lead_days)
    return [
        file, row.sheet, str(row.row), row.part_number.spelt, row.description, stood(row.price), row.currency,
        stood(row.core_charge), *("" if count is None else str(count) for count in counts),
        row.valid_until.isoformat() if row.valid_until else "", *(stood(steps.get(q)) for q in quantities),
    ]  # fmt: skip


def as_csv(table: Iterable[Iterable[str]]) -> str:
    """A table of texts as CSV, each cell harmless."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([harmless(cell) for cell in line] for line in table)
    return out.getvalue()
