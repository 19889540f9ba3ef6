"""What reading has gathered, and each number settled once: alike, joined from its rows of breaks, or barred."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from sourcing.faults import Fault, TwoPrices
from sourcing.partnumber import canonical
from sourcing.prices.rows import PriceBreak, PriceRow, Question, Table


@dataclass(slots=True)
class Found:
    """What reading has gathered so far."""

    tables: list[Table] = field(default_factory=list)
    entries: dict[str, list[tuple[int | None, PriceRow]]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    barred: dict[str, Fault] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)

    def note(self, fault: Fault, number: str = "") -> None:
        self.faults.append(fault)
        if number:
            self.barred.setdefault(canonical(number), fault)

    def ask(self, sheet: str, row: int, name: str, choices: tuple[str, ...]) -> None:
        question = Question(name, choices)
        self.questions.append(question)
        self.faults.append(question.fault(sheet=sheet, row=row))


def settled(found: Found) -> Iterator[PriceRow]:
    """Each number once: repeated alike, its rows of breaks joined, or barred with a fault that names both rows."""
    for number, entries in found.entries.items():
        if number in found.barred:
            continue
        by_rows = any(quantity is not None for quantity, _ in entries)
        row = _joined(number, entries, found) if by_rows else _alike(number, [row for _, row in entries], found)
        if row is not None:
            yield row


def _alike(number: str, rows: list[PriceRow], found: Found) -> PriceRow | None:
    first = rows[0]
    for other in rows[1:]:
        same = replace(
            other, part_number=first.part_number, description=first.description, sheet=first.sheet, row=first.row
        )
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


def _joined(number: str, entries: list[tuple[int | None, PriceRow]], found: Found) -> PriceRow | None:
    """Rows of breaks as one: the price from each quantity on; the rest must agree where it is stated."""
    first = entries[0][1]
    steps: dict[int, PriceRow] = {}
    stated: dict[str, Any] = {}
    for quantity, row in entries:
        before = steps.setdefault(quantity or 1, row)
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
