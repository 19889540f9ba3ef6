"""Which of a confirmed layout is kept in suppliers.toml, so that every sheet on file is still read as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path

from sourcing.faults import BadInput, LayoutByHand, shown
from sourcing.prices.answers import Answers
from sourcing.prices.cache import Cache
from sourcing.prices.dated import DatedSheet
from sourcing.prices.declaring import Declaration
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceSheet
from sourcing.prices.sheet import read_sheets
from sourcing.prices.suppliers import Supplier

_TOLD_EARLIER = "Sheets on file are laid out otherwise: their layout is kept for them as [[supplier.earlier]]."


@dataclass(frozen=True)
class Keeping:
    """A confirmed layout against every sheet of the supplier that is on file.

    Parameters
    ----------
    source, sheet, day : the sheet that is received, as it was read
    currency : the shop's
    filed : the supplier's sheets on file, without the very one
    """

    source: Path
    sheet: PriceSheet
    day: date
    supplier: Supplier
    currency: str
    answers: Answers
    filed: tuple[DatedSheet, ...]
    cache: Cache | None

    @cached_property
    def _others(self) -> list[DatedSheet]:
        """The sheets on file that the layout of the day governs."""
        end = self._end(self.day)
        return [one for one in self.filed if self._end(one.day) == end]

    def _end(self, day: date) -> date | None:
        return min((period.until for period in self.supplier.earlier if day <= period.until), default=None)

    def declaration(self, layout: Layout) -> tuple[Declaration, list[str]]:
        """What to declare so that this sheet, and every one on file, is read as it was confirmed; and remarks on it."""
        if self.answers.any:
            return self._answered(layout)
        told = self._recognised
        return (told if told and self._fits(self._others, self._with_columns(told)) else Declaration()), []

    @property
    def _recognised(self) -> Declaration:
        """The columns of number and price, where they are not declared and every table has them under one header."""
        if self._end(self.day) is not None:
            return Declaration()
        tables = self.sheet.tables
        found: dict[str, str | int] = {}
        for name in ("part_number", "price"):
            titles = {table.columns.get(name, "") for table in tables}
            title = titles.pop() if len(titles) == 1 else ""
            alone = all(list(table.columns.values()).count(title) == 1 and table.header_row for table in tables)
            if title and alone and name not in self.supplier.columns:
                found[name] = title
        return Declaration(found)

    def _with_columns(self, told: Declaration) -> Layout:
        layout = self.supplier.layout(self.currency, self.day)
        return replace(layout, columns={**layout.columns, **{name: str(title) for name, title in told.columns.items()}})

    def _fits(self, sheets: Sequence[DatedSheet], layout: Layout) -> bool:
        """Whether sheets on file are read in a layout as they are read now."""
        now = read_sheets([(one.path, self.supplier.layout(self.currency, one.day)) for one in sheets], self.cache)
        then = read_sheets([(one.path, layout) for one in sheets], self.cache)
        return all(_says_the_same(*pair) for pair in zip(now, then, strict=True))

    def _answered(self, layout: Layout) -> tuple[Declaration, list[str]]:
        """The answers as declarations; sheets that do not fit them keep the layout that they have, by date."""
        before = [one for one in self._others if one.day < self.day]
        after = [one for one in self._others if one.day >= self.day]
        wanted = self._new()
        if not wanted:
            return wanted, []
        fit_before, fit_after = self._fits(before, layout), self._fits(after, layout)
        end = self._end(self.day)
        old = _as_declared(self.supplier.layout(self.currency, self.day))
        if fit_before and fit_after and end is None:
            return wanted, []
        periods = []
        if not fit_before:
            periods.append((max(one.day for one in before), *old))
        if not fit_after or end is not None:
            if any(one.day == self.day for one in after) and not fit_after:
                raise BadInput([LayoutByHand(
                    file=shown(self.source), expected="the same headers as in the other sheet of that day",
                    found="another layout", remedy="Give the headers of the two sheets the same words, or join the two.",
                )])  # fmt: skip
            periods.append((self.day, *_as_declared(layout)))
            return Declaration(earlier=tuple(periods)), [_TOLD_EARLIER]
        return replace(wanted, earlier=tuple(periods)), [_TOLD_EARLIER]

    def _new(self) -> Declaration:
        """The answers that say something else than what is declared for the day."""
        columns, sheet = _as_declared(self.supplier.layout(self.currency, self.day))
        return Declaration(
            {name: title for name, title in self.answers.columns.items() if columns.get(name) != title},
            {key: value for key, value in self.answers.of_sheet.items() if sheet.get(key) != value},
        )


def _as_declared(layout: Layout) -> tuple[dict[str, str | int], dict[str, str | int]]:
    """A layout as the keys of [supplier.columns] and [supplier.sheet]."""
    said = {"name": layout.sheet, "header_row": layout.header_row, "decimal": layout.decimal,
            "date_order": layout.date_order, "encoding": layout.encoding, "separator": layout.separator}  # fmt: skip
    return dict(layout.columns), {key: value for key, value in said.items() if value is not None}


def _says_the_same(now: PriceSheet, then: PriceSheet) -> bool:
    if now.status != "read":
        return then.status in ("read", now.status)
    return then.status == "read" and tuple(now.rows) == tuple(then.rows) and now.barred.keys() == then.barred.keys()
