"""parts.csv: which supplier's part number is which design, or which kit of designs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pydantic import Field, ValidationError

from sourcing.book.family import Condition, Family
from sourcing.faults import (
    BadValue,
    Fault,
    MissingKey,
    RepeatedPart,
    UnknownKey,
    UnknownName,
    raise_any,
    shown,
)
from sourcing.partnumber import PartNumber, canonical
from sourcing.reading import Code, Rate, Record, Words, read_text

COLUMNS = ("supplier", "part_number", "fills", "condition", "warranty_months", "core_accepts", "comeback_rate",
           "replaced_by", "note")  # fmt: skip


class PartRow(Record):
    """One row of parts.csv, its lists taken apart."""

    supplier: Code
    part_number: Code
    fills: list[Code] = Field(min_length=1)
    condition: Condition
    warranty_months: int = Field(default=0, ge=0, le=1200)
    core_accepts: list[Code] = []
    comeback_rate: Rate | None = None
    replaced_by: str = ""
    note: Words = ""


@dataclass(frozen=True, slots=True)
class Part:
    """What a supplier sells under one number: a design, or a kit of several."""

    supplier: str
    number: PartNumber
    fills: tuple[str, ...]
    condition: Condition
    warranty_months: int
    core_accepts: frozenset[str]
    rate: Fraction | None
    replaced_by: str
    note: str

    def comeback_rate(self, family: Family, design: str) -> Fraction:
        return family.design[design].comeback_rate if self.rate is None else self.rate


def read_parts(path: Path, family: Family, suppliers: Mapping[str, object]) -> tuple[Part, ...]:
    """Read a family's parts.csv. Raises BadInput with every fault of the file."""
    return parts_of(read_text(path), path, family, suppliers)


def parts_of(text: str, path: Path, family: Family, suppliers: Mapping[str, object]) -> tuple[Part, ...]:
    """The same for a text at hand, which need not stand in the file of that name."""
    file = shown(path)
    reader = csv.reader(io.StringIO(text))
    faults: list[Fault] = []
    parts: list[Part] = []
    try:
        rows = list(reader)
    except csv.Error as error:
        raise_any([BadValue(file=file, row=reader.line_num, expected="comma-separated values", found=str(error))])
    header = [cell.strip() for cell in rows[0]] if rows else []
    faults += _header_faults(header, file)
    numbers: list[tuple[int, str, str]] = []
    for number, cells in enumerate(rows[1:], 2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            faults.append(BadValue(file=file, row=number, found=f"{len(cells)} cells", expected=f"{len(header)} cells"))
            continue
        named = zip(header, cells, strict=False)
        given = {name: cell.strip() for name, cell in named if cell.strip() and name in COLUMNS}
        numbers.append((number, given.get("supplier", ""), given.get("part_number", "")))
        faults += _name_faults(given, file, number, family, suppliers)
        row = _row(given, file, number, faults)
        if row is not None:
            parts.append(_part(row))
    faults += _repeated(numbers, file)
    raise_any(faults)
    return tuple(parts)


def _header_faults(header: list[str], file: str) -> Iterator[Fault]:
    for name in header:
        if name not in COLUMNS:
            yield UnknownKey(file=file, row=1, place="header", found=f'"{name}"', expected=", ".join(COLUMNS))
        elif header.count(name) > 1:
            yield UnknownKey(file=file, row=1, place="header", found=f'"{name}" twice', expected="each column once")
    for name in COLUMNS[:4]:
        if name not in header:
            yield MissingKey(file=file, row=1, place=f"column {name}", expected="this column")


def _row(given: dict[str, str], file: str, number: int, faults: list[Fault]) -> PartRow | None:
    values: dict[str, object] = {**given, **_lists(given)}
    try:
        return PartRow.model_validate(values)
    except ValidationError as error:
        for item in error.errors():
            place = f"column {item['loc'][0]}"
            if item["type"] == "missing":
                faults.append(MissingKey(file=file, row=number, place=place, expected="a value", found="a blank"))
            else:
                message = item["msg"].removeprefix("Value error, ").removeprefix("expected ")
                faults.append(BadValue(file=file, row=number, place=place, found=f'"{given.get(str(item["loc"][0]), "")}"',
                                       expected=message[:1].lower() + message[1:]))  # fmt: skip
        return None


def _lists(given: Mapping[str, str]) -> dict[str, list[str]]:
    """The columns that hold several designs, taken apart."""
    split = {"fills": " + ", "core_accepts": "|"}
    return {
        name: [item.strip() for item in given[name].split(mark) if item.strip()]
        for name, mark in split.items()
        if name in given
    }


def _name_faults(
    given: Mapping[str, str], file: str, number: int, family: Family, suppliers: Mapping[str, object]
) -> Iterator[Fault]:
    if "supplier" in given and given["supplier"] not in suppliers:
        yield UnknownName(file=file, row=number, place="column supplier", found=f'"{given["supplier"]}"',
                          expected="a supplier of suppliers.toml")  # fmt: skip
    for column, designs in _lists(given).items():
        for design in designs:
            if design not in family.design:
                yield UnknownName(file=file, row=number, place=f"column {column}", found=f'"{design}"',
                                  expected=f"a design of {family.code}")  # fmt: skip


def _part(row: PartRow) -> Part:
    accepts = frozenset(row.core_accepts) or frozenset(row.fills)
    return Part(row.supplier, PartNumber(row.part_number), tuple(row.fills), row.condition, row.warranty_months,
                accepts, row.comeback_rate, row.replaced_by, row.note)  # fmt: skip


def _repeated(numbers: list[tuple[int, str, str]], file: str) -> Iterator[Fault]:
    """Numbers that a supplier has twice; `numbers` are row, supplier and part number."""
    seen: dict[tuple[str, str], int] = {}
    for row, supplier, spelt in numbers:
        key = (supplier, canonical(spelt))
        if spelt and key in seen:
            yield RepeatedPart(
                file=file, row=row, place=supplier, found=f'"{spelt}" twice, in rows {seen[key]} and {row}'
            )
        seen.setdefault(key, row)
