"""The scale of an axis: where it begins and ends, and the round places on it that get a label."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sourcing.quote.picture import Axis, Picture

ZERO_BELOW = 0.4  # an axis of values begins at zero where the least is smaller than this share of the greatest
DAYS = (1, 2, 7, 14)
MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 600, 1200)


@dataclass(frozen=True, slots=True)
class Scale:
    """From `low` to `high`, both shown; `ticks` lie between."""

    axis: Axis
    low: int
    high: int
    ticks: tuple[int, ...]

    def share(self, at: int) -> float:
        """How far along the axis a place lies, from 0 to 1."""
        return (at - self.low) / (self.high - self.low)

    def labels(self) -> list[str]:
        """The ticks as text; months without days where every tick begins one."""
        if self.axis.kind == "date" and all(date.fromordinal(tick).day == 1 for tick in self.ticks):
            return [date.fromordinal(tick).isoformat()[:7] for tick in self.ticks]
        return [self.axis.says(tick) for tick in self.ticks]


def x_scale(picture: Picture, most: int) -> Scale:
    """The scale across: exactly the range looked at, or a little around a single place."""
    low, high = picture.low, picture.high
    if low == high:
        low, high = low - 1, high + 1
    return Scale(picture.x, low, high, tuple(_ticks(picture.x, low, high, most)))


def y_scale(picture: Picture, most: int) -> Scale:
    """The scale of values: from a round place to a round place; from zero where that wastes little room."""
    low, high = min(picture.values), max(picture.values)
    if 0 <= low <= high * ZERO_BELOW:
        low = 0
    if low == high:
        low, high = low - max(1, abs(low) // 10), high + max(1, abs(high) // 10)
    step = _step(low, high, most - 1)
    low, high = low // step * step, -(-high // step) * step
    return Scale(picture.y, low, high, tuple(range(low, high + 1, step)))


def cut(picture: Picture) -> str:
    """That the scale of values does not begin at zero, in words; nothing where it does."""
    scale = y_scale(picture, 7)
    if scale.low <= 0 <= scale.high:
        return ""
    return f"The scale of {picture.y.label} begins at {picture.y.says(scale.low)}, not at zero."


def _step(low: int, high: int, most: int) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50 ... of which at most `most` cover low to high."""
    ten = 1
    while True:
        for step in (ten, 2 * ten, 5 * ten):
            if -(-high // step) - low // step <= most:
                return step
        ten *= 10


def _ticks(axis: Axis, low: int, high: int, most: int) -> Sequence[int]:
    if axis.kind == "date":
        return _date_ticks(low, high, most)
    step = _step(low, high, most)
    return range(-(-low // step) * step, high + 1, step)


def _date_ticks(low: int, high: int, most: int) -> list[int]:
    for days in DAYS:
        if (high - low) // days + 1 <= most:
            return list(range(low, high + 1, days))
    for months in MONTHS:
        found = list(_month_starts(low, high, months))
        if len(found) <= most:
            return found if len(found) > 1 else [low, high]
    return [low, high]


def _month_starts(low: int, high: int, step: int) -> Iterator[int]:
    """First days of every so many months, counted from a year's beginning."""
    first = date.fromordinal(low)
    month = -(-(first.year * 12 + first.month - (first.day == 1)) // step) * step
    while month // 12 < date.max.year and (at := date(month // 12, month % 12 + 1, 1).toordinal()) <= high:
        if at >= low:
            yield at
        month += step
