"""Which row is the header and which column is what: declared, or told by words and by what stands below them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from sourcing.prices.amounts import number_of
from sourcing.prices.grid import Cell, Grid
from sourcing.prices.layout import FIELDS, Layout
from sourcing.prices.paid import our_prices, pieces_priced
from sourcing.prices.witness import Witness, amounts_share, falls_with_quantity
from sourcing.prices.words import break_quantity, currency_named, folded, meaning

HEADER_WITHIN = 50  # rows that hold something, from the top
_SAMPLE = 200


@dataclass(frozen=True, slots=True)
class Header:
    """A header row understood.

    `at` is the index among the grid's rows of the last row of the header (-1 where the sheet has none); `row` its number as
    the spreadsheet shows it, of a header of two rows the first, 0 where there is none; `columns` gives each field's column,
    `breaks` the column of each break quantity; `unclear` names fields that more than one column could be, with those columns'
    header texts; `changed` the declared headers that the sheet lacks, by field. `price_pieces` is the number of pieces for
    which a price holds; `by_description` tells that the description serves as part number.
    """

    at: int
    row: int
    titles: tuple[str, ...]
    columns: dict[str, int]
    breaks: dict[int, int]
    unclear: dict[str, tuple[str, ...]]
    changed: dict[str, str] = field(default_factory=dict)
    confidence: float = 1.0
    price_pieces: int = 1
    by_description: bool = False
    rows: int = 1  # of the header itself

    @property
    def top(self) -> int:
        """The index of its first row."""
        return self.at - self.rows + 1

    @property
    def whole(self) -> bool:
        return "part_number" in self.columns and ("price" in self.columns or bool(self.breaks)) and not self.unclear

    def title(self, column: int) -> str:
        return self.titles[column] if column < len(self.titles) else ""


def find_header(grid: Grid, layout: Layout, start: int = 0) -> Header | None:
    """The first best header from `start` on: declared, or the one whose words and contents say most."""
    if layout.header_row is not None and start == 0:
        chosen = [at for at, number in enumerate(grid.numbers) if number == layout.header_row]
        return _single_or_pair(grid, chosen[0], layout) if chosen else None
    best: tuple[int, int, int] | None = None
    for at in range(start, min(start + HEADER_WITHIN, len(grid.cells))):
        score = _score(titles_of(grid.cells[at]), layout)
        if score and (best is None or score > best[:2]):
            best = (*score, at)
    if best is None:
        return next(_pairs(grid, layout, range(start, min(start + HEADER_WITHIN, len(grid.cells)))), None)
    return _single_or_pair(grid, best[2], layout)


def _single_or_pair(grid: Grid, at: int, layout: Layout) -> Header:
    """A row as the header, or together with the row above or below it where only both are whole."""
    single = header_at(grid, at, layout)
    if single.whole and _goes_on(grid, at, single):
        titles = _two_rows(titles_of(grid.cells[at]), titles_of(grid.cells[at + 1]))
        return replace(header_at(grid, at + 1, layout, titles), row=grid.numbers[at], rows=2) if titles else single
    if single.whole or single.changed:
        return single
    return next(_pairs(grid, layout, (at, at - 1)), single)


def _goes_on(grid: Grid, at: int, header: Header) -> bool:
    """Whether the row below a header belongs to it: it names no part, and says in words which prices stand below."""
    if at + 1 >= len(grid.cells) or grid.numbers[at] + 1 != grid.numbers[at + 1]:
        return False
    below = titles_of(grid.cells[at + 1])
    number = header.columns["part_number"]
    priced = [header.columns["price"]] if "price" in header.columns else list(header.breaks.values())
    words = [column for column in priced if column < len(below) and _qualifies_price(below[column])]
    return bool(words) and (number >= len(below) or not below[number]) and sum(map(bool, below)) > 1


def _qualifies_price(title: str) -> bool:
    """Whether a text names a kind of price or its currency: List, Net, EUR."""
    return meaning(title)[0] == "price" or (len(title) <= 4 and currency_named(title) != "")


def _pairs(grid: Grid, layout: Layout, tops: Sequence[int]) -> Iterator[Header]:
    """Headers of two rows that are whole."""
    for top in tops:
        if 0 <= top < len(grid.cells) - 1 and grid.numbers[top] + 1 == grid.numbers[top + 1]:
            titles = _two_rows(titles_of(grid.cells[top]), titles_of(grid.cells[top + 1]))
            if titles and _score(titles, layout):
                header = header_at(grid, top + 1, layout, titles)
                if header.whole:
                    yield replace(header, row=grid.numbers[top], rows=2)


def _two_rows(upper: Sequence[str], lower: Sequence[str]) -> tuple[str, ...]:
    """Two rows of titles as one; an upper title goes on to the right over the blanks that a merged cell leaves.

    Nothing where one of them is no row of titles: a lone title, or amounts among them.
    """
    if sum(map(bool, upper)) < 2 or sum(map(bool, lower)) < 2:
        return ()
    if any(re.fullmatch(r"[^\w]*\d+[.,]\d+[^\w]*", title) for title in (*upper, *lower)):
        return ()
    titles, over = [], ""
    for column in range(max(len(upper), len(lower))):
        above = upper[column] if column < len(upper) else ""
        below = lower[column] if column < len(lower) else ""
        over = above or (over if below else "")
        titles.append(f"{over} {below}".strip())
    return tuple(titles)


def titles_of(cells: Sequence[Cell]) -> tuple[str, ...]:
    """A row's cells as header texts."""
    return tuple(
        " ".join(str(cell)[:200].split()) if isinstance(cell, str) or not isinstance(cell, (int, float)) or not abs(cell) < 1e15
        else f"{number_of(cell):f}" for cell in cells
    )  # fmt: skip


