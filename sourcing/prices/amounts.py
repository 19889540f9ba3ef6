"""A cell as money: the decimal mark that its digits prove, and the amount; a mark is never guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from sourcing.prices.grid import Cell

MOST_PRICE = Decimal(99_999_999)
_SPACES = " \u00a0\u202f\u2009'’`´"
_MONEY_WORDS = (
    r"(?:US\$|CA?\$|AU?\$|NZ\$|R\$|Mex\$|[€£$¥₺₽₴]|zł|Kč|Ft|kr\.?|Fr\.|TL|лв|грн\.?|руб\.?|euros?|"
    r"USD|EUR|GBP|CAD|AUD|NZD|MXN|BRL|JPY|CNY|CHF|SEK|NOK|DKK|PLN|CZK|HUF|TRY|RUB|UAH|INR|ZAR|RON|KRW|ARS|CLP|COP|"
    r"PEN|ILS|AED|SGD|HKD|THB|HT)"
)
AMOUNT = re.compile(
    rf"(?:{_MONEY_WORDS}\s*)?"
    rf"(?P<body>\d{{1,3}}(?P<space>[{_SPACES}])\d{{3}}(?:(?P=space)\d{{3}})*(?:[.,]\d+)?|\d+(?:[.,]\d+)?|[.,]\d+|"
    r"\d{1,3}(?:\.\d{3})+(?:,\d+)?|\d{1,3}(?:,\d{3})+(?:\.\d+)?)"
    rf"(?:[.,][-–—])?\s*(?:{_MONEY_WORDS})?\s*(?:(?:/|per\b|pro\b)?\s*(?:ea|each|pcs?|piece|stk|st|stück|szt|шт)\.?)?",
    re.IGNORECASE,
)
_PLAIN_AMOUNT = re.compile(r"\d+(?:([.,])\d\d?)?")  # most cells: no sign, no groups, and the mark beyond doubt
_NOTHING = re.compile(r"[-–—−]+|n/?a\.?|none|nil|no core", re.IGNORECASE)


class Unread(str):
    """Why a cell is no value of its column's kind: what was expected."""

    __slots__ = ()


_PRICE, _AMOUNT_FROM_ZERO = Unread("a price above 0"), Unread("an amount of 0 or more")


def mark_needed(body: str) -> str:
    """The decimal mark that an amount's digits prove: '.' or ',', '' where any would do, '?' where it stays open.

    >>> [mark_needed(b) for b in ("12.50", "1.234,5", "1,234", "1,234,567", "0,125", "1234,567", "15")]
    ['.', ',', '?', '.', ',', ',', '']
    """
    marks = [mark for mark in body if mark in ".,"]
    if not marks:
        return ""
    last = marks[-1]
    other = "," if last == "." else "."
    before, _, after = body.rpartition(last)
    if len(set(marks)) == 2 or any(space in before for space in _SPACES):
        return last
    if len(marks) > 1:
        return other
    return "?" if len(after) == 3 and 1 <= len(before) <= 3 and not before.startswith("0") else last


def _need(text: str) -> str:
    plain = _PLAIN_AMOUNT.fullmatch(text)
    if plain:
        return plain[1] or ""
    found = AMOUNT.fullmatch(text.strip())
    return mark_needed(found["body"]) if found else ""


def decided_mark(cells: Sequence[Cell], declared: str | None = None) -> str:
    """The decimal mark of a column: '.' or ',', '' where none is needed, '?' where it stays open, '!' where cells differ."""
    if declared:
        return declared
    needs = {_need(text) for text in {cell for cell in cells if type(cell) is str}}
    proven = needs & {".", ","}
    if len(proven) == 2:
        return "!"
    return proven.pop() if proven else "?" if "?" in needs else ""


def number_of(cell: float | int) -> Decimal:
    """A spreadsheet's number as it was typed: the shortest decimal, without the noise of binary fractions.

    >>> number_of(12.1), number_of(10000.0), number_of(0.1 + 0.2)
    (Decimal('12.1'), Decimal('10000'), Decimal('0.3'))
    """
    if cell == int(cell):
        return Decimal(int(cell))
    typed = repr(cell)
    exact = Decimal(typed)
    if "e" not in typed and len(typed) - typed.index(".") <= 7:
        return exact
    exponent = exact.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -6:
        exact = round(exact, 6).normalize()
    return exact


def amount_of(cell: Cell, mark: str, zero: bool = False) -> Decimal | Unread | None:
    """A cell as an amount of money; None for a blank or a dash."""
    expected = _AMOUNT_FROM_ZERO if zero else _PRICE
    if type(cell) is str:
        if _PLAIN_AMOUNT.fullmatch(cell):
            value = Decimal(cell.replace(",", "."))
        else:
            said = _written_amount(cell.strip(), mark)
            if not isinstance(said, Decimal):
                return expected if said == "" else said
            value = said
    elif isinstance(cell, (int, float)) and abs(cell) < 1e15:
        value = number_of(cell)
    else:
        return expected
    return value if (value > 0 or (zero and value == 0)) and value <= MOST_PRICE else expected


def _written_amount(text: str, mark: str) -> Decimal | Unread | None:
    """A text's amount; None for nothing, an empty Unread for what is no amount."""
    if not text or _NOTHING.fullmatch(text):
        return None
    found = AMOUNT.fullmatch(text)
    if not found:
        return Unread("")
    body = found["body"]
    need = mark_needed(body)
    if need == "?" and mark not in (".", ","):
        return Unread("an amount whose decimal mark is certain")
    decimal = mark if need == "?" else need
    return Decimal("".join("." if c == decimal else c for c in body if c.isdigit() or c == decimal))
