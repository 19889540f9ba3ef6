"""A sheet in the form in which the cache keeps it: JSON of plain values."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from typing import Any

from sourcing.faults import Fault
from sourcing.partnumber import PartNumber
from sourcing.prices.cache import Cache, sheet_key
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceBreak, PriceRow, PriceSheet, Question, Table


def keep(sheet: PriceSheet, content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet:
    """A sheet, put into the cache on the way; a refused one is not kept."""
    if cache is not None and sheet.status != "refused":
        cache.put(sheet_key(content, layout), packed(sheet))
    return sheet


def kept(content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet | None:
    """What the cache keeps of a file read in a layout, or None."""
    parsed = cache.get(sheet_key(content, layout)) if cache is not None else None
    if parsed is None:
        return None
    try:
        return unpacked(parsed)
    except (ValueError, TypeError, KeyError, IndexError, ArithmeticError, AttributeError):
        return None  # damaged: parsed again


def packed(sheet: PriceSheet) -> str:
    """A sheet as JSON: plain values only."""
    listed = [*sheet.faults]
    places = {id(fault): place for place, fault in enumerate(listed)}
    for fault in sheet.barred.values():
        if id(fault) not in places:
            places[id(fault)] = len(listed)
            listed.append(fault)
    return json.dumps({
        "status": sheet.status,
        "tables": [[t.sheet, t.header_row, t.columns, t.rows, str(t.price_sum), t.currency, t.decimal] for t in sheet.tables],
        "rows": [_packed_row(row) for row in sheet.rows],
        "faults": [[f.code, f.sheet, f.row, f.place, f.found, f.expected, f.remedy] for f in listed],
        "fault_count": len(sheet.faults),
        "questions": [[question.field, question.choices] for question in sheet.questions],
        "barred": {number: places[id(fault)] for number, fault in sheet.barred.items()},
    })  # fmt: skip


def _packed_row(row: PriceRow) -> list[Any]:
    return [
        row.part_number.spelt, row.description, None if row.price is None else str(row.price),
        [[step.quantity, str(step.price)] for step in row.breaks], row.currency,
        None if row.core_charge is None else str(row.core_charge), row.stock, row.pack, row.minimum, row.lead_days,
        row.valid_until and row.valid_until.isoformat(), row.sheet, row.row,
    ]  # fmt: skip


def unpacked(parsed: str) -> PriceSheet:
    """The sheet that `packed` wrote. Raises ValueError, TypeError, KeyError or IndexError on anything else."""
    said = json.loads(parsed)
    kinds = {kind.code: kind for kind in Fault.__subclasses__()}
    listed = [
        kinds[code](sheet=sheet, row=row, place=place, found=found, expected=expected, remedy=remedy)
        for code, sheet, row, place, found, expected, remedy in said["faults"]
    ]
    tables = [Table(s, h, columns, n, Decimal(total), c, mark) for s, h, columns, n, total, c, mark in said["tables"]]
    return PriceSheet(
        "",
        said["status"],
        tuple(tables),
        tuple(_unpacked_row(*row) for row in said["rows"]),
        tuple(listed[: said["fault_count"]]),
        tuple(Question(name, tuple(choices)) for name, choices in said["questions"]),
        {number: listed[place] for number, place in said["barred"].items()},
    )


def _unpacked_row(number: str, says: str, price: str | None, breaks: list[Any], currency: str, core: str | None,
                  stock: int | None, pack: int | None, minimum: int | None, lead: int | None, until: str | None,
                  sheet: str, row: int) -> PriceRow:  # fmt: skip
    return PriceRow(
        PartNumber(number), says, None if price is None else Decimal(price),
        tuple(PriceBreak(quantity, Decimal(step)) for quantity, step in breaks), currency,
        None if core is None else Decimal(core), stock, pack, minimum, lead,
        date.fromisoformat(until) if until else None, sheet, row,
    )  # fmt: skip
