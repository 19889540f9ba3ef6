"""How the columns under one header are to be read: their decimal marks, orders of dates, currency, and readers of cells."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

from sourcing.prices import bulk
from sourcing.prices.amounts import amount_of
from sourcing.prices.cells import (
    COUNT_WORDS,
    count_of,
    date_order,
    day_of,
    day_or_nothing,
    days_of,
    pieces_of,
    stock_of,
    successor_of,
)
from sourcing.prices.grid import Cell, Grid
from sourcing.prices.header import Header
from sourcing.prices.layout import Layout
from sourcing.prices.settled import Found
from sourcing.prices.words import currency_named, folded

_WEEKS = re.compile(r"\b(weeks?|wochen|semaines|semanas|settimane|weken|tygodni\w*|hafta|недел|тижн)")
Parse = Callable[[Cell], Any]


class FieldReader(NamedTuple):
    """How the cells of one column are read; a break's `name` is its quantity."""

    name: str
    column: int
    parse: Parse


@dataclass(frozen=True, slots=True)
class Marks:
    """The decimal marks of a table.

    `of` gives each column of money its mark, as `amounts` takes it; `agreed` is the one mark that the table proves, if it does;
    `told` are the marks that the table is said to use.
    """

    of: dict[int, str]
    agreed: str
    told: str


@dataclass(frozen=True, slots=True)
class Legend:
    """What must be known to read the rows under a header.

    `readers` stand for every used column but number, description, price and currency; `money` holds the columns of money;
    `currency` is the one that the header of the price, or the layout, names.
    """

    grid: Grid
    header: Header
    layout: Layout
    below: bulk.Below
    money: dict[int, bulk.Money]
    marks: Marks
    currency: str
    readers: tuple[FieldReader, ...]

    @property
    def start(self) -> int:
        """The index of the first row below the header."""
        return self.below.start

    @property
    def count(self) -> int:
        """The number of rows below the header."""
        return self.below.count

    def mark(self, name: str) -> str:
        """The decimal mark of a field's column."""
        return self.marks.of.get(self.header.columns.get(name, -1), "")


def legend_of(grid: Grid, header: Header, layout: Layout, found: Found) -> Legend:
    """What the columns under a header are like; what stays open is asked or noted in `found`."""
    below = bulk.Below(grid, header.at + 1)
    columns = [header.columns[name] for name in ("price", "core_charge") if name in header.columns]
    money = {column: bulk.Money(below[column]) for column in [*columns, *header.breaks.values()]}
    marks = _marks(grid, header, layout, money, found)
    orders = {name: _date_order(name, header, layout, below, found) for name in ("valid_until", "valid_from")}
    priced = header.columns.get("price", next(iter(header.breaks.values()), 0))
    currency = currency_named(header.title(priced), layout.currency)
    return Legend(grid, header, layout, below, money, marks, currency, tuple(_readers(header, marks, orders)))


def _marks(grid: Grid, header: Header, layout: Layout, money: dict[int, bulk.Money], found: Found) -> Marks:
    """The decimal mark of each column of money; what one leaves open the others may decide, if they agree."""
    needs = {column: amounts.mark() for column, amounts in money.items()}
    marks = {column: layout.decimal or need for column, need in needs.items()}
    proven = set("".join(marks.values()).replace("!", ".,")) & {".", ","}
    open_columns = [column for column, mark in marks.items() if mark == "?"]
    if not proven and open_columns and not any(_holds_comma(money[column].whole) for column in open_columns):
        proven = set(grid.proof())
    agreed = next(iter(proven)) if len(proven) == 1 else ""
    for column in open_columns:
        marks[column] = agreed or "?"
        if not agreed:
            found.ask(grid.sheet, header.row, "decimal", (".", ","))
    return Marks(marks, agreed, "".join(sorted(proven)) if any(needs.values()) else "")


def _holds_comma(whole: bulk.Whole) -> bool:
    """Whether an amount of a column, in quotation marks then, is written with a comma."""
    return any(type(cell) is str and "," in cell and re.search(r"\d,\d", cell) for cell in whole.cells)


def _date_order(name: str, header: Header, layout: Layout, below: bulk.Below, found: Found) -> str:
    """How a column writes its dates; '' where the table lacks it."""
    if name not in header.columns:
        return ""
    order = date_order(list(set(below[header.columns[name]].values)), layout.date_order)
    if order == "?" and name == "valid_until":
        found.ask(below.grid.sheet, header.row, "date_order", ("dmy", "mdy"))
    elif order == "?":
        found.notes.append("the dates from which prices hold were left out: day and month cannot be told apart")
    return order


def _readers(header: Header, marks: Marks, orders: dict[str, str]) -> list[FieldReader]:
    """How each used column but number, description, price and currency is read."""
    columns = header.columns
    in_weeks = "lead_days" in columns and _WEEKS.search(folded(header.title(columns["lead_days"]))) is not None
    kinds: dict[str, Parse] = {
        "core_charge": partial(amount_of, mark=marks.of.get(columns.get("core_charge", -1), ""), zero=True),
        "stock": partial(stock_of, mark=marks.agreed),
        "pack": partial(count_of, mark=marks.agreed, least=1, words=COUNT_WORDS),
        "minimum": partial(count_of, mark=marks.agreed, least=1, words=COUNT_WORDS),
        "lead_days": partial(days_of, in_weeks=in_weeks),
        "valid_until": partial(day_of, order=orders["valid_until"]),
        "valid_from": partial(day_or_nothing, order=orders["valid_from"]),
        "quantity": partial(count_of, mark=marks.agreed, least=1),
        "price_unit": pieces_of,
        "superseded_by": successor_of,
        "group": bulk.description,
    }
    fields = [FieldReader(name, columns[name], parse) for name, parse in kinds.items() if name in columns]
    breaks = [
        FieldReader(str(quantity), column, partial(amount_of, mark=marks.of[column]))
        for quantity, column in header.breaks.items()
    ]
    return fields + breaks
