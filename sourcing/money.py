"""Money: a currency's smallest coin, whole cents, halves rounded up."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache

# Currencies whose smallest coin is not a hundredth (ISO 4217, column "minor unit"; a test compares the table with a
# registry library's copy of the standard). Every other currency has two decimals.
_MINOR_DIGITS = {
    **dict.fromkeys(
        ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV",
         "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}  # fmt: skip


def minor_digits(currency: str) -> int:
    """Decimals of a currency's smallest coin, by ISO 4217.

    >>> minor_digits("USD"), minor_digits("JPY")
    (2, 0)
    """
    return _MINOR_DIGITS.get(currency, 2)


def half_up(amount: Decimal | Fraction, digits: int = 0) -> int:
    """Round a non-negative or negative amount to `digits` decimals, halves away from zero, as whole units.

    >>> half_up(Decimal("1.005"), 2), half_up(Fraction(1, 8), 2)
    (101, 13)
    """
    if isinstance(amount, Decimal):
        amount = Fraction(amount)
    scaled = abs(amount) * Fraction(10) ** digits
    whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    return whole if amount >= 0 else -whole


def to_minor(amount: Decimal, currency: str) -> int:
    """An amount in whole smallest coins of its own currency, halves up."""
    return half_up(amount, minor_digits(currency))


def to_cents(amount: Decimal | Fraction) -> int:
    """An amount of the shop's currency in whole cents, halves up."""
    return half_up(amount, 2)


def convert(minor: int, currency: str, rate: Decimal) -> int:
    """Smallest coins of `currency` into whole cents of the shop's currency, at `rate` for one unit, halves up."""
    return half_up(Fraction(minor, 10 ** minor_digits(currency)) * Fraction(rate), 2)


@lru_cache(maxsize=1 << 16)
def share_of(cents: int, share: Decimal | Fraction) -> int:
    """A share of an amount in cents, rounded to the cent, halves up."""
    return half_up(cents * Fraction(share))


def text(cents: int) -> str:
    """Whole cents as an amount with two decimals.

    >>> text(123456), text(-5)
    ('1234.56', '-0.05')
    """
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def decimal(cents: int) -> Decimal:
    """Whole cents as a Decimal with two decimals."""
    return Decimal(cents).scaleb(-2).quantize(Decimal("0.01"), ROUND_HALF_UP)
