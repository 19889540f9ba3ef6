"""A price sheet as it was read: on the screen, and as one object of JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from textwrap import shorten, wrap
from typing import Any

from sourcing.cli.asking import FIELD_WORDS, Asked
from sourcing.cli.lines import WIDTH, bullet
from sourcing.faults import ChangedLayout, Fault, UnclearColumn
from sourcing.prices.rows import PriceRow, PriceSheet, Table

FIRST_ROWS = 5
KINDS = {"xlsx": "a workbook (.xlsx)", "xls": "a workbook of the old kind (.xls)",
         "ods": "an OpenDocument spreadsheet (.ods)", "text": "a text file"}  # fmt: skip
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


def money(amount: Decimal) -> str:
    """An amount with two decimals, or with all that it has."""
    return f"{amount:.2f}" if -amount.as_tuple().exponent <= 2 else f"{amount:f}"  # type: ignore[operator]


def told_tables(sheet: PriceSheet, currency: str) -> Iterator[str]:
    """Each table: its header row, which column is what, how many priced rows, and the first of them."""
    for number, table in enumerate(sheet.tables, 1):
        place = f'sheet "{table.sheet}", ' if table.sheet else ""
        many = f"Table {number}: " if len(sheet.tables) > 1 else ""
        yield ""
        where = (
            f"headers in row {table.header_row}" if table.header_row else "no row of headers, columns by their letters"
        )
        sure = f" (sure to {table.confidence:.0%})" if table.confidence < 1 else ""
        yield f"{many}{place}{where}{sure}"
        width = max(12, *(len(_field(name)) for name in table.columns))
        order = [*(name for name in FIELD_WORDS if name in table.columns),
                 *(name for name in table.columns if name not in FIELD_WORDS)]  # fmt: skip
        for name in order:
            title = table.columns[name]
            yield f'  {_field(name):<{width}}  <-  "{title}"'
        unsure = any(question.field == "decimal" for question in sheet.questions)
        yield from _told_amounts(table, currency, width, unsure)
        yield from _told_first_rows(_rows_of(sheet.rows, table, sheet.tables))


def _field(name: str) -> str:
    return FIELD_WORDS.get(name, f"price from {name.removesuffix('+')} pieces on" if name.endswith("+") else name)


def _told_amounts(table: Table, currency: str, width: int, unsure: bool) -> Iterator[str]:
    marks = {"": "none is needed: no amount has one", ".": "point, as in 1,234.50", ",": "comma, as in 1.234,50"}
    if unsure:
        marks[""] = "open: see the question"
    yield f"  {'decimal mark':<{width}}      {marks.get(table.decimal, 'point in some columns, comma in others')}"
    said = table.currency or (f"not stated: {currency} is taken, the supplier's" if currency else "not stated")
    yield f"  {'currency':<{width}}      {said}"
    yield f"  {'priced rows':<{width}}      {table.rows}, their prices add up to {money(table.price_sum)}"


def _rows_of(rows: Sequence[PriceRow], table: Table, tables: Sequence[Table]) -> list[PriceRow]:
    """The rows below a table's header, down to the next header of the same sheet."""
    after = [other.header_row for other in tables if other.sheet == table.sheet and other.header_row > table.header_row]
    end = min(after, default=10**9)
    mine = [row for row in rows if row.sheet == table.sheet and table.header_row < row.row < end]
    return sorted(mine, key=lambda row: row.row)


def _told_first_rows(rows: Sequence[PriceRow]) -> Iterator[str]:
    shown = rows[:FIRST_ROWS]
    if not shown:
        return
    names = [name for name in ("description", "price", "core_charge", "stock", "pack", "minimum", "lead_days",
                               "valid_until") if any(getattr(row, name) not in (None, "") for row in shown)]  # fmt: skip
    head = ["row", "part number", *(_field(name) for name in names)]
    if any(row.breaks for row in shown):
        head.append("breaks")
    lines = [_first_row(row, names, len(head)) for row in shown]
    yield ""
    yield from table_lines([head, *lines])
    if len(rows) > len(shown):
        yield f"  ... and {len(rows) - len(shown)} more priced rows"


def _first_row(row: PriceRow, names: Sequence[str], cells: int) -> list[str]:
    line = [str(row.row), row.part_number.spelt]
    for name in names:
        value = getattr(row, name)
        line.append(money(value) if isinstance(value, Decimal) else "" if value is None else str(value))
    if len(line) < cells:
        line.append(", ".join(f"{step.quantity}+ {money(step.price)}" for step in row.breaks))
    return line


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


def many(count: int, word: str) -> str:
    """A count with its word in the right number."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def told_asides(sheet: PriceSheet) -> Iterator[str]:
    """What was passed over as none of our business, what was hidden, and other remarks on how the sheet was read."""
    asides, hidden = sum(table.asides for table in sheet.tables), sum(table.hidden_rows for table in sheet.tables)
    remarks = []
    if asides:
        remarks.append(
            f"Passed over as headings, totals, footnotes, blanks or the header once more: {many(asides, 'row')}."
        )
    if hidden:
        remarks.append(f"Hidden in the spreadsheet, and read all the same: {many(hidden, 'row')}.")
    remarks += [
        f'The sheet "{table.sheet}" is hidden, and was read all the same.' for table in sheet.tables if table.hidden
    ]
    remarks += [note for note in sheet.notes if note not in remarks]
    if remarks:
        yield ""
        yield from (bullet(remark).removeprefix("  - ") for remark in remarks)


def told_faults(sheet: PriceSheet, most: int) -> Iterator[str]:
    """Every row that was not understood, with its reason; a long list only up to `most`."""
    rows = [fault for fault in sheet.faults if not isinstance(fault, (UnclearColumn, ChangedLayout))]
    if not rows:
        return
    yield ""
    if sheet.status == "unsure":
        yield f"Not understood so far: {many(len(rows), 'row')}; read again when the question is answered (--json lists them)."
        return
    kinds = Counter(fault.code for fault in rows)
    counted = ", ".join(f"{count} {code}" for code, count in kinds.most_common())
    yield f"Not understood: {len(rows)} ({counted}). None of these can be bought until it is put right."
    for fault in rows[:most]:
        yield bullet(in_words(fault))
    if len(rows) > most:
        yield f"  ... and {len(rows) - most} more (--json lists all)"


def in_words(fault: Fault) -> str:
    """A fault without its file, which stands above."""
    where = ", ".join(part for part in (f"sheet {fault.sheet}" if fault.sheet else "",
                                        f"row {fault.row}" if fault.row else "", fault.place) if part)  # fmt: skip
    found = f"; found {fault.found}" if fault.found else ""
    return f"{where + ': ' if where else ''}expected {fault.expected}{found}. {fault.remedy}".strip()


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
    if question.read_as is not None:
        yield "If it is, type this; otherwise name the headers that are meant"
    else:
        yield "To answer, type" + (" one of" if len(question.answers) > 1 else "")
    yield from (f"  {command} {answer}" for answer in question.answers)
