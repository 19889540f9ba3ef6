"""What can stand in a cell: typed values, so that money is money and a text stays a text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

GRAIN = "0.000000001"


@dataclass(frozen=True, slots=True)
class Cents:
    """Money of the shop, as a number in a cell."""

    cents: int


@dataclass(frozen=True, slots=True)
class Coins:
    """Money of a supplier in its currency's smallest coins, of which `digits` decimals make a unit."""

    minor: int
    digits: int


@dataclass(frozen=True, slots=True)
class Percent:
    """A share, shown in hundredths."""

    share: Decimal | Fraction


@dataclass(frozen=True, slots=True)
class Formula:
    """One of our own formulas, with the value that is stored beside it: Cents, a date or a plain number."""

    text: str
    value: Cents | Coins | Percent | Decimal | Fraction | date | int


@dataclass(frozen=True, slots=True)
class Code:
    """A text that is a code: a part number, say."""

    text: str


Value = str | int | Decimal | date | Cents | Coins | Formula | Code | Percent | None


@dataclass(frozen=True, slots=True)
class Entry:
    """A cell that is meant for change: its value, what may be written there, and a note that says so."""

    value: Value
    note: str
    most: int | None = None
    whole: bool = False


Cell = Value | Entry


def kind_of(value: object) -> str:
    if isinstance(value, Coins):
        return f"coins{value.digits}"
    return {Cents: "money", Percent: "percent", Fraction: "rate"}.get(
        type(value), "date" if isinstance(value, date) else "number"
    )


def stored_as(value: Cents | Coins | Percent | Decimal | Fraction | date | int) -> float:
    """The number that a cell holds: amounts in units of money, dates as days since the spreadsheet's day 0."""
    if isinstance(value, Cents):
        return value.cents / 100
    if isinstance(value, Coins):
        return float(value.minor / 10**value.digits)
    if isinstance(value, Percent):
        return float(value.share)
    if isinstance(value, date):
        return (value - date(1899, 12, 30)).days
    return float(value)


def cent(term: str) -> str:
    """A formula's term rounded to the cent, halves up, in every engine.

    A product that is half a cent exactly can lie a hair below it as a binary number (3.3 x 1.15 = 3.7949999...), and not
    every spreadsheet forgives that. The grain added is ten times what amounts up to a million lose in binary, and smaller
    than any distance from a half that shares of up to six decimals leave.
    """
    return f"ROUND({term}+{GRAIN},2)"
