"""Working days: Monday to Friday, less the shop's holidays."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta


def is_workday(day: date, holidays: Collection[date]) -> bool:
    return day.weekday() < 5 and day not in holidays


def next_workday(day: date, holidays: Collection[date]) -> date:
    """The day itself where it is a working day, otherwise the next one."""
    while not is_workday(day, holidays):
        day += timedelta(days=1)
    return day


def after(day: date, workdays: int, holidays: Collection[date]) -> date:
    """The date `workdays` working days after `day`, which is first moved to a working day.

    >>> after(date(2026, 3, 6), 1, [date(2026, 3, 9)])
    datetime.date(2026, 3, 10)
    """
    day = next_workday(day, holidays)
    weeks, rest = divmod(workdays, 5)
    if weeks and not any(day < h <= day + timedelta(days=7 * weeks + 7) for h in holidays):
        day, workdays = day + timedelta(days=7 * weeks), rest
    for _ in range(workdays):
        day = next_workday(day + timedelta(days=1), holidays)
    return day
