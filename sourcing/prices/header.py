"""Which row is the header and which column is what: declared, or told by words and by what stands below them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.prices.grid import Cell, Grid, Row
from sourcing.prices.layout import FIELDS, Layout
from sourcing.prices.paid import our_prices
from sourcing.prices.words import break_quantity, folded, meaning

HEADER_WITHIN = 50  # rows that hold something, from the top
_SAMPLE = 200


@dataclass(frozen=True, slots=True)
class Header:
    """A header row understood.

    `at` is its index among the grid's rows; `columns` gives each field's column, `breaks` the column of each break
    quantity; `unclear` names fields that more than one column could be, with those columns' header texts.
    """

    at: int
    row: int
    titles: tuple[str, ...]
    columns: dict[str, int]
    breaks: dict[int, int]
    unclear: dict[str, tuple[str, ...]]

    @property
    def whole(self) -> bool:
        return "part_number" in self.columns and ("price" in self.columns or bool(self.breaks)) and not self.unclear

    def title(self, column: int) -> str:
        return self.titles[column] if column < len(self.titles) else ""


def find_header(grid: Grid, layout: Layout, start: int = 0) -> Header | None:
    """The first best header row from `start` on: declared, or the one whose words and contents say most."""
    rows = grid.rows[start : start + HEADER_WITHIN]
    if layout.header_row is not None and start == 0:
        chosen = [at for at, (number, _) in enumerate(grid.rows) if number == layout.header_row]
        return header_at(grid.rows, chosen[0], layout) if chosen else None
    best: tuple[int, int, int] | None = None
    for at, (_, cells) in enumerate(rows, start):
        score = _score(cells, layout)
        if score and (best is None or score > best[:2]):
            best = (*score, at)
    return header_at(grid.rows, best[2], layout) if best else None


def _score(cells: Sequence[Cell], layout: Layout) -> tuple[int, int] | None:
    """How much a row looks like a header: fields named, and how surely. None where it is none."""
    titles = [title for cell in cells if isinstance(cell, str) and (title := cell.strip())]
    wanted = {folded(title) for title in layout.columns.values() if title}
    declared = sum(folded(title) in wanted for title in titles) if wanted else 0
    named = [meaning(title) for title in titles if len(title) <= 60]
    fields = {name for name, _ in named if name}
    breaks = any(break_quantity(title) for title in titles)
    if declared < 2 and (len(fields) + breaks < 2 or not fields & {"part_number", "price", "description"}):
        return None
    essential = ("part_number" in fields) + ("price" in fields or breaks)
    return 10 * declared + 4 * essential + len(fields), sum(sure for _, sure in named)


def header_at(rows: Sequence[Row], at: int, layout: Layout) -> Header:
    """A row understood as a header, with the rows below it as witnesses."""
    number, cells = rows[at]
    titles = tuple(" ".join(str(cell)[:200].split()) for cell in cells)
    below = [row for _, row in rows[at + 1 : at + 1 + _SAMPLE]]
    columns: dict[str, int] = {}
    unclear: dict[str, tuple[str, ...]] = {}
    for name, title in layout.columns.items():
        same = [column for column, text in enumerate(titles) if title and folded(text) == folded(title)]
        if len(same) == 1:
            columns[name] = same[0]
        elif title:
            unclear[name] = tuple(dict.fromkeys(text for text in titles if text))
    free = [column for column, text in enumerate(titles) if text and column not in columns.values()]
    breaks = _break_columns(titles, free, unclear)
    free = [column for column in free if column not in breaks.values()]
    for name in FIELDS:
        if name not in columns and name not in unclear and name not in layout.columns:
            _settle(
                name, [column for column in free if meaning(titles[column])[0] == name], titles, below, columns, unclear
            )
    _settle_plain_quantity(titles, free, below, layout, columns, unclear)
    if 1 in breaks and "price" not in columns:
        columns["price"] = breaks.pop(1)
        unclear.pop("price", None)
    for name, needed in (("part_number", True), ("price", not breaks)):
        if needed and name not in columns and name not in unclear:
            left = [titles[column] for column in free if column not in columns.values()]
            unclear[name] = tuple(dict.fromkeys(left))
    return Header(at, number, titles, columns, breaks, unclear)


def _break_columns(titles: Sequence[str], free: Sequence[int], unclear: dict[str, tuple[str, ...]]) -> dict[int, int]:
    found: dict[int, list[int]] = {}
    for column in free:
        quantity = break_quantity(titles[column])
        if quantity:
            found.setdefault(quantity, []).append(column)
    twice = [titles[column] for several in found.values() if len(several) > 1 for column in several]
    if twice:
        unclear["breaks"] = tuple(twice)
    return {quantity: several[0] for quantity, several in sorted(found.items())}


def _settle(name: str, candidates: list[int], titles: Sequence[str], below: Sequence[Sequence[Cell]],
            columns: dict[str, int], unclear: dict[str, tuple[str, ...]]) -> None:  # fmt: skip
    """Give a field its column, or note that several could be it."""
    if name == "price":
        candidates, certain = our_prices(candidates, titles)
    else:
        surest = max((meaning(titles[column])[1] for column in candidates), default=0)
        candidates, certain = [column for column in candidates if meaning(titles[column])[1] == surest], True
    if len(candidates) > 1:
        fitting = [column for column in candidates if _fits(name, [row[column] for row in below if column < len(row)])]
        candidates = fitting or candidates
    if name == "description":
        candidates = candidates[:1]
    if len(candidates) == 1 and certain:
        columns[name] = candidates[0]
    elif candidates:
        unclear[name] = tuple(titles[column] for column in candidates)


def _fits(name: str, cells: Sequence[Cell]) -> bool:
    """Whether what stands below a header can be the field at all."""
    filled = [cell for cell in cells if cell != ""]
    if not filled:
        return False
    if name == "part_number":
        counted = [str(index) for index in range(1, len(filled) + 1)]
        return [str(cell).removesuffix(".0").strip() for cell in filled] != counted
    if name in ("description", "currency", "valid_until"):
        return True
    digits = sum(not isinstance(cell, str) or bool(re.search(r"\d", cell)) for cell in filled)
    return 2 * digits >= len(filled)


def _settle_plain_quantity(titles: Sequence[str], free: Sequence[int], below: Sequence[Sequence[Cell]], layout: Layout,
                           columns: dict[str, int], unclear: dict[str, tuple[str, ...]]) -> None:  # fmt: skip
    """A header that says only "Qty" means breaks where numbers repeat, stock where a zero stands; otherwise we ask."""
    plain = r"qty|quantity|menge|anzahl|stuck|quantite|qte|cantidad|quantita|aantal|quantidade|ilosc|miktar|adet|" \
            r"количество|кол-во|кількість|килькисть"  # fmt: skip
    found = [column for column in free if re.fullmatch(plain, folded(titles[column]))]
    for column in found[:1]:
        if columns.get("quantity") == column:
            del columns["quantity"]
        number = columns.get("part_number", 0)
        numbers = [str(row[number]) for row in below if max(column, number) < len(row) and row[column] != ""]
        cells = [str(row[column]).removesuffix(".0").strip() for row in below if column < len(row)]
        if "quantity" not in columns and len(set(numbers)) < len(numbers):
            columns["quantity"] = column
        elif "0" in cells and "stock" not in columns and "stock" not in layout.columns:
            columns["stock"] = column
        elif "stock" not in columns and "stock" not in layout.columns and any(cells):
            unclear["stock"] = (titles[column],)
