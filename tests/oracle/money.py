"""Amounts in whole cents, halves rounded up."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor


def to_cents(amount: Decimal | Fraction | int | str) -> int:
    """Whole cents of an amount in units of its currency, halves away from zero."""
    return round_half_up(Fraction(amount) * 100)


def round_half_up(value: Fraction) -> int:
    """The nearest whole number, halves away from zero."""
    return floor(value + Fraction(1, 2)) if value >= 0 else -floor(-value + Fraction(1, 2))


def times(cents: int, factor: Fraction | Decimal | int) -> int:
    """`cents` times an exact factor, rounded once."""
    return round_half_up(cents * Fraction(factor))


def as_text(cents: int) -> str:
    """Cents as a string with two decimals."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"
