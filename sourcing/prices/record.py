"""The record of prices: the dated sheets in force on a day, joined with parts.csv into offers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from heapq import nsmallest
from pathlib import Path
from typing import NamedTuple

from sourcing.faults import (
    BadInput,
    Fault,
    MissingFile,
    NoRate,
    OtherCurrency,
    RefusedSheet,
    shown,
)
from sourcing.money import convert, to_minor
from sourcing.prices.cache import Cache
from sourcing.prices.dated import DatedSheet, dated_sheets, sheets_in_force
from sourcing.prices.layout import Layout
from sourcing.prices.offers import Offer, Offers, Source, Step
from sourcing.prices.parts import Part
from sourcing.prices.sheet import PriceRow, PriceSheet, read_sheets
from sourcing.prices.suppliers import Supplier
from sourcing.shop import Shop


class _Place(NamedTuple):
    """Where a number's row stands; it is made only where somebody needs it."""

    sheet: PriceSheet
    at: int
    dated: DatedSheet

    def row(self) -> PriceRow:
        return self.sheet.rows[self.at]

    def spelt(self) -> str:
        return self.sheet.spelt(self.at)

    def source(self) -> Source:
        row = self.row()
        return Source(shown(self.dated.path), row.sheet, row.row, self.dated.day)


def mark_of_siblings(sheet: PriceSheet, others: Iterable[PriceSheet]) -> str:
    """The decimal mark of a sheet that leaves nothing but its mark open: the one that the supplier's other sheets prove.

    This is no guess: a supplier's sheets come from one system, and one system writes its decimals one way. Where the others
    prove no mark, or differ, the answer is '' and a person is asked.
    """
    if not sheet.questions or any(question.field != "decimal" for question in sheet.questions):
        return ""
    proven = {mark for other in others for mark in other.decimal}
    return proven.pop() if len(proven) == 1 else ""


def _unusable(path: Path, sheet: PriceSheet) -> Sequence[Fault]:
    """Why a sheet as a whole gives no prices: refused, or a column or mark that a person must say."""
    if sheet.status == "refused":
        return sheet.faults or (RefusedSheet(file=shown(path)),)
    return [question.fault(file=shown(path)) for question in sheet.questions]


