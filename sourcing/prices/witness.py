"""What the cells below a header say of it: amounts, part numbers, prices that fall with the quantity."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sourcing.prices.amounts import AMOUNT, amount_of
from sourcing.prices.grid import Cell, CellError

_NUMBER = re.compile(r"(?=.*\d)[\w./-]{3,24}(?: [\w./-]{1,8})?")


class Witness:
    """The first rows below a header."""

    def __init__(self, rows: Sequence[Sequence[Cell]]) -> None:
        self.rows = rows

    def column(self, column: int) -> list[Cell]:
        return [row[column] for row in self.rows if column < len(row)]

    def filled(self, column: int) -> list[Cell]:
        return [cell for cell in self.column(column) if cell != "" and str(cell).strip()]

    def can_be(self, name: str, column: int) -> bool:
        """Whether what stands below a header can be the field at all."""
        filled = self.filled(column)
        if not filled:
            return False
        if name == "part_number":
            counted = [str(index) for index in range(1, len(filled) + 1)]
            return [str(cell).removesuffix(".0").strip() for cell in filled] != counted
        if name in ("description", "currency", "valid_until", "valid_from", "superseded_by", "group", "price_unit"):
            return True
        digits = sum(not isinstance(cell, str) or bool(re.search(r"\d", cell)) for cell in filled)
        return 2 * digits >= len(filled)

    def fit(self, name: str, column: int) -> float:
        """The share of a column's filled cells that can be the field; 1 where nothing stands there."""
        filled = self.filled(column)
        if not filled:
            return 1.0
        if name in ("price", "core_charge"):
            return amounts_share(filled)
        if name == "part_number":
            return len({str(cell) for cell in filled}) / len(filled)
        if name in ("stock", "pack", "minimum", "lead_days", "quantity", "price_unit"):
            return sum(not isinstance(cell, str) or bool(re.search(r"\d", cell)) for cell in filled) / len(filled)
        return 1.0

    def looks_like_numbers(self, column: int) -> bool:
        """Whether a column holds what could be part numbers: short, with digits, nearly all of them different."""
        texts = [
            str(cell).removesuffix(".0").strip() for cell in self.filled(column) if not isinstance(cell, (date, float))
        ]
        alike = sum(_NUMBER.fullmatch(text) is not None and not is_money(text) for text in texts)
        return bool(texts) and alike >= 0.6 * len(texts) and len(set(texts)) >= 0.8 * len(texts)


def is_money(cell: Cell) -> bool:
    """Whether a cell is an amount that can hardly be anything else: with decimals, or a currency beside it."""
    if isinstance(cell, CellError):
        return False
    if isinstance(cell, float):
        return cell > 0 and cell != int(cell) if abs(cell) < 1e12 else False
    if not isinstance(cell, str):
        return False
    found = AMOUNT.fullmatch(cell.strip())
    return found is not None and (found["body"] != cell.strip() or re.search(r"[.,]\d\d$", cell.strip()) is not None)


def amounts_share(filled: Sequence[Cell]) -> float:
    """The share of cells that are amounts of money above 0."""
    if not filled:
        return 0.0
    return sum(isinstance(amount_of(cell, "."), Decimal) for cell in filled) / len(filled)


def falls_with_quantity(witness: Witness, columns: Sequence[int]) -> bool:
    """Whether the amounts of each row fall, or stay, from column to column, in nearly every row, and fall in some."""
    rows = 0
    falling = 0
    fell = False
    for row in witness.rows:
        amounts = [amount_of(row[column], ".") for column in columns if column < len(row)]
        priced = [amount for amount in amounts if isinstance(amount, Decimal)]
        if len(priced) > 1:
            rows += 1
            falling += priced == sorted(priced, reverse=True)
            fell = fell or priced[0] > priced[-1]
    return rows > 0 and fell and falling >= 0.95 * rows
