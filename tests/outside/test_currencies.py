"""Smallest coins against two registries, and rounding against the decimal module."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from babel.numbers import get_currency_precision, list_currencies
from hypothesis import given
from hypothesis import strategies as st

from sourcing.money import convert, half_up, minor_digits, text, to_cents, to_minor

# babel carries the Unicode CLDR, which says how many decimals people write. These currencies are written without
# decimals though ISO 4217 gives them a smaller coin: hundredths, but for the Iraqi dinar's thousandths.
WRITTEN_WHOLE = {"AFN", "ALL", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SOS", "SYP", "YER", "IQD"}
# And these have left ISO 4217: nobody sells for them any more.
GONE = {"ADP", "BYR", "ESP", "ITL", "LUF", "MGF", "MRO", "SLL", "STD", "TMM", "TRL", "ZMK", "ZWD"}


@pytest.mark.parametrize("currency", sorted(list_currencies()))
def test_decimals_are_those_of_the_cldr_but_for_the_differences_named(currency: str) -> None:
    if currency in WRITTEN_WHOLE | GONE:
        assert get_currency_precision(currency) == 0
        assert minor_digits(currency) == (3 if currency == "IQD" else 2)
    else:
        assert minor_digits(currency) == get_currency_precision(currency)


def test_decimals_are_those_of_iso_4217() -> None:
    """Every currency of the standard's own list, as the package iso4217 carries it (agreed with the list of 2026-01-01)."""
    registry = pytest.importorskip("iso4217", reason="the package iso4217 is not installed")
    listed = {currency.code: currency.exponent for currency in registry.Currency}
    assert len(listed) > 150
    coined = {code: exponent for code, exponent in listed.items() if exponent is not None}
    assert {code: minor_digits(code) for code in coined} == coined


amounts = st.decimals(-(10**9), 10**9, allow_nan=False, allow_infinity=False, places=7)
halves = st.integers(-(10**12), 10**12).map(lambda n: Decimal(2 * n + 1) / 2)


@given(amounts | halves, st.integers(0, 4))
def test_halves_go_up_as_the_decimal_module_rounds_them(amount: Decimal, digits: int) -> None:
    rounded = amount.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    assert half_up(amount, digits) == int(rounded.scaleb(digits))
    assert half_up(Fraction(amount), digits) == half_up(amount, digits)


@given(
    st.decimals(0, 10**8, allow_nan=False, allow_infinity=False, places=4),
    st.sampled_from(["USD", "JPY", "KWD", "CLF"]),
)
def test_an_amount_is_rounded_to_its_own_smallest_coin(amount: Decimal, currency: str) -> None:
    digits = get_currency_precision(currency)
    assert to_minor(amount, currency) == int(amount.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP).scaleb(digits))


@given(st.integers(0, 10**11), st.decimals("0.0001", 9999, places=4), st.sampled_from(["EUR", "JPY", "KWD", "CLF"]))
def test_a_price_from_abroad_is_converted_as_decimals_do_it(minor: int, rate: Decimal, currency: str) -> None:
    exact = Decimal(minor).scaleb(-get_currency_precision(currency)) * rate
    assert convert(minor, currency, rate) == int(exact.quantize(Decimal("0.01"), ROUND_HALF_UP).scaleb(2))


@given(st.integers(-(10**12), 10**12))
def test_cents_read_back_from_their_text(cents: int) -> None:
    assert to_cents(Decimal(text(cents))) == cents
    assert text(cents) == f"{Decimal(cents).scaleb(-2):.2f}"
