"""A price sheet as it was read, in words: what screen and page say of it alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path

from sourcing.faults import ChangedLayout, Fault, UnclearColumn
from sourcing.prices.preflight import Unsafe, kind_of
from sourcing.prices.rows import PriceRow, PriceSheet, Table

FIELD_WORDS = {
    "part_number": "part number", "description": "description", "price": "price", "currency": "currency",
    "core_charge": "core charge", "stock": "stock", "pack": "pack", "minimum": "minimum", "lead_days": "lead days",
    "valid_until": "valid until", "quantity": "from quantity",
}  # fmt: skip
KINDS = {"xlsx": "a workbook (.xlsx)", "xls": "a workbook of the old kind (.xls)",
         "ods": "an OpenDocument spreadsheet (.ods)", "text": "a text file"}  # fmt: skip
FIRST_ROWS = 5
_SHOWN = ("description", "price", "core_charge", "stock", "pack", "minimum", "lead_days", "valid_until")


def money(amount: Decimal) -> str:
    """An amount with two decimals, or with all that it has."""
    return f"{amount:.2f}" if -amount.as_tuple().exponent <= 2 else f"{amount:f}"  # type: ignore[operator]


def many(count: int, word: str) -> str:
    """A count with its word in the right number."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def kind_words(path: Path) -> str:
    """What a file is by its bytes, and whether its name says otherwise; '' where it is nothing to read."""
    try:
        kind = kind_of(path.read_bytes())
    except (Unsafe, OSError):
        return ""
    ending = path.suffix.lower().removeprefix(".")
    expected = {"csv": "text", "tsv": "text", "txt": "text"}.get(ending, ending)
    odd = "" if expected == kind else f", though its name ends in {path.suffix or 'nothing'}"
    return KINDS[kind] + odd


def field_words(name: str) -> str:
    """A field of a price sheet as a person calls it."""
    return FIELD_WORDS.get(name, f"price from {name.removesuffix('+')} pieces on" if name.endswith("+") else name)


def where_words(table: Table) -> str:
    """Where a table stands, and how surely it was understood."""
    place = f'sheet "{table.sheet}", ' if table.sheet else ""
    where = f"headers in row {table.header_row}" if table.header_row else "no row of headers, columns by their letters"
    sure = f" (sure to {table.confidence:.0%})" if table.confidence < 1 else ""
    return f"{place}{where}{sure}"


def columns_of(table: Table) -> Iterator[tuple[str, str]]:
    """Each column that was taken for something: the field in words, and its header."""
    order = [*(name for name in FIELD_WORDS if name in table.columns),
             *(name for name in table.columns if name not in FIELD_WORDS)]  # fmt: skip
    for name in order:
        yield field_words(name), table.columns[name]


def amounts_of(table: Table, currency: str, unsure: bool) -> Iterator[tuple[str, str]]:
    """How the amounts of a table were read; `currency` the supplier's, `unsure` whether its decimal mark is asked for."""
    marks = {"": "none is needed: no amount has one", ".": "point, as in 1,234.50", ",": "comma, as in 1.234,50"}
    if unsure:
        marks[""] = "open: see the question"
    yield "decimal mark", marks.get(table.decimal, "point in some columns, comma in others")
    said = table.currency or (f"not stated: {currency} is taken, the supplier's" if currency else "not stated")
    yield "currency", said
    yield "priced rows", f"{table.rows}, their prices add up to {money(table.price_sum)}"


def is_unsure_of_marks(sheet: PriceSheet) -> bool:
    return any(question.field == "decimal" for question in sheet.questions)


def rows_of(sheet: PriceSheet, table: Table) -> list[PriceRow]:
    """The rows below a table's header, down to the next header of the same sheet."""
    after = [one.header_row for one in sheet.tables if one.sheet == table.sheet and one.header_row > table.header_row]
    end = min(after, default=10**9)
    mine = [row for row in sheet.rows if row.sheet == table.sheet and table.header_row < row.row < end]
    return sorted(mine, key=lambda row: row.row)


def first_rows(rows: Sequence[PriceRow]) -> list[list[str]]:
    """The first rows as a table, its header in front; only the fields that one of them states. Nothing where there is none."""
    shown = rows[:FIRST_ROWS]
    if not shown:
        return []
    names = [name for name in _SHOWN if any(getattr(row, name) not in (None, "") for row in shown)]
    head = ["row", "part number", *(field_words(name) for name in names)]
    if any(row.breaks for row in shown):
        head.append("breaks")
    return [head, *(_first_row(row, names, len(head)) for row in shown)]


def _first_row(row: PriceRow, names: Sequence[str], cells: int) -> list[str]:
    line = [str(row.row), row.part_number.spelt]
    for name in names:
        value = getattr(row, name)
        line.append(money(value) if isinstance(value, Decimal) else "" if value is None else str(value))
    if len(line) < cells:
        line.append(", ".join(f"{step.quantity}+ {money(step.price)}" for step in row.breaks))
    return line


def remarks_of(sheet: PriceSheet) -> list[str]:
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
    return remarks + [note for note in sheet.notes if note not in remarks]


def unread(sheet: PriceSheet) -> tuple[str, list[Fault]]:
    """How many rows were not understood, in words, and the faults of those that are to be listed; "" where none."""
    rows = [fault for fault in sheet.faults if not isinstance(fault, (UnclearColumn, ChangedLayout))]
    if not rows:
        return "", []
    if sheet.status == "unsure":
        return f"Not understood so far: {many(len(rows), 'row')}; read again when the question is answered", []
    kinds = Counter(fault.code for fault in rows)
    counted = ", ".join(f"{count} {code}" for code, count in kinds.most_common())
    return f"Not understood: {len(rows)} ({counted}). None of these can be bought until it is put right.", rows


def in_words(fault: Fault) -> str:
    """A fault without its file, which stands above."""
    where = ", ".join(part for part in (f"sheet {fault.sheet}" if fault.sheet else "",
                                        f"row {fault.row}" if fault.row else "", fault.place) if part)  # fmt: skip
    found = f"; found {fault.found}" if fault.found else ""
    return f"{where + ': ' if where else ''}expected {fault.expected}{found}. {fault.remedy}".strip()


def bought_words(sheet: PriceSheet) -> str:
    """How many numbers of a sheet that was read can be bought."""
    none = "" if sheet.rows else " No price at all: is this the right sheet?"
    return f"{many(len(sheet.rows), 'part number')} can be bought at these prices.{none}"
