"""A list of units as CSV: each row a job, its columns the dotted keys of a job file.

A remanufacturer has two thousand units and one spreadsheet. `unit.facts.lever` is a column as `lever` is a key of
[unit.facts]; a list of a job file is joined by "|" ("|" alone is an empty one); a blank cell is a key that is left out. A row
with `count` stands for that many like units, NUMBER-1 to NUMBER-n. Every row becomes a `Job` by the same model as a job file.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sourcing.faults import BadInput, BadValue, Fault, MissingKey, RefusedSheet, TooLarge, raise_any, shown
from sourcing.job import Job, own_faults
from sourcing.prices.encoding import Undecided, decoded
from sourcing.prices.preflight import Unsafe
from sourcing.unitcolumns import COUNT, Columns, header_faults

ENDINGS = (".csv", ".tsv", ".txt")
MOST_UNITS = 200_000
Check = Callable[[Job], Iterable[Fault]]


@dataclass(frozen=True, slots=True)
class Unit:
    """A job and the row that it comes from (None: a job file)."""

    job: Job
    file: str
    row: int | None = None


@dataclass
class _Told:
    """Faults by what they say; rows that say the same are told once, with how many they are."""

    file: str
    first: dict[Hashable, Fault] = field(default_factory=dict)
    rows: dict[Hashable, list[int]] = field(default_factory=dict)

    def add(self, fault: Fault, row: int) -> None:
        key = (type(fault), fault.place, fault.found, fault.expected)
        self.first.setdefault(key, replace(fault, file=self.file, row=row))
        self.rows.setdefault(key, []).append(row)

    def all(self) -> list[Fault]:
        return [self._with_count(fault, self.rows[key]) for key, fault in self.first.items()]

    def _with_count(self, fault: Fault, rows: Sequence[int]) -> Fault:
        if len(rows) == 1:
            return fault
        listed = ", ".join(map(str, rows[1:6])) + (f" and {len(rows) - 6} more" if len(rows) > 6 else "")
        return replace(fault, found=f"{fault.found or 'the same'} (so too in row{'s' * (len(rows) > 2)} {listed})")


def read_units(path: Path, check: Check) -> list[Unit]:
    """Read a list of units; `check` looks at a job beside its book, once for all rows that are alike.

    Raises
    ------
    BadInput
        with every fault of the list, each naming file, row and column
    """
    file = shown(path)
    lines, separator = _lines(path, file)
    rows = [(number, cells) for number, cells in lines if any(cell.strip() for cell in cells)]
    if not rows:
        raise BadInput([MissingKey(file=file, expected="a row of headers, such as job.number, job.family, job.date")])
    (top, names), *rows = rows
    header = [name.strip() for name in names]
    while header and not header[-1]:
        header.pop()
    raise_any(list(header_faults(header, file, top)))
    told = _Told(file)
    units = _units(rows, Columns(header, separator), told, check)
    raise_any(told.all())
    if not units:
        raise BadInput([MissingKey(file=file, row=top + 1, expected="at least one unit below the headers")])
    return units


def _lines(path: Path, file: str) -> tuple[list[tuple[int, list[str]]], str]:
    """The rows of a text with their numbers, and what parts its cells: comma, semicolon or tab."""
    try:
        text = decoded(path.read_bytes()).text
    except Undecided:
        raise BadInput([RefusedSheet(file=file, expected="text in UTF-8", found="an encoding that cannot be told",
                                     remedy="Save the list again as CSV UTF-8.")]) from None  # fmt: skip
    except Unsafe as error:
        raise BadInput([RefusedSheet(file=file, expected="a list of units as CSV", found=error.found,
                                     remedy=error.remedy or "Save the list again as CSV UTF-8.")]) from None  # fmt: skip
    except OSError as error:
        raise BadInput([RefusedSheet(file=file, expected="a readable file", found=error.strerror or "an error",
                                     remedy="Check the file and its permissions.")]) from None  # fmt: skip
    said = text[:6].lower().startswith("sep=")
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = text[4] if said else max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        lines = list(enumerate(reader, 1))
    except csv.Error as error:
        raise BadInput([BadValue(file=file, row=reader.line_num, expected="cells parted by commas, semicolons or tabs",
                                 found=str(error))]) from None  # fmt: skip
    return lines[1:] if said else lines, separator


def _units(rows: Sequence[tuple[int, list[str]]], columns: Columns, told: _Told, check: Check) -> list[Unit]:
    units: list[Unit] = []
    checked: dict[Hashable, list[Fault]] = {}
    counts = columns.header.index(COUNT) if COUNT in columns.header else None
    for row, cells in rows:
        if any(cell.strip() for cell in cells[len(columns.header) :]):
            told.add(BadValue(found=f"{len(cells)} cells", expected=f"{len(columns.header)} cells"), row)
            continue
        job = _job(columns, cells, told, row)
        count = _count(cells[counts].strip() if counts is not None and counts < len(cells) else "", told, row)
        if job is None or count is None:
            continue
        key = columns.alike(cells)
        if key not in checked:
            checked[key] = [*own_faults(job, told.file), *check(job)]
        for fault in checked[key]:
            told.add(replace(fault, place=columns.of(fault.place)), row)
        if len(units) + count > MOST_UNITS:
            told.add(TooLarge(found=f"{len(units) + count} units", expected=f"at most {MOST_UNITS} units"), row)
            break
        units += (Unit(one, told.file, row) for one in _numbered(job, count if counts is not None else 1))
    return units


def _job(columns: Columns, cells: Sequence[str], told: _Told, row: int) -> Job | None:
    try:
        return Job.model_validate(columns.tables(cells))
    except ValidationError as error:
        for item in error.errors():
            names = [str(name) for name in item["loc"] if isinstance(name, str)]
            place = columns.of(" ".join(names))
            if item["type"] == "missing":
                told.add(MissingKey(place=place, found="a blank cell", expected="a value"), row)
                continue
            told.add(BadValue(place=place, found=f'"{item["input"]}"'[:120], expected=_expected(item)), row)
        return None


def _expected(item: Any) -> str:
    """What a cell should have been, of what the model says."""
    if item["type"] == "string_pattern_mismatch":
        return "a month written YYYY-MM"  # the only pattern of a job
    message: str = item["msg"]
    for words in ("Value error, ", "expected ", "Input should be "):
        message = message.removeprefix(words)
    return message[:1].lower() + message[1:]


def _count(text: str, told: _Told, row: int) -> int | None:
    """How many units a row stands for; a blank is one."""
    if not text:
        return 1
    if not text.isdecimal() or not 1 <= int(text[:9]) <= MOST_UNITS:
        told.add(
            BadValue(place=f"column {COUNT}", found=f'"{text}"', expected=f"a whole number from 1 to {MOST_UNITS}"), row
        )
        return None
    return int(text)


def _numbered(job: Job, count: int) -> Iterable[Job]:
    """The units of a row: one as it stands, several as NUMBER-1 to NUMBER-n."""
    if count == 1:
        yield job
        return
    for number in range(1, count + 1):
        head = job.job.model_copy(update={"number": f"{job.number}-{number}"})
        yield job.model_copy(update={"job": head})
