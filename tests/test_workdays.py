"""Working days, counted on one's fingers."""

from __future__ import annotations

from datetime import date

import pytest

from sourcing.workdays import after, is_workday, next_workday

FRIDAY, SATURDAY, MONDAY, TUESDAY = date(2026, 3, 6), date(2026, 3, 7), date(2026, 3, 9), date(2026, 3, 10)


def test_a_weekend_is_no_working_day() -> None:
    assert is_workday(FRIDAY, [])
    assert not is_workday(SATURDAY, [])
    assert not is_workday(MONDAY, [MONDAY])


def test_an_order_placed_on_saturday_counts_from_monday() -> None:
    assert next_workday(SATURDAY, []) == MONDAY
    assert after(SATURDAY, 0, []) == MONDAY
    assert after(SATURDAY, 1, []) == TUESDAY


def test_an_order_placed_on_a_working_day_counts_from_that_day() -> None:
    assert after(FRIDAY, 0, []) == FRIDAY
    assert after(FRIDAY, 1, []) == MONDAY


def test_a_holiday_is_skipped() -> None:
    assert after(FRIDAY, 1, [MONDAY]) == TUESDAY
    assert after(MONDAY, 0, [MONDAY]) == TUESDAY


@pytest.mark.parametrize("workdays", [5, 10, 250])
def test_a_holiday_at_the_very_end_of_whole_weeks_is_not_jumped_over(workdays: int) -> None:
    end = after(MONDAY, workdays, [])
    assert after(MONDAY, workdays, [end]) == next_workday(end, [end])


def test_a_holiday_on_a_weekend_costs_no_day() -> None:
    assert after(FRIDAY, 1, [SATURDAY]) == MONDAY
