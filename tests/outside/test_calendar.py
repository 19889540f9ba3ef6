"""Working days against numpy's business-day calendar."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from sourcing.workdays import after, is_workday, next_workday

days = st.dates(date(1990, 1, 1), date(2080, 12, 31))
near = st.integers(-10, 400)


@st.composite
def calendars(draw: st.DrawFn) -> tuple[date, list[date]]:
    """A day, and holidays before, on and after it (weekends, repeats and whole weeks among them)."""
    day = draw(days)
    holidays = [day + timedelta(days=gap) for gap in draw(st.lists(near, max_size=40))]
    if draw(st.booleans()):
        start = draw(near)
        holidays += [day + timedelta(days=start + more) for more in range(draw(st.integers(1, 21)))]
    return day, holidays


@given(calendars(), st.integers(0, 300))
@example((date(2026, 3, 6), [date(2026, 3, 9)]), 1)
@example((date(2026, 3, 7), [date(2026, 3, 9)]), 0)
@example((date(2026, 3, 2), [date(2026, 3, 9)]), 5)
def test_a_part_arrives_on_the_day_that_numpy_counts_to(calendar: tuple[date, list[date]], workdays: int) -> None:
    day, holidays = calendar
    counted = np.busday_offset(day, workdays, roll="forward", holidays=holidays).astype(date)
    assert after(day, workdays, holidays) == counted
    assert after(day, workdays, frozenset(holidays)) == counted


@given(calendars())
def test_a_working_day_is_one_for_numpy_too(calendar: tuple[date, list[date]]) -> None:
    day, holidays = calendar
    assert is_workday(day, holidays) == bool(np.is_busday(day, holidays=holidays))
    assert next_workday(day, holidays) == np.busday_offset(day, 0, roll="forward", holidays=holidays).astype(date)


@given(calendars(), st.integers(0, 120), st.integers(0, 120))
def test_waiting_twice_is_waiting_for_the_sum(calendar: tuple[date, list[date]], first: int, second: int) -> None:
    day, holidays = calendar
    assert after(after(day, first, holidays), second, holidays) == after(day, first + second, holidays)
