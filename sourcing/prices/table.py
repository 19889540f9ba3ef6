"""The tables of a sheet, one below the other: each read at once, row by row where that leaves a doubt, and noted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import compress
from typing import cast

from sourcing.prices import bulk
from sourcing.prices.columns import COLUMNS
from sourcing.prices.fields import header_at
from sourcing.prices.grid import Grid
from sourcing.prices.header import Header
from sourcing.prices.layout import Layout
from sourcing.prices.legend import Legend, legend_of
from sourcing.prices.preflight import Unsafe
from sourcing.prices.rows import Table
from sourcing.prices.settled import Found
from sourcing.prices.singlerow import SingleRows
from sourcing.prices.wholetable import doubtful_rows, read_at_once

MOST_TABLES = 100
Columns = Mapping[str, list[str] | str]  # a column may come as its lines


def read_tables(grid: Grid, header: Header | None, layout: Layout, found: Found, careful: bool = False) -> None:
    """Read a table, and those that begin with a header of their own further down.

    Whole columns are read at once and only what is left goes row by row; `careful`: every row by itself, with equal results.
    """
    above = range(max(0, header.top)) if header is not None else range(0)
    room = MOST_TABLES
    while header is not None:
        room -= 1
        if room < 0:
            raise Unsafe(
                f"more than {MOST_TABLES} tables below each other on one sheet",
                "Ask for a list with one row of headers.",
            )
        legend = legend_of(grid, header, layout, found)
        single = SingleRows(legend, found)
        single.look_above(above)
        header, above = _read(legend, single, found, careful), range(0)


def _read(legend: Legend, single: SingleRows, found: Found, careful: bool) -> Header | None:
    """Read every row of a table; returns the header of another one, where one begins below."""
    one_by_one = careful or "quantity" in legend.header.columns or not legend.count
    texts = {} if one_by_one else read_at_once(legend)
    doubtful = doubtful_rows(legend, texts) if texts else range(legend.count)
    if len(doubtful) == legend.count:
        texts = {}
    following, end = None, legend.count
    for at in doubtful:
        if not single.read(at):
            following = _other_header(legend, at, found)
            if following is not None:
                end = at
                break
    count, columns = _gathered(legend, single, texts, doubtful, end)
    found.add(count, {**columns, "sheet": [legend.grid.sheet] * count})
    found.tables.append(_table(legend, single.asides, columns, count, end))
    return following


def _other_header(legend: Legend, at: int, found: Found) -> Header | None:
    """The header of another table, if a row is one; what it leaves open is asked."""
    other = header_at(legend.grid, legend.start + at, legend.layout)
    if other.whole:
        return other
    for name, choices in other.unclear.items():
        found.ask(legend.grid.sheet, other.row, name, choices, other.changed.get(name, ""))
    return None


def _gathered(legend: Legend, single: SingleRows, texts: dict[str, bulk.Told], doubtful: Sequence[int],
              end: int) -> tuple[int, Columns]:  # fmt: skip
    """The priced rows above `end`, how many and as columns: those read by themselves put among the others."""
    names = [name for name in COLUMNS if name != "sheet"]
    if not texts:
        return len(single.texts), {name: [row[name] for row in single.texts.values()] for name in names}
    texts["row"] = "\n".join(map(str, legend.grid.numbers[legend.start : legend.start + end]))
    if single.groups and "group" not in texts:
        texts["group"] = _group_texts(single.groups, end)
    if not doubtful and end == legend.count:
        return end, cast(Columns, texts)  # no row is in doubt: no text is None
    left = set(doubtful) - single.texts.keys()
    flags = [at not in left for at in range(end)]
    return sum(flags), {name: _column(name, texts.get(name), single, flags) for name in names}


def _column(name: str, told: bulk.Told | None, single: SingleRows, flags: Sequence[bool]) -> list[str]:
    """The texts of a column where a flag stands, those of rows read by themselves put in their places."""
    column = [""] * len(flags) if told is None else bulk.texts(told)
    for at, row in single.texts.items():
        column[at] = row[name]
    return cast(list[str], list(compress(column, flags)))  # what was None was read by itself, or has no flag


def _group_texts(groups: Sequence[tuple[int, str]], end: int) -> bulk.Texts:
    """For each row the group of the last heading above it."""
    texts: list[str] = []
    group = ""
    for at, following in [*groups, (end, "")]:
        texts += [group] * (at - len(texts))
        group = following
    return texts


def _table(legend: Legend, asides: int, columns: Columns, count: int, end: int) -> Table:
    """What is said of a table as a whole: its headers, rows, sum of prices and currency."""
    grid, header = legend.grid, legend.header
    used = {name: header.title(column) for name, column in header.columns.items()}
    if header.by_description:
        del used["part_number"]
    used |= {f"{quantity}+": header.title(column) for quantity, column in header.breaks.items()}
    counted = bulk.texts(columns.get("price", "")) if count else []
    if "" in counted:
        counted = [price or (steps or "").partition(":")[2].partition(" ")[0]
                   for price, steps in zip(counted, bulk.texts(columns["breaks"]), strict=True)]  # fmt: skip
    currencies = set(bulk.texts(columns["currency"])) if count else set()
    numbers = grid.numbers[legend.start : legend.start + end]
    hidden = len(grid.hidden_rows.intersection(numbers)) if grid.hidden_rows else 0
    return Table(
        grid.sheet, header.row, used, count, sum(map(Decimal, counted), Decimal(0)),
        currencies.pop() if len(currencies) == 1 else "", legend.marks.told, header.confidence, asides, hidden, grid.hidden,
    )  # fmt: skip
