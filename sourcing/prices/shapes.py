"""Sheets that are no list of prices one below the other, told by their shape."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sourcing.prices.grid import Cell, Grid
from sourcing.prices.header import Header, column_letters, titles_of
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe
from sourcing.prices.witness import Witness, amounts_share, is_money
from sourcing.prices.words import folded, meaning

_SAMPLE = 200


def beside(grid: Grid, header: Header | None, layout: Layout) -> Unsafe | None:
    """Two tables beside each other: a header that names number and price twice over, in the same words."""
    if header is None or header.at < 0 or {"part_number", "price"} & layout.columns.keys():
        return None
    named = [(column, folded(title), meaning(title)[0]) for column, title in enumerate(header.titles) if title]
    numbers = [(column, words) for column, words, name in named if name == "part_number"]
    prices = [(column, words) for column, words, name in named if name == "price"]
    for first, words in numbers:
        second = next((column for column, other in numbers if column > first and other == words), None)
        if second is None:
            continue
        left = [price for column, price in prices if first < column < second]
        right = [price for column, price in prices if column > second]
        if set(left) & set(right):
            return Unsafe(f"two tables beside each other, from the columns {column_letters(first)} and {column_letters(second)} on",
                          "Put one below the other, or each on a sheet of its own, and save the file again.")  # fmt: skip
    return None


def no_prices(grid: Grid, header: Header, layout: Layout) -> Unsafe | None:
    """A table in which no column could be the price, whatever its header says."""
    if "price" in header.columns or header.breaks or "price" in layout.columns or header.changed:
        return None
    witness = Witness(grid.cells[header.at + 1 : header.at + 1 + _SAMPLE])
    matrix = is_matrix(grid)
    if matrix:
        return _MATRIX
    for column, title in enumerate(header.titles):
        filled = witness.filled(column)
        likely = amounts_share(filled) > 0.5 and (any(map(is_money, filled)) or meaning(title)[0] == "price")
        if title and likely and column not in header.columns.values():
            return None
    named = ", ".join(title for title in header.titles if title)[:120]
    return Unsafe(f"a table without a column of prices; its headers are: {named}",
                  "If one of them is the price, say which: --column price=HEADER. Otherwise ask for a price list.")  # fmt: skip


_MATRIX = Unsafe("a matrix of prices by two sizes, not a list",
                 "Ask for a list with one part number and one price in each row.")  # fmt: skip


def no_list(grids: Sequence[Grid]) -> Unsafe:
    """Why nothing in a file could be read as a price list."""
    if any(map(is_matrix, grids)):
        return _MATRIX
    rows = [[title for title in titles_of(cells) if title] for grid in grids for cells in grid.cells[:3]]
    remedy = "Say the header row and columns in suppliers.toml, or ask for a price list."
    if not rows:
        return Unsafe("a file without a filled cell", "Ask for the file again.")
    begins = " | ".join(rows[0])[:80]
    if all(len(cells) <= 1 for grid in grids for cells in grid.cells[:50]):
        return Unsafe(
            f'no row of headers with a part number and a price, but a message: "{begins}"',
            "Ask for the price list again.",
        )
    return Unsafe(f'no row of headers with a part number and a price; it begins "{begins}"', remedy)


def is_matrix(grid: Grid) -> bool:
    """Whether a sheet is a matrix: sizes across the top and down the side, and amounts where they cross."""
    for at, cells in enumerate(grid.cells[:20]):
        sizes = [column for column, cell in enumerate(cells) if _size(cell) is not None]
        values = [size for column in sizes if (size := _size(cells[column])) is not None]
        below = grid.cells[at + 1 : at + 1 + _SAMPLE]
        if len(sizes) < 3 or not sizes[0] or values != sorted(set(values)) or len(below) < 2:
            continue
        sides = [side for row in below if row and (side := _size(row[0])) is not None]
        body = [row[column] for row in below for column in sizes if column < len(row) and row[column] != ""]
        if len(sides) < 0.8 * len(below) or len(set(sides)) < len(sides) or not body:
            continue
        if amounts_share(body) > 0.9 and sum(map(is_money, body)) > 0.3 * len(body):
            return True
    return False


def _size(cell: Cell) -> float | None:
    if isinstance(cell, (int, float)):
        return float(cell)
    found = re.fullmatch(r"\s*(\d{1,5}(?:[.,]\d{1,3})?)\s*(?:mm|cm|in|\")?\s*", cell) if isinstance(cell, str) else None
    return float(found[1].replace(",", ".")) if found else None


def asked_without_header(grid: Grid) -> list[tuple[str, tuple[str, ...]]]:
    """What to ask of a sheet without a header whose contents look like part numbers and prices; nothing otherwise.

    The choices are the letters of the columns: by them a layout can say which is which.
    """
    rows = grid.cells[:_SAMPLE]
    witness = Witness(rows)
    width = max(map(len, rows), default=0)
    numbers, prices = [], []
    for column in range(min(width, 60)):
        filled = witness.filled(column)
        if 10 * len(filled) < 6 * len(rows) or len(filled) < 2:
            continue
        if amounts_share(filled) > 0.8 and sum(map(is_money, filled)) > 0.6 * len(filled):
            prices.append(column)
        elif witness.looks_like_numbers(column):
            numbers.append(column)
    if not numbers or not prices or _ascending(rows, prices):
        return []
    return [("part_number", tuple(map(column_letters, numbers))), ("price", tuple(map(column_letters, prices)))]


def _ascending(rows: Sequence[Sequence[Cell]], columns: Sequence[int]) -> bool:
    """Whether the amounts of nearly every row grow from column to column, as the times of a timetable do."""
    if len(columns) < 3:
        return False
    growing = 0
    for row in rows:
        values = [size for column in columns if column < len(row) and (size := _size(row[column])) is not None]
        growing += len(values) > 1 and values == sorted(set(values))
    return growing > 0.8 * len(rows)
