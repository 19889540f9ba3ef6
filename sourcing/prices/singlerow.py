"""Rows read by themselves: each a priced row, a fault, or recognisably none of our business."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from sourcing.faults import Fault, TwoPrices, UnreadCell, UnreadPrice, UnreadRow
from sourcing.partnumber import PartNumber
from sourcing.prices import bulk
from sourcing.prices.amounts import Unread, amount_of, number_of
from sourcing.prices.asides import TOTAL, group_named, is_aside, looks_like_header, repeats, shape
from sourcing.prices.cells import spelt_of
from sourcing.prices.columns import texts_of
from sourcing.prices.currencies import row_currency
from sourcing.prices.encoding import DAMAGED
from sourcing.prices.grid import Cell, CellError
from sourcing.prices.legend import Legend, Parse
from sourcing.prices.paid import for_one
from sourcing.prices.rows import PriceBreak, PriceRow
from sourcing.prices.settled import Found

_SAMPLE = 2000  # rows that show how a table's part numbers look


class _Row(NamedTuple):
    """A row that is read: `at` is its index below the header, `number` its number as the spreadsheet shows it.

    `steps` are its prices by quantity, `values` what its other cells say, `bad` the faults of those that cannot be read.
    """

    at: int
    number: int
    cells: list[Cell]
    spelt: str
    price: Decimal | Unread | None
    steps: dict[int, Decimal]
    values: dict[str, Any]
    bad: list[Fault]


class SingleRows:
    """Rows of one table, each read by itself in the order in which they stand.

    `texts` are the priced ones as their columns keep them, by their index below the header; `groups` the headings that name a
    group, by theirs; `asides` counts the rows that are none of our business.
    """

    def __init__(self, legend: Legend, found: Found) -> None:
        self.legend, self.grid, self.header, self.found = legend, legend.grid, legend.header, found
        self.texts: dict[int, dict[str, str]] = {}
        self.groups: list[tuple[int, str]] = []
        self.asides = max(0, legend.header.rows - 1)
        # each column's reader with what it has read before
        self._readers: list[tuple[str, int, Parse, dict[Cell, Any]]] = [(*reader, {}) for reader in legend.readers]
        self._start, self._price_mark = legend.start, legend.mark("price")
        self._last_number = ""
        self._shapes: set[str] | None = None

    def look_above(self, above: Sequence[int]) -> None:
        """The rows above the first header are none of our business, unless one looks like a priced row under it."""
        for at in above:
            cells, number = self.grid.cells[at], self.grid.numbers[at]
            spelt = spelt_of(self.header.cell(cells, "part_number"))
            price = amount_of(self.header.cell(cells, "price"), self._price_mark)
            if isinstance(price, Decimal) and not isinstance(spelt, Unread) and re.search(r"\d", spelt):
                self.found.note(UnreadRow(**self._place(number, "part_number"), found=_seen(spelt),
                                          expected="priced rows only below the row of headers"))  # fmt: skip
            else:
                self.asides += 1

    def read(self, at: int) -> bool:
        """Whether a row could be told: priced, at fault, or none of our business. False: it is perhaps another header."""
        number, cells = self.grid.numbers[self._start + at], self.grid.cells[self._start + at]
        if number in self.grid.doubtful and self._is_lost(number, cells):
            return True
        number_cell, price_cell = self.header.cell(cells, "part_number"), self.header.cell(cells, "price")
        spelt = spelt_of(number_cell)
        if not spelt and "quantity" in self.header.columns and self.header.cell(cells, "quantity") != "":
            spelt = self._last_number
        if spelt and TOTAL.fullmatch(spelt):
            self.asides += 1
            return True
        if isinstance(spelt, Unread):
            self.found.note(UnreadRow(**self._place(number, "part_number"), found=_seen(number_cell),
                                      expected=str(spelt)))  # fmt: skip
            return True
        price = amount_of(price_cell, self._price_mark)
        row = _Row(at, number, cells, spelt, price, *self._said(number, cells))
        only_steps = price is None and price_cell == "" and row.steps and not row.bad
        if spelt and (isinstance(price, Decimal) or only_steps):
            self._keep(row)
            return True
        return self._is_told_without_price(row)

    def _is_lost(self, number: int, cells: Sequence[Cell]) -> bool:
        """Tell of a row with letters that could not be decoded; whether it cannot be read at all."""
        columns = [column for column, cell in enumerate(cells) if isinstance(cell, str) and DAMAGED in cell]
        lost = any(column == self.header.columns.get("part_number") for column in columns)
        place = self.header.title(columns[0]) if columns else ""
        found = _seen(cells[columns[0]]) if columns else ""
        sheet = self.grid.sheet
        if lost:
            self.found.note(
                UnreadRow(sheet=sheet, row=number, place=place, found=found, expected="letters in one encoding")
            )
        else:
            self.found.note(UnreadCell(sheet=sheet, row=number, place=place, found=found,
                                       expected="letters in one encoding",
                                       remedy="The price was read; ask for the sheet in one encoding."))  # fmt: skip
        return lost

    def _said(self, number: int, cells: list[Cell]) -> tuple[dict[int, Decimal], dict[str, Any], list[Fault]]:
        """What a row's other cells say: prices by quantity, values by field, and the faults of those that cannot be read."""
        steps: dict[int, Decimal] = {}
        values: dict[str, Any] = {}
        bad: list[Fault] = []
        for name, column, parse, known in self._readers:
            if column >= len(cells) or cells[column] == "":
                continue
            cell = cells[column]
            if type(cell) is CellError:  # equal to a text of the same letters, and not the same
                value = parse(cell)
            elif cell in known:
                value = known[cell]
            else:
                value = known[cell] = parse(cell)
            if isinstance(value, Unread):
                bad.append(UnreadCell(sheet=self.grid.sheet, row=number, place=self.header.title(column),
                                      found=_seen(cell), expected=str(value)))  # fmt: skip
            elif value is not None and name.isdigit():
                steps[int(name)] = value
            elif value is not None:
                values[name] = value
        return steps, values, bad

    def _keep(self, row: _Row) -> None:
        """A row with a number and a price: kept, unless one of its other cells cannot be read."""
        self._last_number = row.spelt
        price = row.price if isinstance(row.price, Decimal) else None
        first = row.steps.get(1, price)
        currency, doubt = row_currency(self.legend, row.cells)
        bad = list(row.bad)
        if doubt:
            bad.append(UnreadCell(**self._place(row.number, "currency"), found=doubt, expected="one currency in a row"))
        if price is not None and first != price:
            bad.append(TwoPrices(**self._place(row.number, "price"), found=f"{price} and {first} for one piece"))
        for fault in bad:
            self.found.note(fault, row.spelt)
        if not bad:
            priced = self._priced(row, first, currency)
            self.texts[row.at] = texts_of(priced, row.values.get("quantity"))

    def _priced(self, row: _Row, price: Decimal | None, currency: str) -> PriceRow:
        said = row.values
        pieces = said.get("price_unit", self.header.price_pieces)
        return PriceRow(
            PartNumber(row.spelt), bulk.description(self.header.cell(row.cells, "description")),
            None if price is None else for_one(price, pieces),
            tuple(PriceBreak(quantity, for_one(step, pieces)) for quantity, step in sorted(row.steps.items()) if quantity != 1),
            currency, said.get("core_charge"), said.get("stock"), said.get("pack"), said.get("minimum"),
            said.get("lead_days"), said.get("valid_until"), self.grid.sheet, row.number,
            said.get("superseded_by", ""), said.get("valid_from"),
            said.get("group", self.groups[-1][1] if self.groups else ""),
        )  # fmt: skip

    def _is_told_without_price(self, row: _Row) -> bool:
        """A row without a price: none of our business, or a fault. False: it is perhaps another header."""
        cells, price_cell = row.cells, self.header.cell(row.cells, "price")
        stated = row.values.keys() - {"superseded_by", "group", "valid_from", "price_unit"}
        bare = price_cell == "" and not (row.steps or stated or row.bad)
        again = repeats(self.header, cells)
        if not again and looks_like_header(cells):
            return False
        if again or is_aside(cells, row.spelt, bare, self._number_shapes()):
            self.asides += 1
            group = group_named(cells)
            if group:
                self.groups.append((row.at, group))
            return True
        if row.spelt:
            successor = row.values.get("superseded_by", "")
            expected = str(row.price) if isinstance(row.price, Unread) else ""
            found = _seen(price_cell) + (f"; the sheet says that {successor} has superseded it" if successor else "")
            self.found.note(UnreadPrice(**self._place(row.number, "price"), found=found, expected=expected), row.spelt)
        else:
            texts = [str(cell).strip() for cell in cells if str(cell).strip()]
            self.found.note(UnreadRow(sheet=self.grid.sheet, row=row.number, found=" | ".join(texts)[:120]))
        return True

    def _number_shapes(self) -> set[str]:
        """How this table's priced numbers look, letters as A and digits as 9."""
        if self._shapes is None:
            pairs = [(self.header.cell(cells, "part_number"), self.header.cell(cells, "price"))
                     for cells in self.grid.cells[self._start : self._start + _SAMPLE]]  # fmt: skip
            self._shapes = {shape(str(spelt)) for spelt, price in pairs if price != "" and isinstance(spelt, str)}
        return self._shapes

    def _place(self, number: int, name: str) -> dict[str, Any]:
        """Where a row's cell of a field stands, as a fault names it."""
        column = self.header.columns.get(name)
        place = self.header.title(column) if column is not None else name
        return {"sheet": self.grid.sheet, "row": number, "place": place}


def _seen(cell: Cell) -> str:
    """A cell as a fault quotes it."""
    if cell == "":
        return "a blank"
    if isinstance(cell, (CellError, date)):
        return str(cell)[:80]
    if isinstance(cell, (int, float)) and abs(cell) < 1e15:
        return f"{number_of(cell):f}"
    return f'"{str(cell)[:80]}"'