def _score(titles: Sequence[str], layout: Layout) -> tuple[int, int] | None:
    """How much a row looks like a header: fields named, and how surely. None where it is none."""
    filled = [title for title in titles if title]
    wanted = {folded(title) for title in layout.columns.values() if title}
    declared = sum(folded(title) in wanted for title in filled) if wanted else 0
    named = [meaning(title) for title in filled if len(title) <= 60]
    fields = {name for name, _ in named if name}
    breaks = any(break_quantity(title) for title in filled)
    if declared < 2 and (len(fields) + breaks < 2 or not fields & {"part_number", "price", "description"}):
        return None
    essential = ("part_number" in fields) + ("price" in fields or breaks)
    return 10 * declared + 4 * essential + len(fields), sum(sure for _, sure in named)


def header_at(grid: Grid, at: int, layout: Layout, titles: tuple[str, ...] | None = None) -> Header:
    """A row understood as a header, with the rows below it as witnesses."""
    said = _Settler(
        titles_of(grid.cells[at]) if titles is None else titles, grid.cells[at + 1 : at + 1 + _SAMPLE], layout
    )
    return replace(said.header(), at=at, row=grid.numbers[at])


def header_by_letters(grid: Grid, layout: Layout) -> Header | None:
    """The columns of a sheet without a header, where the layout names them by their letters; None where it does not."""
    named = {name: title for name, title in layout.columns.items() if title}
    if not named or any(not re.fullmatch(r"[A-Za-z]{1,2}", title) for title in named.values()):
        return None
    columns = {name: letters_to_column(title) for name, title in named.items()}
    width = max(map(len, grid.cells), default=0)
    if "part_number" not in columns or max(columns.values()) >= width:
        return None
    breaks = {int(name[:-1]): columns.pop(name) for name in list(columns) if name.endswith("+")}
    if "price" not in columns and not breaks:
        return None
    titles = tuple(column_letters(column) for column in range(width))
    return Header(-1, 0, titles, columns, dict(sorted(breaks.items())), {}, rows=0)


