"""A part number is itself however it is typed."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sourcing.partnumber import PartNumber, canonical


@pytest.mark.parametrize(
    "typed",
    [
        "ab 12-34",
        "AB1234",
        "Ab-12-34",
        "ab\u00a01234",
        "AB12\u201134",
        "AB12\u201334",
        "AB12\u221234",
        "\uff21\uff221234",
        " ab1234 ",
    ],
)
def test_case_blanks_and_dashes_make_no_difference(typed: str) -> None:
    assert canonical(typed) == "AB1234"
    assert PartNumber(typed) == PartNumber("ab-1234")
    assert hash(PartNumber(typed)) == hash(PartNumber("ab-1234"))


@pytest.mark.parametrize(
    ("one", "other"), [("00123", "123"), ("12.3", "123"), ("12/3", "123"), ("12_3", "123"), ("O0", "00")]
)
def test_zeros_dots_and_slashes_do(one: str, other: str) -> None:
    assert PartNumber(one) != PartNumber(other)


def test_the_suppliers_own_spelling_stays() -> None:
    assert str(PartNumber("ab 12-34")) == "ab 12-34"


@given(st.text(max_size=30))
@example("\u0390")  # small iota with two marks: its capital is three characters, which fold into fewer
def test_the_canonical_form_is_its_own(spelt: str) -> None:
    assert canonical(canonical(spelt)) == canonical(spelt)


@given(st.lists(st.text(max_size=8), max_size=12))
def test_equal_numbers_are_equal_in_a_set(spelt: list[str]) -> None:
    assert len({PartNumber(one) for one in spelt}) == len({canonical(one) for one in spelt})
