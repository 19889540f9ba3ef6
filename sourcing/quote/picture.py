"""A picture of a decision as a value: what is to be seen in it, before anything draws it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sourcing.quote.words import signed

Shape = Literal["line", "step", "points"]


@dataclass(frozen=True, slots=True)
class Axis:
    """What is measured: money in whole smallest coins of `currency`, dates as proleptic ordinals, or a count."""

    label: str
    kind: Literal["money", "date", "count"]
    currency: str = ""

    def says(self, at: int) -> str:
        """A place on the axis as text.

        >>> Axis("cost", "money", "USD").says(67535), Axis("day", "date").says(date(2026, 4, 17).toordinal())
        ('675.35', '2026-04-17')
        """
        if self.kind == "date":
            return date.fromordinal(at).isoformat()
        if self.kind == "money":
            return signed(at, self.currency)
        return str(at)


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the x axis, and the value there."""

    at: int
    value: int


Run = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """What belongs together and is drawn alike: `name` stands at it, `says` tells it in full.

    `runs` are stretches without a gap. On a `step` a value holds until the next point. `named` is False where only the
    key names it.
    """

    name: str
    says: str
    shape: Shape
    runs: tuple[Run, ...]
    named: bool = True

    def points(self) -> Iterator[Point]:
        for run in self.runs:
            yield from run

    def corners(self) -> Iterator[Run]:
        """The runs as they are drawn, with the corners of steps put in."""
        for run in self.runs:
            if self.shape != "step":
                yield run
                continue
            drawn: list[Point] = []
            for point in run:
                if drawn:
                    drawn.append(Point(point.at, drawn[-1].value))
                drawn.append(point)
            yield tuple(drawn)


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the x axis that matters: where we are now, where another plan begins, where the choice turns.

    `brief` stands for `says` where there is little room.
    """

    kind: Literal["now", "begin", "turn"]
    at: int
    value: int | None
    says: str
    brief: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture from `low` to `high` on its x axis, with what is drawn in it.

    `says` tells it in whole sentences to who cannot see it, `note` what must be known to read it.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    marks: tuple[Mark, ...]
    says: str
    low: int
    high: int
    note: str = ""

    @property
    def values(self) -> list[int]:
        return [point.value for series in self.series for point in series.points()]

    @property
    def empty(self) -> bool:
        return not self.values
