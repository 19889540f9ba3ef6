"""A supplier's price sheets by the dates in their names: which of them are in force on a day."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sourcing.faults import BadInput, TwoSheetsOneDay, shown

ENDINGS = (".xlsx", ".xls", ".ods", ".csv", ".tsv", ".txt")


@dataclass(frozen=True, slots=True)
class DatedSheet:
    """A price sheet as it was received."""

    day: date
    update: bool
    path: Path


def dated_sheets(folder: Path) -> tuple[list[DatedSheet], list[str]]:
    """A supplier's received sheets by date, and notes on files passed over.

    Raises BadInput where two whole sheets, or two updates, carry one date.
    """
    sheets: dict[tuple[date, bool], Path] = {}
    notes, faults = [], []
    for path in sorted(folder.iterdir()) if folder.is_dir() else []:
        if path.name.startswith((".", "~$")) or not path.is_file():
            continue
        try:
            day = date.fromisoformat(path.name[:10])
        except ValueError:
            day = None
        if day is None or path.suffix.lower() not in ENDINGS:
            notes.append(f"{shown(path)} was passed over: its name does not begin with a date and end as a sheet's")
            continue
        update = re.search(r"(?<![^\W_])update(?![^\W_])", path.stem[10:], re.IGNORECASE) is not None
        if (day, update) in sheets:
            both = f"{sheets[day, update].name} and {path.name}"
            faults.append(TwoSheetsOneDay(file=shown(folder), place=day.isoformat(), found=both))
        sheets[day, update] = path
    if faults:
        raise BadInput(faults)
    return [DatedSheet(day, update, path) for (day, update), path in sorted(sheets.items())], notes


def sheets_in_force(sheets: Iterable[DatedSheet], day: date) -> list[DatedSheet]:
    """The newest whole sheet up to a day, and the updates from its date on, in order."""
    until = [sheet for sheet in sheets if sheet.day <= day]
    whole = [sheet for sheet in until if not sheet.update]
    if not whole:
        return []
    return [whole[-1], *(sheet for sheet in until if sheet.update and sheet.day >= whole[-1].day)]
