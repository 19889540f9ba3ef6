"""Vehicle identification numbers against the text of the rule, its letters, and a second library.

49 CFR 565.15(c): values of the letters, weights of the positions, and the worked example of a check digit (its table then
numbered V: sample 1G4AH59H-5G118341, products adding up to 411, remainder 4) were seen in the printed text of the
rule. A second worked example is the one of the agency's outline for new manufacturers (1J9RP1A3-A1644345: 314, remainder
6). 565.15(b), position 7 a letter for light vehicles from model year 2010 on, was seen in the text of the rule; that it was
a figure before, in 565.25(b). Table VI of the years and ISO 3779 and 3780 (the regions: 1 to 5 North America) are from
memory.
"""

from __future__ import annotations

from datetime import date
from random import Random

import pytest

from sourcing.vin import check_digit, model_years_of, wrong_with

DAY = date(2026, 3, 24)
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
    years = model_years_of(vin(letter), DAY)
    assert year in years
    assert all((other - year) % 30 == 0 and other >= 1980 for other in years)
    assert list(years) == sorted(years, reverse=True)


@pytest.mark.parametrize(
    ("letter", "both"), [("A", (2010, 1980)), ("B", (2011, 1981)), ("L", (2020, 1990)), ("P", (2023, 1993))]
)
def test_a_letter_of_the_second_round_is_either_of_two_years(letter: str, both: tuple[int, int]) -> None:
    assert model_years_of(vin(letter), DAY) == both


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
    assert model_years_of(number, DAY) == (1989,)  # position 7 is a figure


@pytest.mark.parametrize("letter", ["U", "Z", "0"])
def test_letters_that_the_rule_leaves_out_tell_no_year(letter: str) -> None:
    assert model_years_of(vin(letter), DAY) == ()


@pytest.mark.parametrize(
    "wrong",
    ["", "0ZZAA11A1AA00001", "0ZZAA11A1AA0000011", "0ZZAA11A1IA000001", "0ZZAA11A1OA000001", "0ZZ AA11A1A00001"],
)
def test_what_is_no_vin_tells_no_year(wrong: str) -> None:
    assert model_years_of(wrong, DAY) == ()


def test_small_letters_and_blanks_around_make_no_difference() -> None:
    assert model_years_of(f"  {vin('3').lower()} ", DAY) == (2003,)


def test_years_end_with_the_year_after_the_job_whatever_the_clock_says() -> None:
    assert model_years_of(vin("T"), date(2024, 12, 31)) == (1996,)
    assert model_years_of(vin("T"), date(2025, 1, 1)) == (2026, 1996)
    assert model_years_of(vin("A"), date(1985, 6, 1)) == (1980,)
    assert model_years_of(vin("A"), date(2045, 6, 1)) == (2040, 2010, 1980)


WORKED = ["1G4AH59H45G118341", "1J9RP1A36A1644345", "1M8GDM9AXKP042788", "11111111111111111"]


@pytest.mark.parametrize("number", WORKED)
def test_the_worked_examples_of_the_check_digit_are_right(number: str) -> None:
    """The two of the rule and the agency; the third and the row of ones are common examples, from memory."""
    assert check_digit(number) == number[8]
    assert wrong_with(number, DAY) is None


def by_hand(number: str) -> str:
    """The check digit as 565.15(c) spells it out."""
    letters = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", "12345678123457923456789", strict=True))
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    return "0123456789X"[sum(int(letters.get(c, c)) * w for c, w in zip(number, weights, strict=True)) % 11]


def drawn(first: str, seed: int) -> str:
    random = Random(seed)
    signs = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
    rest = "".join(random.choice(signs) for _ in range(8))
    return (
        first + rest + random.choice("ABCDEFGHJKLMNPRSTVWXY123456789") + "".join(random.choice(signs) for _ in range(7))
    )


@pytest.mark.parametrize("first", "12345")
def test_in_north_america_one_digit_is_right_and_the_ten_others_are_faults(first: str) -> None:
    for seed in range(20):
        number = drawn(first, seed)
        right = by_hand(number)
        assert check_digit(number) == right
        for digit in "0123456789X":
            wrong = wrong_with(number[:8] + digit + number[9:], DAY)
            assert (wrong is None) == (digit == right)
            if wrong is not None:
                assert wrong == (f"{digit} in position 9",
                                 f"the check digit {right} there (49 CFR 565.15, for North America)")  # fmt: skip


@pytest.mark.parametrize("first", "ABCDEFGHJKLMNPRSTUVWXYZ6789")
def test_elsewhere_no_check_digit_is_asked_for(first: str) -> None:
    for seed in range(5):
        number = drawn(first, seed)
        assert all(wrong_with(number[:8] + digit + number[9:], DAY) is None for digit in "0123456789XA")


def test_the_second_library_agrees_on_every_check_digit() -> None:
    other = pytest.importorskip("vin", reason="the second library is not installed (it is among the test dependencies)")
    for seed in range(300):
        number = drawn(Random(seed).choice("12345"), seed)
        assert other.VIN.calculate_check_digit(number) == check_digit(number)


@pytest.mark.parametrize(("seventh", "years"), [("5", (1984,)), ("K", (2014,))])
def test_position_seven_tells_the_two_rounds_apart_in_north_america_only(seventh: str, years: tuple[int, ...]) -> None:
    assert model_years_of(f"4ZZAB1{seventh}A0EA000001", DAY) == years
    assert model_years_of(f"9ZZAB1{seventh}A0EA000001", DAY) == (2014, 1984)


def test_a_heavy_vehicle_with_a_letter_there_before_2010_keeps_its_only_year() -> None:
    assert model_years_of("4ZZAB1KA0YA000001", DAY) == (2000,)


@pytest.mark.parametrize(
    ("number", "found", "expected"),
    [
        ("0ZZAA11A1AI000001", "I", "17 letters and digits without I, O and Q (ISO 3779)"),
        ("0ZZAO11Q1A-000001", "O, Q, -", "17 letters and digits without I, O and Q (ISO 3779)"),
        ("0ZZ", "3 signs", "17 letters and digits (ISO 3779)"),
        (
            "0ZZAA11A1UA000001",
            "U in position 10",
            "17 letters and digits that tell a model year in position 10 (49 CFR 565.15)",
        ),
    ],
)
def test_what_is_wrong_with_a_number_is_told(number: str, found: str, expected: str) -> None:
    assert wrong_with(number, DAY) == (found, expected)
