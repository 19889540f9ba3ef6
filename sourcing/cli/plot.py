"""A picture in plain characters, for a terminal: no colour, no sign beyond ASCII of ours, series told apart by letters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from sourcing.cli.lines import WIDTH
from sourcing.quote.picture import Mark, Picture, Point, Series
from sourcing.quote.scales import Scale, x_scale, y_scale
from sourcing.quote.sheets.texts import clean

ROWS = 13  # of the plot itself: twelve steps, so that two, three or four of the scale fall on whole rows
SIGNS = "ox*+#@%&=$"


@dataclass(frozen=True)
class Canvas:
    """Characters in rows and columns; `left` columns belong to the labels of the values."""

    picture: Picture
    x: Scale
    y: Scale
    left: int
    cells: list[list[str]]

    @property
    def columns(self) -> int:
        return len(self.cells[0])

    def column(self, at: int) -> int:
        return round(self.x.share(at) * (self.columns - 1))

    def row(self, value: int) -> int:
        return round((1 - self.y.share(value)) * (len(self.cells) - 1))

    def put(self, column: int, row: int, sign: str) -> None:
        self.cells[row][column] = sign


def plot(picture: Picture, width: int = WIDTH) -> list[str]:
    """A picture as lines of at most `width` characters: title, plot, axis, marks, key."""
    if picture.empty:
        return [picture.title, "  nothing to be drawn: there is no plan"]
    y = y_scale(picture, 5)
    left = max(map(len, y.labels())) + 2
    longest = len(picture.x.says(picture.high)) + 3
    columns = width - left - 2
    x = x_scale(picture, max(2, columns // longest))
    canvas = Canvas(picture, x, y, left, [[" "] * columns for _ in range(ROWS)])
    # What has no name first, then from the last to the first: where two meet, the one that the key names first is seen.
    for number, series in sorted(enumerate(picture.series), key=lambda item: (item[1].named, -item[0])):
        _draw(canvas, series, sign_of(picture, number))
    named = f"  up: {picture.y.label}, from {y.labels()[0]}; across: {picture.x.label}"
    head = [*wrap(picture.title, width), *wrap(named, width, subsequent_indent="  ")]
    # A text of a file holds no sign here that would move the cursor.
    return [
        clean(line).rstrip()
        for line in (*head, *_rows(canvas), *_below(canvas), *_marks(canvas), *_key(picture, width))
    ]


def sign_of(picture: Picture, number: int) -> str:
    """The character of a series; a line that only joins named points is dotted."""
    if not picture.series[number].named:
        return "."
    place = sum(series.named for series in picture.series[:number])
    return SIGNS[place % len(SIGNS)]


def _draw(canvas: Canvas, series: Series, sign: str) -> None:
    if series.shape == "points":
        for point in series.points():
            canvas.put(canvas.column(point.at), canvas.row(point.value), sign)
        return
    for run in series.corners():
        for first, last in zip(run, run[1:] or run, strict=False):
            _stroke(canvas, first, last, sign)


def _stroke(canvas: Canvas, first: Point, last: Point, sign: str) -> None:
    """A straight piece: one character in each column, or in each row where it is steeper than that."""
    begin, end = canvas.column(first.at), canvas.column(last.at)
    top, bottom = canvas.row(first.value), canvas.row(last.value)
    steps = max(abs(end - begin), abs(bottom - top), 1)
    for step in range(steps + 1):
        canvas.put(round(begin + (end - begin) * step / steps), round(top + (bottom - top) * step / steps), sign)


def _rows(canvas: Canvas) -> Iterator[str]:
    labels = {canvas.row(tick): label for tick, label in zip(canvas.y.ticks, canvas.y.labels(), strict=True)}
    for row, cells in enumerate(canvas.cells):
        label = labels.get(row, "")
        yield f"{label:>{canvas.left - 1}}{'+' if label else '|'}{''.join(cells)}"


def _below(canvas: Canvas) -> Iterator[str]:
    """The axis across and its labels."""
    axis = ["-"] * canvas.columns
    for tick in canvas.x.ticks:
        axis[canvas.column(tick)] = "+"
    yield f"{'':{canvas.left - 1}}+{''.join(axis)}"
    places = [(canvas.left + canvas.column(tick) - len(label) // 2, label)
              for tick, label in zip(canvas.x.ticks, canvas.x.labels(), strict=True)]  # fmt: skip
    yield from _written(places, canvas.left + canvas.columns)


def _marks(canvas: Canvas) -> Iterator[str]:
    """Where we are, where the choice turns, and (a caret alone) where another plan begins."""
    marks = sorted(canvas.picture.marks, key=lambda mark: mark.at)
    if not marks:
        return
    carets = [" "] * canvas.columns
    for mark in marks:
        carets[canvas.column(mark.at)] = "^"
    yield f"{'':{canvas.left}}{''.join(carets)}"
    said = [(canvas.left + canvas.column(mark.at), _said(mark)) for mark in marks if mark.kind != "begin"]
    yield from _written(said, canvas.left + canvas.columns)


def _said(mark: Mark) -> str:
    return mark.says.rpartition(": ")[2]


def _written(places: Sequence[tuple[int, str]], width: int) -> Iterator[str]:
    """Words at their columns, on as many lines as it takes for none to touch another."""
    lines: list[str] = []
    for place, words in places:
        begin = max(0, min(place, width - len(words)))
        for number, line in enumerate(lines):
            if not line or len(line) + 2 <= begin:
                lines[number] = f"{line:<{begin}}{words}"
                break
        else:
            lines.append(f"{'':{begin}}{words}")
    yield from lines


def _key(picture: Picture, width: int) -> Iterator[str]:
    """What each character stands for."""
    for number, series in enumerate(picture.series):
        yield from wrap(
            f"{sign_of(picture, number)}  {series.says}", width, initial_indent="  ", subsequent_indent="     "
        )
    if any(mark.kind == "begin" for mark in picture.marks):
        yield "  ^  without a word: another plan begins"
