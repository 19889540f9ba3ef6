"""The rows under one header: each a priced row, a fault, or recognisably none of our business."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from sourcing.faults import Fault, TwoPrices, UnreadCell, UnreadPrice, UnreadRow
from sourcing.partnumber import PartNumber, canonical
from sourcing.prices.amounts import Unread, amount_of, decided_mark, number_of
from sourcing.prices.asides import TOTAL, is_aside, looks_like_header, repeats, shape
from sourcing.prices.cells import COUNT_WORDS, NO_STOCK, count_of, date_order, day_of, days_of, spelt_of
from sourcing.prices.grid import Cell, CellError, Grid
from sourcing.prices.header import Header, header_at
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceBreak, PriceRow, Table
from sourcing.prices.settled import Found, counted_price
from sourcing.prices.words import currency_named, folded

_NOWHERE = 1_000_000  # the column of a field that a table lacks


def read_tables(grid: Grid, header: Header | None, layout: Layout, found: Found) -> None:
    """Read a table, and those that begin with a header of their own further down."""
    while header is not None:
        table = _TableReader(grid, header, layout, found)
        header = table.read()


class _TableReader:
    """The rows under one header."""

    def __init__(self, grid: Grid, header: Header, layout: Layout, found: Found) -> None:
        self.grid, self.header, self.layout, self.found = grid, header, layout, found
        self.below = [cells for _, cells in grid.rows[header.at + 1 :]]
        self.marks = self._marks()
        self.order = self._date_order()
        self.currency = self._header_currency()
        self.parsers = self._parsers()
        self.shapes: set[str] = set()
        self.last_number = ""
        self.priced: list[PriceRow] = []

    # -- what the columns are like --

    def _column(self, column: int) -> list[Cell]:
        return [cells[column] for cells in self.below if column < len(cells)]

    def _marks(self) -> dict[int, str]:
        """The decimal mark of each column of money; what one leaves open the others may decide, if they agree."""
        money = [self.header.columns[name] for name in ("price", "core_charge") if name in self.header.columns]
        money += self.header.breaks.values()
        marks = {column: decided_mark(self._column(column), self.layout.decimal) for column in money}
        needed = any(decided_mark(self._column(column)) for column in money)
        proven = set("".join(marks.values()).replace("!", ".,")) & {".", ","}
        open_columns = [column for column, mark in marks.items() if mark == "?"]
        if not proven and open_columns and not any(self._holds_comma(column) for column in open_columns):
            proven = set(self.grid.decimal)
        self.agreed = proven.copy().pop() if len(proven) == 1 else ""
        for column in open_columns:
            marks[column] = self.agreed or "?"
            if not self.agreed:
                self.found.ask(self.grid.sheet, self.header.row, "decimal", (".", ","))
        self.decimal = "".join(sorted(proven)) if needed else ""
        return marks

    def _holds_comma(self, column: int) -> bool:
        """Whether an amount of a column, in quotation marks then, is written with a comma."""
        return any(type(cell) is str and "," in cell and re.search(r"\d,\d", cell) for cell in self._column(column))

    def _date_order(self) -> str:
        column = self.header.columns.get("valid_until")
        order = date_order(self._column(column), self.layout.date_order) if column is not None else ""
        if order == "?":
            self.found.ask(self.grid.sheet, self.header.row, "date_order", ("dmy", "mdy"))
        return order

    def _header_currency(self) -> str:
        column = self.header.columns.get("price", next(iter(self.header.breaks.values()), 0))
        return currency_named(self.header.title(column), self.layout.currency)

    def _parsers(self) -> list[tuple[str, int, Callable[[Cell], Any], dict[Cell, Any]]]:
        """For each used column but number, description and price: how its cells are read, with what was read before."""
        lead = folded(self.header.title(self.header.columns.get("lead_days", _NOWHERE)))
        weeks = re.search(r"\b(weeks?|wochen|semaines|semanas|settimane|weken|недел|тижн)", lead) is not None
        columns = self.header.columns
        kinds: dict[str, Callable[[Cell], Any]] = {
            "core_charge": partial(amount_of, mark=self.marks.get(columns.get("core_charge", -1), ""), zero=True),
            "stock": partial(count_of, mark=self.agreed, words=dict.fromkeys(NO_STOCK, 0)),
            "pack": partial(count_of, mark=self.agreed, least=1, words=COUNT_WORDS),
            "minimum": partial(count_of, mark=self.agreed, least=1, words=COUNT_WORDS),
            "lead_days": partial(days_of, in_weeks=weeks),
            "valid_until": partial(day_of, order=self.order),
            "quantity": partial(count_of, mark=self.agreed, least=1),
        }
        listed: list[tuple[str, int, Callable[[Cell], Any], dict[Cell, Any]]] = [
            (name, columns[name], kind, {}) for name, kind in kinds.items() if name in columns
        ]
        for quantity, column in self.header.breaks.items():
            listed.append((str(quantity), column, partial(amount_of, mark=self.marks[column]), {}))
        return listed

    # -- rows --

    def read(self) -> Header | None:
        """Read every row; returns the header of another table, where one begins below."""
        rows = self.grid.rows
        self.shapes = self._number_shapes()
        following = None
        for at in range(self.header.at + 1, len(rows)):
            number, cells = rows[at]
            if not self._read_row(number, cells):
                following = self._other_header(at, cells)
                if following is not None:
                    break
        used = {name: self.header.title(column) for name, column in self.header.columns.items()}
        used |= {f"{quantity}+": self.header.title(column) for quantity, column in self.header.breaks.items()}
        currencies = {row.currency for row in self.priced}
        total = sum((counted_price(row) for row in self.priced), Decimal(0))
        self.found.tables.append(Table(self.grid.sheet, self.header.row, used, len(self.priced), total,
                                       currencies.pop() if len(currencies) == 1 else "", self.decimal))  # fmt: skip
        return following

    def _cell(self, cells: Sequence[Cell], name: str) -> Cell:
        column = self.header.columns.get(name, _NOWHERE)
        return cells[column] if column < len(cells) else ""

    def _read_row(self, number: int, cells: list[Cell]) -> bool:
        """Whether a row could be told: priced, at fault, or none of our business."""
        spelt = spelt_of(self._cell(cells, "part_number"))
        if not spelt and "quantity" in self.header.columns and self._cell(cells, "quantity") != "":
            spelt = self.last_number
        if spelt and TOTAL.fullmatch(spelt):
            return True
        price_cell = self._cell(cells, "price")
        price = amount_of(price_cell, self.marks.get(self.header.columns.get("price", -1), ""))
        if isinstance(spelt, Unread):
            self.found.note(UnreadRow(**self._at(number, "part_number"), found=_seen(self._cell(cells, "part_number")),
                                      expected=str(spelt)))  # fmt: skip
            return True
        steps, values, bad = self._values(number, cells)
        if (spelt and isinstance(price, Decimal)) or (
            spelt and price is None and steps and not bad and price_cell == ""
        ):
            self._take(number, cells, spelt, price if isinstance(price, Decimal) else None, steps, values, bad)
            return True
        return self._unpriced(number, cells, spelt, price, bool(steps or values or bad))

    def _values(self, number: int, cells: list[Cell]) -> tuple[dict[int, Decimal], dict[str, Any], list[Fault]]:
        steps: dict[int, Decimal] = {}
        values: dict[str, Any] = {}
        bad: list[Fault] = []
        for name, column, parse, known in self.parsers:
            if column >= len(cells) or cells[column] == "":
                continue
            cell = cells[column]
            if cell in known:
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

    def _at(self, number: int, name: str) -> dict[str, Any]:
        column = self.header.columns.get(name)
        return {
            "sheet": self.grid.sheet,
            "row": number,
            "place": self.header.title(column) if column is not None else name,
        }

    def _take(self, number: int, cells: list[Cell], spelt: str, price: Decimal | None, steps: dict[int, Decimal],
              values: dict[str, Any], bad: list[Fault]) -> None:  # fmt: skip
        """A row with a number and a price: kept, unless one of its other cells cannot be read."""
        self.last_number = spelt
        quantity = values.pop("quantity", None)
        currency, doubt = self._row_currency(cells)
        if doubt:
            bad.append(UnreadCell(**self._at(number, "currency"), found=doubt, expected="one currency in a row"))
        first = steps.pop(1, price)
        if price is not None and first != price:
            bad.append(TwoPrices(**self._at(number, "price"), found=f"{price} and {first} for one piece"))
        for fault in bad:
            self.found.note(fault, spelt)
        if bad:
            return
        says = self._cell(cells, "description")
        row = PriceRow(
            PartNumber(spelt), " ".join(str(says).split()) if not isinstance(says, CellError) else "", first,
            tuple(PriceBreak(*step) for step in sorted(steps.items())), currency, values.get("core_charge"),
            values.get("stock"), values.get("pack"), values.get("minimum"), values.get("lead_days"),
            values.get("valid_until"), self.grid.sheet, number,
        )  # fmt: skip
        self.priced.append(row)
        self.found.entries.setdefault(canonical(spelt), []).append((quantity, row))

    def _row_currency(self, cells: list[Cell]) -> tuple[str, str]:
        """A row's currency, and what is doubtful about it."""
        said = str(self._cell(cells, "currency")).strip()
        named = {currency_named(said, self.layout.currency) or said.upper()} if said else set()
        for column in self.marks:
            cell = cells[column] if column < len(cells) else ""
            if type(cell) is str and cell and not (cell[0].isdigit() and cell[-1].isdigit()):
                named.add(currency_named(cell, self.layout.currency))
        named.discard("")
        if not named:
            return self.currency, ""
        return (named.pop(), "") if len(named) == 1 else ("", " and ".join(sorted(named)))

    # -- rows without a price --

    def _number_shapes(self) -> set[str]:
        """How this table's priced numbers look, letters as A and digits as 9."""
        shapes = set()
        price, column = self.header.columns.get("price", _NOWHERE), self.header.columns["part_number"]
        for cells in self.below[:2000]:
            if column < len(cells) and price < len(cells) and cells[price] != "" and isinstance(cells[column], str):
                shapes.add(shape(str(cells[column])))
        return shapes

    def _unpriced(self, number: int, cells: list[Cell], spelt: str, price: object, stated: bool) -> bool:
        """A row without a price: none of our business, or a fault. False: it is perhaps another header."""
        price_cell = self._cell(cells, "price")
        bare = price_cell == "" and not stated
        if is_aside(cells, spelt, bare, self.shapes) or repeats(self.header, cells):
            return True
        if looks_like_header(cells):
            return False
        if spelt:
            expected = str(price) if isinstance(price, Unread) else ""
            self.found.note(UnreadPrice(**self._at(number, "price"), found=_seen(price_cell), expected=expected), spelt)
        else:
            texts = [str(cell).strip() for cell in cells if str(cell).strip()]
            self.found.note(UnreadRow(sheet=self.grid.sheet, row=number, found=" | ".join(texts)[:120]))
        return True

    def _other_header(self, at: int, cells: Sequence[Cell]) -> Header | None:
        other = header_at(self.grid.rows, at, self.layout)
        if other.whole:
            return other
        for name, choices in other.unclear.items():
            self.found.ask(self.grid.sheet, other.row, name, choices)
        return None


def _seen(cell: Cell) -> str:
    """A cell as a fault quotes it."""
    if cell == "":
        return "a blank"
    if isinstance(cell, (CellError, date)):
        return str(cell)[:80]
    if isinstance(cell, (int, float)) and abs(cell) < 1e15:
        return f"{number_of(cell):f}"
    return f'"{str(cell)[:80]}"'