class PriceRecord:
    """The folder of dated sheets: the record of prices.

    Parameters
    ----------
    folder : the shop's price-sheets folder
    suppliers : terms by code
    shop : currency and rates
    """

    def __init__(self, folder: Path, suppliers: Mapping[str, Supplier], shop: Shop, cache: Cache | None) -> None:
        self._folder, self._suppliers, self._shop, self._cache = folder, suppliers, shop, cache
        self._read: dict[tuple[Path, str], PriceSheet] = {}  # by file, and the decimal mark that its siblings prove
        self.sheets: dict[str, list[DatedSheet]] = {}
        self.notes: list[str] = []
        for code in suppliers:
            self.sheets[code], notes = dated_sheets(folder / code)
            self.notes += notes
        for stray in sorted(folder.iterdir()) if folder.is_dir() else []:
            if stray.is_dir() and stray.name not in suppliers:
                self.notes.append(f"{shown(stray)} was passed over: suppliers.toml has no such supplier")

    def days(self) -> list[date]:
        """Every date of a sheet from the first whole one on."""
        whole = [sheet.day for sheets in self.sheets.values() for sheet in sheets if not sheet.update]
        every = {sheet.day for sheets in self.sheets.values() for sheet in sheets}
        return sorted(day for day in every if whole and day >= min(whole))

    def in_force(self, day: date, parts: Sequence[Part]) -> Offers:
        """Offers for `parts` on a day.

        Raises BadInput where a sheet in force is refused or unclear, or a currency has no rate.
        """
        if self._suppliers and not any(self.sheets.values()):
            expected = "a dated price sheet in some supplier's folder"
            raise BadInput([MissingFile(file=shown(self._folder), expected=expected)])
        chosen = {code: sheets_in_force(sheets, day) for code, sheets in self.sheets.items()}
        read = self._load(chosen)
        offers: list[Offer] = []
        refused: list[tuple[Part, str]] = []
        notes = list(self.notes)
        faults: list[Fault] = []
        for code, sheets in sorted(chosen.items()):  # sorted, so that the order of rows in no file changes an answer
            supplier = self._suppliers[code]
            laid = self._laid_over(supplier, [(dated, read[dated.path]) for dated in sheets], faults)
            mine = sorted((part for part in parts if part.supplier == code), key=lambda part: part.number.canonical)
            for part in mine:
                found = laid.pop(part.number.canonical, None)
                if isinstance(found, _Place):
                    offers.append(self._offer(len(offers), part, supplier, found.row(), found.source()))
                else:
                    refused.append((part, self._why_no_price(part, found, bool(sheets))))
            unnamed = [place for place in laid.values() if isinstance(place, _Place)]
            if unnamed:
                first = nsmallest(12, (place.spelt() for place in unnamed))
                listed = ", ".join(first) + (", ..." if len(unnamed) > 12 else "")
                notes.append(f"{supplier.name}: {len(unnamed)} priced numbers that parts.csv does not name: {listed}")
        notes += dict.fromkeys(str(fault) for fault in faults)
        return Offers(day, tuple(offers), tuple(refused), tuple(notes))

    def standing(self, code: str, day: date) -> dict[str, tuple[PriceRow, Source] | Fault]:
        """A supplier's prices of a day by canonical number, in its own currency; a number without one holds its fault.

        Raises BadInput where a sheet in force is refused or unclear, or the currency has no rate.
        """
        chosen = {code: sheets_in_force(self.sheets[code], day)}
        read = self._load(chosen)
        laid = self._laid_over(self._suppliers[code], [(dated, read[dated.path]) for dated in chosen[code]], [])
        return {
            key: (place.row(), place.source()) if isinstance(place, _Place) else place for key, place in laid.items()
        }

    def in_cents(self, amount: Decimal, code: str) -> int:
        """An amount of a supplier in cents of the shop."""
        return self._both(amount, self._suppliers[code])[1]

    def _load(self, chosen: Mapping[str, list[DatedSheet]]) -> dict[Path, PriceSheet]:
        """The sheets of a day as they are read. Raises BadInput where one gives no prices, or a currency has no rate."""
        marks = {(code, sheet.path): "" for code, sheets in chosen.items() for sheet in sheets}
        self._read_missing(marks)
        for code, path in marks:
            others = [self._read[sheet.path, ""] for sheet in chosen[code] if sheet.path != path]
            marks[code, path] = mark_of_siblings(self._read[path, ""], others)
        self._read_missing(marks)
        read = {path: self._read[path, mark] for (_, path), mark in marks.items()}
        faults = [fault for path, sheet in read.items() for fault in _unusable(path, sheet)]
        for code in chosen:
            currency = self._suppliers[code].currency or self._shop.currency
            if self._shop.rate(currency) is None:
                faults.append(
                    NoRate(
                        file=shown(self._folder.parent / "shop.toml"),
                        place="fx",
                        found=f"no {currency}, the currency of {code}",
                    )
                )
        if faults:
            raise BadInput(faults)
        return read

    def _read_missing(self, marks: Mapping[tuple[str, Path], str]) -> None:
        """Read what was not yet read, with the supplier's layout and, where one is given, a decimal mark."""
        missing = [(code, path, mark) for (code, path), mark in marks.items() if (path, mark) not in self._read]
        asked = [(path, self._layout(code, path, mark)) for code, path, mark in missing]
        for (_, path, mark), sheet in zip(missing, read_sheets(asked, self._cache), strict=True):
            self._read[path, mark] = sheet

    def _layout(self, code: str, path: Path, mark: str) -> Layout:
        day = next((sheet.day for sheet in self.sheets[code] if sheet.path == path), None)
        layout = self._suppliers[code].layout(self._shop.currency, day)
        return replace(layout, decimal=mark) if mark else layout

    def _laid_over(
        self, supplier: Supplier, sheets: Iterable[tuple[DatedSheet, PriceSheet]], faults: list[Fault]
    ) -> dict[str, _Place | Fault]:
        """Where each number's row stands, updates over the whole sheet; a number without a usable price holds its fault."""
        currency = supplier.currency or self._shop.currency
        laid: dict[str, _Place | Fault] = {}
        for dated, sheet in sheets:
            faults += sheet.faults
            laid.update((key, _Place(sheet, at, dated)) for at, key in enumerate(sheet.canonicals))
            for at in sheet.places_in_other_currency(currency):
                row = sheet.rows[at]
                fault = OtherCurrency(file=shown(dated.path), sheet=row.sheet, row=row.row, place="currency",
                                      found=row.currency, expected=f"{currency}, the currency of {supplier.code}")  # fmt: skip
                faults.append(fault)
                laid[sheet.canonicals[at]] = fault
            laid.update(sheet.barred)
        return laid

    def _offer(self, number: int, part: Part, supplier: Supplier, row: PriceRow, source: Source) -> Offer:
        priced = [(1, row.price)] if row.price is not None else []
        priced += [(step.quantity, step.price) for step in row.breaks]
        core_minor, core_cents = self._both(row.core_charge or Decimal(0), supplier)
        return Offer(
            id=number,
            part=part,
            description=row.description,
            steps=tuple(Step(q, *self._both(price, supplier)) for q, price in sorted(dict(priced).items())),
            incremental=supplier.breaks == "incremental",
            core_minor=core_minor,
            core_cents=core_cents,
            stock=row.stock,
            pack=row.pack or 1,
            minimum=row.minimum or 1,
            lead_workdays=supplier.lead_days if row.lead_days is None else row.lead_days,
            valid_until=row.valid_until,
            source=source,
        )

    def _both(self, amount: Decimal, supplier: Supplier) -> tuple[int, int]:
        """An amount of a supplier in its own smallest coins, and in the shop's cents."""
        currency = supplier.currency or self._shop.currency
        minor = to_minor(amount, currency)
        return minor, convert(minor, currency, self._shop.rate(currency) or Decimal(1))

    def _why_no_price(self, part: Part, row: Fault | None, has_sheet: bool) -> str:
        successor = f"; the supplier's number that follows it is {part.replaced_by}" if part.replaced_by else ""
        if row is not None:
            return f"{row}{successor}"
        if not has_sheet:
            return f"no whole price sheet of {self._suppliers[part.supplier].name} is in force{successor}"
        return f"it does not stand in the price sheet in force{successor}"
