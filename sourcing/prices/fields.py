"""Which column holds which field: declared, or told by the words of its header and by what stands below them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from sourcing.prices.grid import Cell, Grid
from sourcing.prices.header import Header, titles_of
from sourcing.prices.layout import FIELDS, Layout
from sourcing.prices.paid import our_prices, pieces_priced
from sourcing.prices.witness import Witness, amounts_share, falls_with_quantity
from sourcing.prices.words import break_quantity, folded, meaning

_SAMPLE = 200  # rows below a header that are its witnesses


def header_at(grid: Grid, at: int, layout: Layout, titles: tuple[str, ...] | None = None) -> Header:
    """A row understood as a header, with the rows below it as witnesses."""
    said = _Settler(
        titles_of(grid.cells[at]) if titles is None else titles, grid.cells[at + 1 : at + 1 + _SAMPLE], layout
    )
    return replace(said.header(), at=at, row=grid.numbers[at])


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
