"""A price sheet as it was read: on the screen, and as one object of JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import shorten, wrap
from typing import Any

from sourcing.cli.asking import options_of
from sourcing.cli.lines import WIDTH, bullet
from sourcing.faults import Fault
from sourcing.prices.asking import Asked
from sourcing.prices.rows import PriceSheet
from sourcing.prices.sheetwords import (
    amounts_of,
    columns_of,
    first_rows,
    in_words,
    is_unsure_of_marks,
    money,
    remarks_of,
    rows_of,
    unread,
    where_words,
)

_LONG = 34


def sheet_record(sheet: PriceSheet) -> dict[str, Any]:
    """A sheet as section 9 of the formats has it."""
    return {
        "file": sheet.file,
        "status": sheet.status,
        "tables": [
            {"sheet": table.sheet, "header_row": table.header_row, "columns": dict(table.columns), "rows": table.rows,
             "price_sum": money(table.price_sum), "currency": table.currency}
            for table in sheet.tables
        ],
        "faults": [fault_record(fault) for fault in sheet.faults],
        "questions": [{"field": question.field, "choices": list(question.choices)} for question in sheet.questions],
    }  # fmt: skip


def fault_record(fault: Fault) -> dict[str, Any]:
    return {"code": fault.code, "sheet": fault.sheet, "row": fault.row or None, "column": fault.place,
            "found": fault.found, "expected": fault.expected, "remedy": fault.remedy}  # fmt: skip


def told_tables(sheet: PriceSheet, currency: str) -> Iterator[str]:
    """Each table: its header row, which column is what, how many priced rows, and the first of them."""
    for number, table in enumerate(sheet.tables, 1):
        yield ""
        yield (f"Table {number}: " if len(sheet.tables) > 1 else "") + where_words(table)
        columns = list(columns_of(table))
        width = max(12, *(len(name) for name, _ in columns))
        for name, title in columns:
            yield f'  {name:<{width}}  <-  "{title}"'
        for name, said in amounts_of(table, currency, is_unsure_of_marks(sheet)):
            yield f"  {name:<{width}}      {said}"
        rows = rows_of(sheet, table)
        shown = first_rows(rows)
        if shown:
            yield ""
            yield from table_lines(shown)
        if len(rows) > len(shown[1:]):
            yield f"  ... and {len(rows) - len(shown[1:])} more priced rows"


def table_lines(table: Sequence[Sequence[str]]) -> Iterator[str]:
    """A table in plain characters: amounts and counts to the right, words to the left."""
    cut = [[_cut(cell) for cell in line[:-1]] + [line[-1]] for line in table]
    widths = [max(len(line[at]) for line in cut) for at in range(len(cut[0]))]
    right = [all(_countable(line[at]) for line in cut[1:]) for at in range(len(cut[0]))]
    for line in cut:
        cells = (
            f"{cell:>{w}}" if to_right else f"{cell:<{w}}"
            for cell, w, to_right in zip(line, widths, right, strict=True)
        )
        yield ("  " + "  ".join(cells)).rstrip()


def _cut(cell: str) -> str:
    return cell if len(cell) <= _LONG else shorten(cell, _LONG, placeholder="...")


def _countable(cell: str) -> bool:
    return not cell.strip("0123456789.,+-%") and not (cell[:1] == "0" and cell[1:2].isdigit())


def told_asides(sheet: PriceSheet) -> Iterator[str]:
    """What was passed over, what was hidden, and other remarks on how the sheet was read."""
    remarks = remarks_of(sheet)
    if remarks:
        yield ""
        yield from (bullet(remark).removeprefix("  - ") for remark in remarks)


def told_faults(sheet: PriceSheet, most: int) -> Iterator[str]:
    """Every row that was not understood, with its reason; a long list only up to `most`."""
    words, rows = unread(sheet)
    if not words:
        return
    yield ""
    yield words if rows else f"{words} (--json lists them)."
    for fault in rows[:most]:
        yield bullet(in_words(fault))
    if len(rows) > most:
        yield f"  ... and {len(rows) - most} more (--json lists all)"


def told_question(question: Asked, command: str) -> Iterator[str]:
    """The question, its choices, and a command for each answer."""
    if question.read_as is not None:
        yield from told_tables(question.read_as, "")
    yield ""
    yield "UNSURE: nothing is guessed. One question:"
    if question.more:
        yield from wrap(question.more, WIDTH, initial_indent="  ", subsequent_indent="  ")
    yield f"  {question.words}"
    if question.choices:
        told = ", ".join(f'"{choice}"' for choice in question.choices)
        yield from wrap(f"The sheet has {told}.", WIDTH, initial_indent="  ", subsequent_indent="  ")
    options = list(options_of(question))
    if question.read_as is not None:
        yield "If it is, type this; otherwise name the headers that are meant"
    else:
        yield "To answer, type" + (" one of" if len(options) > 1 else "")
    yield from (f"  {command} {option}" for option in options)
