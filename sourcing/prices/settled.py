"""What reading has gathered, and each number settled once: alike, joined from its rows of breaks, or barred."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from sourcing.faults import Fault, TwoPrices
from sourcing.partnumber import canonical
from sourcing.prices.columns import Column, Rows
from sourcing.prices.rows import PriceBreak, PriceRow, Question, Table


@dataclass(slots=True)
class Found:
    """What reading has gathered so far; `columns` holds the priced rows of all tables, one below the other."""

    tables: list[Table] = field(default_factory=list)
    count: int = 0
    columns: dict[str, Column] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    barred: dict[str, Fault] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def note(self, fault: Fault, number: str = "") -> None:
        self.faults.append(fault)
        if number:
            self.barred.setdefault(canonical(number), fault)

    def ask(self, sheet: str, row: int, name: str, choices: tuple[str, ...], declared: str = "") -> None:
        question = Question(name, choices, declared)
        self.questions.append(question)
        self.faults.append(question.fault(sheet=sheet, row=row))

    def add(self, count: int, columns: Mapping[str, list[str] | str]) -> None:
        """The priced rows of one more table; a column may come as its lines."""
        if not count:
            return
        if not self.count:
            self.columns = {name: b"\n" + told.encode("utf-8", "surrogatepass") if isinstance(told, str) else told
                            for name, told in columns.items()}  # fmt: skip
        else:
            before = Rows(self.count, self.columns)
            for name in {*self.columns, *columns}:
                more = columns.get(name) or [""] * count
                self.columns[name] = [*before.column(name), *(more.split("\n") if isinstance(more, str) else more)]
        self.count += count

    def stood(self) -> Rows:
        return Rows(self.count, self.columns)


def settled(found: Found, stood: Rows) -> Rows:
    """Each number once: repeated alike, its rows of breaks joined, or barred with a fault that names both rows."""
    keys, quantities = stood.canonicals, stood.column("quantity")
    by_rows = stood.distinct("quantity") > {""} or "" not in stood.distinct("quantity")
    if not len(stood) or (len(set(keys)) == len(keys) and not by_rows and not found.barred.keys() & set(keys)):
        return stood
    places: dict[str, list[int]] = {}
    for place, key in enumerate(keys):
        places.setdefault(key, []).append(place)
    kept: list[int] = []
    changed: dict[int, PriceRow] = {}
    for number, several in places.items():
        if number in found.barred:
            continue
        if len(several) > 1 or quantities[several[0]]:
            row = _settled(number, [(quantities[place], stood[place]) for place in several], found)
            if row is None:
                continue
            changed[several[0]] = row
        kept.append(several[0])
    return stood.chosen(kept, changed)


def _settled(number: str, entries: list[tuple[str, PriceRow]], found: Found) -> PriceRow | None:
    if any(quantity for quantity, _ in entries):
        return _joined(number, [(int(quantity or 1), row) for quantity, row in entries], found)
    return _alike(number, [row for _, row in entries], found)


def _alike(number: str, rows: list[PriceRow], found: Found) -> PriceRow | None:
    first = rows[0]
    for other in rows[1:]:
        same = replace(
            other, part_number=first.part_number, description=first.description, sheet=first.sheet, row=first.row,
            group=first.group, superseded_by=first.superseded_by, valid_from=first.valid_from,
        )  # fmt: skip
        if same != first:
            _two(number, first, other, found)
            return None
    return first


def _two(number: str, first: PriceRow, other: PriceRow, found: Found) -> None:
    """A fault that names both rows, and what is different in them."""

    def tells(row: PriceRow) -> str:
        place = f"row {row.row}" + (f" of {row.sheet}" if row.sheet != first.sheet else "")
        return f"{counted_price(row)} in {place}"

    one_price = first.price == other.price and first.breaks == other.breaks
    expected = "one row for a number, or rows that agree" if one_price else ""
    found.note(TwoPrices(sheet=other.sheet, row=other.row, place=str(other.part_number),
                         found=f"{tells(first)} and {tells(other)}", expected=expected), number)  # fmt: skip


def _joined(number: str, entries: list[tuple[int, PriceRow]], found: Found) -> PriceRow | None:
    """Rows of breaks as one: the price from each quantity on; the rest must agree where it is stated."""
    first = entries[0][1]
    steps: dict[int, PriceRow] = {}
    stated: dict[str, Any] = {}
    for quantity, row in entries:
        before = steps.setdefault(quantity, row)
        clash = first if row.breaks and len(entries) > 1 else before if before.price != row.price else None
        for name in ("currency", "core_charge", "stock", "pack", "minimum", "lead_days", "valid_until"):
            value = getattr(row, name)
            if value not in (None, "") and stated.setdefault(name, value) != value:
                clash = first
        if clash is not None:
            _two(number, clash, row, found)
            return None
    base = steps.pop(1, None)
    breaks = [PriceBreak(quantity, row.price) for quantity, row in sorted(steps.items()) if row.price is not None]
    return replace(first, price=base.price if base else None, breaks=(*first.breaks, *breaks), **stated)


def counted_price(row: PriceRow) -> Decimal:
    """What a row adds to the sum of prices: its base price, or its first break's."""
    return row.price if row.price is not None else row.breaks[0].price
