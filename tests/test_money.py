"""Money in whole cents."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from sourcing.money import convert, decimal, half_up, minor_digits, share_of, text, to_cents, to_minor


def test_half_a_cent_goes_up() -> None:
    assert to_cents(Decimal("1.005")) == 101
    assert to_cents(Decimal("1.00499999")) == 100
    assert to_cents(Fraction(1, 8)) == 13


def test_half_a_cent_owed_goes_down() -> None:
    assert to_cents(Decimal("-1.005")) == -101
    assert half_up(Decimal("-0.004"), 2) == 0


def test_a_third_is_rounded_from_its_exact_value() -> None:
    # 1/3 of 0.05 = 0.01666.. -> 2 cents; 3/41 of 850.00 = 62.1951.. -> 6220 cents
    assert share_of(5, Fraction(1, 3)) == 2
    assert share_of(85000, Fraction(3, 41)) == 6220


def test_a_price_in_yen_has_no_hundredths() -> None:
    assert minor_digits("JPY") == 0
    assert to_minor(Decimal("1250.5"), "JPY") == 1251


def test_a_price_from_abroad_is_rounded_twice_over() -> None:
    # 10.005 EUR is 10.01 EUR; at 1.12 that is 11.2112 -> 11.21. Converted first it would be 11.2056 -> 11.21 too;
    # 10.0049 at 1.125: 10.00 -> 11.25, unrounded 11.2555 -> 11.26.
    assert convert(to_minor(Decimal("10.005"), "EUR"), "EUR", Decimal("1.12")) == 1121
    assert convert(to_minor(Decimal("10.0049"), "EUR"), "EUR", Decimal("1.125")) == 1125


def test_yen_and_dinars_come_into_cents() -> None:
    # 1250 yen at 0.0068 = 8.50; 1.005 dinar (1005 thousandths) at 3.26 = 3.2763 -> 3.28
    assert convert(1250, "JPY", Decimal("0.0068")) == 850
    assert convert(1005, "KWD", Decimal("3.26")) == 328


@pytest.mark.parametrize(
    ("cents", "written"), [(0, "0.00"), (5, "0.05"), (-5, "-0.05"), (-12345, "-123.45"), (100, "1.00")]
)
def test_cents_are_written_with_two_decimals(cents: int, written: str) -> None:
    assert text(cents) == written
    assert str(decimal(cents)) == written
