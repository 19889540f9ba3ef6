"""A vehicle identification number: whether it can be one, and the model years that it can stand for.

ISO 3779 gives its 17 signs without I, O and Q, and ISO 3780 the region in the first: 1 to 5 are North America. There
49 CFR 565.15 asks for a check digit in position 9 and the model year in position 10; elsewhere a check digit is the maker's
own affair, and is not looked at. The letters of the year repeat every 30 years. For cars and light trucks (10,000 lb or
less, 4536 kg) 565.15(b) makes position 7 a letter from model year 2010 on, where it was a figure before: in North America
that tells the two rounds apart. The library vininfo reads signs, check digit and year; its own list of years ends with
today's clock, so only the earliest of them is taken, and the rounds are counted from the day of the job.
"""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache
from typing import Any

NORTH_AMERICA = "12345"
ROUND = 30  # years after which the letters of the model year begin again
SECOND_ROUND = 2010
SIGNS = r"[A-HJ-NPR-Z0-9]{17}"


@lru_cache
def model_years_of(vin: str, on: date) -> tuple[int, ...]:
    """Model years that a VIN can stand for on a day, newest first; empty where it is no VIN or tells none.

    A model year may run one year ahead of the day.
    """
    number = vin.strip().upper()
    if not re.fullmatch(SIGNS, number):
        return ()
    letter = _read(number).years
    if not letter:
        return ()
    years = list(range(min(letter), on.year + 2, ROUND))
    if number[0] in NORTH_AMERICA:
        later = number[6].isalpha()
        # A heavy vehicle may have a letter there in any year: where the rule leaves no year, it does not hold.
        years = [year for year in years if (year >= SECOND_ROUND) == later] or years
    return tuple(sorted(years, reverse=True))


@lru_cache
def wrong_with(vin: str, on: date) -> tuple[str, str] | None:
    """What is wrong with a number as a VIN, and what was expected; None where nothing is."""
    number = vin.strip().upper()
    if len(number) != 17:
        return f"{len(number)} signs", "17 letters and digits (ISO 3779)"
    strange = re.sub(r"[A-HJ-NPR-Z0-9]", "", number)
    if strange:
        listed = ", ".join(dict.fromkeys(strange))
        return listed, "17 letters and digits without I, O and Q (ISO 3779)"
    if not model_years_of(vin, on):
        return (
            f"{number[9]} in position 10",
            "17 letters and digits that tell a model year in position 10 (49 CFR 565.15)",
        )
    if number[0] in NORTH_AMERICA:
        digit = check_digit(number)
        if digit != number[8]:
            return f"{number[8]} in position 9", f"the check digit {digit} there (49 CFR 565.15, for North America)"
    return None


def check_digit(vin: str) -> str:
    """The check digit that position 9 must hold by 49 CFR 565.15(c), whatever stands there."""
    return next(digit for digit in "0123456789X" if _read(vin[:8] + digit + vin[9:]).verify_checksum(check_year=False))


def _read(number: str) -> Any:
    """A number read by vininfo, by the letter of the standards alone: no maker's own ways."""
    from vininfo import Vin
    from vininfo.common import UnsupportedBrand

    return type("Plain", (Vin,), {"assembler": UnsupportedBrand()})(number)