def column_letters(column: int) -> str:
    """A column's name as the spreadsheet shows it.

    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    first, last = divmod(column, 26)
    return (column_letters(first - 1) if first else "") + chr(65 + last)


def letters_to_column(letters: str) -> int:
    """The column of a name, from 0."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1


class _Settler:
    """Gives each field its column, or notes that several could be it."""

    def __init__(self, titles: Sequence[str], below: Sequence[Sequence[Cell]], layout: Layout) -> None:
        self.titles, self.layout = tuple(titles), layout
        self.witness = Witness(below)
        self.columns: dict[str, int] = {}
        self.breaks: dict[int, int] = {}
        self.unclear: dict[str, tuple[str, ...]] = {}
        self.changed: dict[str, str] = {}
        self.by_description = False

    def header(self) -> Header:
        self._declared()
        free = [column for column, text in enumerate(self.titles) if text and column not in self._taken()]
        self._break_columns(free)
        free = [column for column in free if column not in self.breaks.values()]
        for name in FIELDS:
            if name not in self.columns and name not in self.unclear and name not in self.layout.columns:
                self._settle(name, [column for column in free if meaning(self.titles[column])[0] == name])
        self._settle_plain_quantity(free)
        self._bare_numbers([column for column in free if column not in self.columns.values()])
        if 1 in self.breaks and "price" not in self.columns:
            self.columns["price"] = self.breaks.pop(1)
            self.unclear.pop("price", None)
        self._settle_missing([column for column in free if column not in self._taken()])
        pieces = pieces_priced(self.titles[self.columns["price"]]) if "price" in self.columns else 1
        return Header(0, 0, self.titles, self.columns, self.breaks, self.unclear, self.changed, self._confidence(), pieces,
                      self.by_description)  # fmt: skip

    def _taken(self) -> set[int]:
        return {*self.columns.values(), *self.breaks.values()}

    def _declared(self) -> None:
        for name, title in self.layout.columns.items():
            same = [column for column, text in enumerate(self.titles) if title and folded(text) == folded(title)]
            if len(same) == 1 and name.endswith("+"):
                self.breaks[int(name[:-1])] = same[0]
            elif len(same) == 1:
                self.columns[name] = same[0]
            elif title:
                self.unclear[name] = tuple(dict.fromkeys(text for text in self.titles if text))
                if not same:
                    self.changed[name] = title

    def _break_columns(self, free: Sequence[int]) -> None:
        found: dict[int, list[int]] = {}
        for column in free:
            quantity = break_quantity(self.titles[column])
            if quantity and quantity not in self.breaks:
                found.setdefault(quantity, []).append(column)
        twice = [self.titles[column] for several in found.values() if len(several) > 1 for column in several]
        if twice:
            self.unclear["breaks"] = tuple(twice)
        self.breaks |= {quantity: several[0] for quantity, several in found.items()}
        self.breaks = dict(sorted(self.breaks.items()))

    def _settle(self, name: str, candidates: list[int]) -> None:
        """Give a field its column, or note that several could be it."""
        if name == "price":
            fitting = [
                column for column in candidates if meaning(self.titles[column])[1] == 3 or self._holds_amounts(column)
            ]
            candidates, certain = our_prices(fitting, self.titles)
        else:
            surest = max((meaning(self.titles[column])[1] for column in candidates), default=0)
            candidates = [column for column in candidates if meaning(self.titles[column])[1] == surest]
            certain = True
        if len(candidates) > 1:
            candidates = [column for column in candidates if self.witness.can_be(name, column)] or candidates
        if name in ("description", "group"):
            candidates = candidates[:1]
        if len(candidates) == 1 and certain:
            self.columns[name] = candidates[0]
        elif candidates:
            self.unclear[name] = tuple(self.titles[column] for column in candidates)

    def _holds_amounts(self, column: int) -> bool:
        cells = self.witness.filled(column)
        return not cells or amounts_share(cells) > 0

    def _settle_plain_quantity(self, free: Sequence[int]) -> None:
        """A header that says only "Qty" means breaks where numbers repeat, stock where a zero stands; otherwise we ask."""
        plain = r"qty|quantity|menge|anzahl|stuck|quantite|qte|cantidad|quantita|aantal|quantidade|ilosc|miktar|adet|" \
                r"количество|кол-во|количест|кількість|килькисть"  # fmt: skip
        found = [column for column in free if re.fullmatch(plain, folded(self.titles[column]))]
        for column in found[:1]:
            if self.columns.get("quantity") == column:
                del self.columns["quantity"]
            number = self.columns.get("part_number", 0)
            numbers = [
                str(row[number]) for row in self.witness.rows if max(column, number) < len(row) and row[column] != ""
            ]
            cells = [str(cell).removesuffix(".0").strip() for cell in self.witness.column(column)]
            undeclared = "stock" not in self.columns and "stock" not in self.layout.columns
            if "quantity" not in self.columns and len(set(numbers)) < len(numbers):
                self.columns["quantity"] = column
            elif "0" in cells and undeclared:
                self.columns["stock"] = column
            elif undeclared and any(cells):
                self.unclear["stock"] = (self.titles[column],)

    def _bare_numbers(self, free: Sequence[int]) -> None:
        """Columns headed by bare numbers are breaks where the prices fall with them, in nearly every row."""
        bare = [column for column in free if re.fullmatch(r"(?!19[5-9]\d$|20\d\d$)[1-9]\d{0,5}", self.titles[column])
                and amounts_share(self.witness.filled(column)) > 0.8]  # fmt: skip
        quantities = [int(self.titles[column]) for column in bare]
        if not bare or "breaks" in self.unclear or self.breaks or quantities != sorted(set(quantities)):
            return
        ladder = [*([self.columns["price"]] if "price" in self.columns else []), *bare]
        if len(ladder) > 1 and falls_with_quantity(self.witness, ladder):
            self.breaks = dict(zip(quantities, bare, strict=True))
        elif "price" in self.columns or len(bare) == 1:
            self.unclear["breaks"] = tuple(self.titles[column] for column in bare)

    def _settle_missing(self, left: Sequence[int]) -> None:
        """What has no column yet: asked for, or served by the description where nothing else looks like a number."""
        if "price" not in self.columns and not self.breaks and "price" not in self.unclear:
            self.unclear["price"] = tuple(dict.fromkeys(self.titles[column] for column in left))
        if "part_number" in self.columns or "part_number" in self.unclear:
            return
        serves = "description" in self.columns and self.layout.columns.get("part_number", "") == ""
        if serves and ("part_number" in self.layout.columns or not any(map(self.witness.looks_like_numbers, left))):
            self.columns["part_number"] = self.columns["description"]
            self.by_description = True
        else:
            self.unclear["part_number"] = tuple(dict.fromkeys(self.titles[column] for column in left))

    def _confidence(self) -> float:
        """How surely words and contents agree, from 0 to 1: half the weakest of number and price, half the mean of all."""
        shares = {}
        for name, column in self.columns.items():
            word = 1.0 if name in self.layout.columns else {3: 1.0, 2: 0.85}.get(meaning(self.titles[column])[1], 0.7)
            shares[name] = word * (0.5 + 0.5 * self.witness.fit(name, column))
        for column in self.breaks.values():
            shares[self.titles[column]] = 0.5 + 0.5 * amounts_share(self.witness.filled(column))
        weakest = min((shares[name] for name in ("part_number", "price") if name in shares), default=0.0)
        certain = 0.5 * weakest + 0.5 * sum(shares.values()) / len(shares) if shares else 0.0
        return round(certain * (0.5 if self.unclear else 1.0), 2)
