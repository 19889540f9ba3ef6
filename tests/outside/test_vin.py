"""Model years of a VIN against the letters of the rule.

Position 10 tells the model year: 49 CFR 565.15, table VII, and ISO 3779, both from memory. A is 1980 and again 2010, the
letters run to Y without I, O, Q, U and Z, the digits 1 to 9 follow, and after 30 years they begin again.
"""

from __future__ import annotations

import pytest

from sourcing.vin import model_years_of

YEARS = {
    **dict(zip("ABCDEFGH", range(1980, 1988), strict=True)),
    **dict(zip("JKLMN", range(1988, 1993), strict=True)),
    **{"P": 1993, "R": 1994, "S": 1995, "T": 1996, "V": 1997, "W": 1998, "X": 1999, "Y": 2000},
    **{str(digit): 2000 + digit for digit in range(1, 10)},
}


def vin(letter: str) -> str:
    """An invented number with a letter of the model year; no maker has the code 0ZZ."""
    return f"0ZZAA11A1{letter}A000001"


def test_the_letters_are_thirty() -> None:
    assert len(YEARS) == 30
    assert sorted(YEARS.values()) == list(range(1980, 2010))


@pytest.mark.parametrize(("letter", "year"), YEARS.items())
def test_a_letter_stands_for_its_year_and_for_none_but_every_thirtieth_after_it(letter: str, year: int) -> None:
    years = model_years_of(vin(letter))
    assert year in years
    assert all((other - year) % 30 == 0 and other >= 1980 for other in years)
    assert list(years) == sorted(years, reverse=True)


@pytest.mark.parametrize(
    ("letter", "both"), [("A", (2010, 1980)), ("B", (2011, 1981)), ("L", (2020, 1990)), ("P", (2023, 1993))]
)
def test_a_letter_of_the_second_round_is_either_of_two_years(letter: str, both: tuple[int, int]) -> None:
    assert model_years_of(vin(letter)) == both


def test_the_worked_example_of_the_check_digit_is_of_the_year_of_its_letter() -> None:
    """1M8GDM9AXKP042788, the number on which the check digit of 49 CFR 565.15 is usually shown (from memory): K."""
    number = "1M8GDM9AXKP042788"
    values = dict(
        zip(
            "ABCDEFGHJKLMNPRSTUVWXYZ",
            [1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9],
            strict=True,
        )
    )
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    rest = sum(w * values.get(c, int(c) if c.isdigit() else 0) for w, c in zip(weights, number, strict=True)) % 11
    assert number[8] == "0123456789X"[rest] == "X"
    assert model_years_of(number) == (2019, 1989)


@pytest.mark.parametrize("letter", ["U", "Z", "0"])
def test_letters_that_the_rule_leaves_out_tell_no_year(letter: str) -> None:
    assert model_years_of(vin(letter)) == ()


@pytest.mark.parametrize(
    "wrong",
    ["", "0ZZAA11A1AA00001", "0ZZAA11A1AA0000011", "0ZZAA11A1IA000001", "0ZZAA11A1OA000001", "0ZZ AA11A1A00001"],
)
def test_what_is_no_vin_tells_no_year(wrong: str) -> None:
    assert model_years_of(wrong) == ()


def test_small_letters_and_blanks_around_make_no_difference() -> None:
    assert model_years_of(f"  {vin('3').lower()} ") == (2003,)
