"""A sheet in the form in which the cache keeps it: a head of plain values, and its rows' columns as they lie."""

from __future__ import annotations

import json
import struct
import zlib
from decimal import Decimal
from typing import Any

from sourcing.faults import Fault
from sourcing.prices.cache import Cache, sheet_key
from sourcing.prices.columns import Column, Rows, texts_of
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceSheet, Question, Table

_HEAD = struct.Struct("<4sII")  # a mark, the checksum of all that follows, the length of the head
_MARK = b"rows"


def keep(packed_sheet: bytes, status: str, content: bytes, layout: Layout, cache: Cache | None) -> None:
    """Put a packed sheet into the cache; a refused one is not kept."""
    if cache is not None and status != "refused":
        cache.put(sheet_key(content, layout), packed_sheet)


def kept(content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet | None:
    """What the cache keeps of a file read in a layout, or None."""
    parsed = cache.get(sheet_key(content, layout)) if cache is not None else None
    if parsed is None:
        return None
    try:
        return unpacked(parsed)
    except (ValueError, TypeError, KeyError, IndexError, ArithmeticError, AttributeError, struct.error):
        return None  # damaged: parsed again


def packed(sheet: PriceSheet) -> bytes:
    """A sheet as bytes: plain values only."""
    listed = [*sheet.faults]
    places = {id(fault): place for place, fault in enumerate(listed)}
    for fault in sheet.barred.values():
        if id(fault) not in places:
            places[id(fault)] = len(listed)
            listed.append(fault)
    rows, stood = _columns(sheet.rows), _columns(sheet.stood)
    pieces = [*rows.packed(), *([] if stood is rows else stood.packed())]
    head = json.dumps({
        "status": sheet.status,
        "tables": [[t.sheet, t.header_row, t.columns, t.rows, str(t.price_sum), t.currency, t.decimal, t.confidence, t.asides,
                    t.hidden_rows, t.hidden] for t in sheet.tables],
        "faults": [[f.code, f.sheet, f.row, f.place, f.found, f.expected, f.remedy] for f in listed],
        "fault_count": len(sheet.faults),
        "questions": [[question.field, question.choices, question.declared] for question in sheet.questions],
        "barred": {number: places[id(fault)] for number, fault in sheet.barred.items()},
        "notes": sheet.notes,
        "encoding": sheet.encoding,
        "counts": [len(rows)] if stood is rows else [len(rows), len(stood)],
        "columns": [[name, size] for name, size, _ in pieces],
    }).encode()  # fmt: skip
    rest = b"".join([head, *(piece for _, _, piece in pieces)])
    return _HEAD.pack(_MARK, zlib.crc32(rest), len(head)) + rest


def _columns(rows: Any) -> Rows:
    if isinstance(rows, Rows):
        return rows
    texts = [texts_of(row) for row in rows]
    return Rows(len(texts), {name: [row[name] for row in texts] for name in (texts[0] if texts else ())})


def unpacked(parsed: bytes) -> PriceSheet:
    """The sheet that `packed` wrote. Raises ValueError, TypeError, KeyError, IndexError or struct.error on anything else."""
    mark, checksum, size = _HEAD.unpack_from(parsed)
    rest = memoryview(parsed)[_HEAD.size :]
    if mark != _MARK or zlib.crc32(rest) != checksum:
        raise ValueError("not what was kept")
    said = json.loads(bytes(rest[:size]))
    kinds = {kind.code: kind for kind in Fault.__subclasses__()}
    listed = [
        kinds[code](sheet=sheet, row=row, place=place, found=found, expected=expected, remedy=remedy)
        for code, sheet, row, place, found, expected, remedy in said["faults"]
    ]
    tables = [Table(s, h, columns, n, Decimal(total), *more) for s, h, columns, n, total, *more in said["tables"]]
    both = _unpacked_rows(said["counts"], said["columns"], rest[size:])
    return PriceSheet(
        "",
        said["status"],
        tuple(tables),
        both[0],
        tuple(listed[: said["fault_count"]]),
        tuple(Question(name, tuple(choices), declared) for name, choices, declared in said["questions"]),
        {number: listed[place] for number, place in said["barred"].items()},
        both[-1],
        tuple(said["notes"]),
        said["encoding"],
    )


def _unpacked_rows(counts: list[int], columns: list[tuple[str, str | int]], rest: memoryview) -> list[Rows]:
    begin, each, results = 0, len(columns) // len(counts), []
    for place, count in enumerate(counts):
        taken: dict[str, Column] = {}
        for name, size in columns[place * each : (place + 1) * each]:
            if isinstance(size, str):
                taken[name] = size
            else:
                taken[name] = bytes(rest[begin : begin + size])
                begin += size
        results.append(Rows(count, taken))
    return results
