"""A picture drawn as SVG: dark on white, series told apart by dashes, signs and names at the lines, never by colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from sourcing.quote.picture import Mark, Picture, Point, Series
from sourcing.quote.scales import Scale, x_scale, y_scale
from sourcing.quote.tags import Markup, join, tag

# Dashes and signs go round by different lengths: 30 series have a pair of their own.
DASHES = ("none", "9 5", "2 4", "12 4 2 4", "5 3 1 3 1 3")
SIGNS = ("circle", "square", "triangle", "diamond", "cross", "ring")
LETTER = 0.58  # width of a letter against the size of its font, on the safe side for a plain sans-serif


@dataclass(frozen=True)
class Sheet:
    """The room that a picture is drawn in, in units of the drawing."""

    picture: Picture
    width: int
    font: int

    @cached_property
    def narrow(self) -> bool:
        return self.width < 500

    @cached_property
    def x(self) -> Scale:
        letters = 11 if self.picture.x.kind == "date" else len(self.picture.x.says(self.picture.high)) + 2
        room = self.right - self.left
        return x_scale(self.picture, max(2, int(room / (letters * self.font * LETTER))))

    @cached_property
    def y(self) -> Scale:
        return y_scale(self.picture, 7)

    @cached_property
    def names(self) -> list[list[str]]:
        """What stands at the right end of each series, in lines."""
        most = 9 if self.narrow else 20
        return [broken(series.name, most) if series.named else [] for series in self.picture.series]

    @cached_property
    def left(self) -> float:
        return max(map(len, self.y.labels())) * self.font * LETTER + 10

    @cached_property
    def right(self) -> float:
        """Where the plot ends: behind it stand the names of steps, or that of the last single point."""
        named = [series for series in self.picture.series if series.named and series.shape != "line"]
        if not named:
            return self.width - 14
        steps = [line for series, name in zip(self.picture.series, self.names, strict=True) for line in name
                 if series.shape == "step"]  # fmt: skip
        last = max(named, key=lambda series: max(point.at for point in series.points()))
        longest = max(map(len, steps)) if steps else min(len(last.name), 16)
        return self.width - (longest * self.font * LETTER + (22 if steps else 12))

    @cached_property
    def rows(self) -> list[list[Mark]]:
        """Marks by the row above the plot in which they are named: the present, then the turns."""
        kinds = (("now",), ("begin", "turn"))
        rows = [[mark for mark in self.picture.marks if mark.kind in kind] for kind in kinds]
        return [row for row in rows if row]

    @cached_property
    def top(self) -> float:
        above = any(series.shape == "points" for series in self.picture.series)  # the highest point has a name above it
        return self.font * (3 if above else 2) + len(self.rows) * (self.font + 7)

    @cached_property
    def bottom(self) -> float:
        return self.top + (200 if self.narrow else 240)

    @cached_property
    def key(self) -> list[tuple[int, list[str]]]:
        """What the key says of each series, in lines as wide as the drawing."""
        room = int((self.width - 50) / (self.font * LETTER))
        return [(number, broken(series.says, room)) for number, series in enumerate(self.picture.series)]

    @property
    def height(self) -> float:
        lines = sum(len(lines) for _, lines in self.key)
        return self.bottom + self.font * 3 + 14 + lines * (self.font + 5)

    def across(self, at: int) -> float:
        return self.left + (self.right - self.left) * self.x.share(at)

    def down(self, value: int) -> float:
        return self.bottom - (self.bottom - self.top) * self.y.share(value)


def draw(picture: Picture, key: str, width: int = 720) -> Markup:
    """The picture as an `svg` element.

    Parameters
    ----------
    key : what the ids of its title and its words begin with; one of its own in each page
    width : in units of the drawing, which grows to the room it gets; below 500 the names are broken into short lines
    """
    sheet = Sheet(picture, width, 14 if width >= 500 else 13)
    return tag(
        "svg",
        tag("title", picture.title, id=f"{key}-title"),
        tag("desc", picture.says, id=f"{key}-desc"),
        *_axes(sheet),
        *_marks(sheet),
        *(join(_series(sheet, number, series)) for number, series in enumerate(picture.series)),
        *_names(sheet),
        *_key(sheet),
        viewBox=f"0 0 {width} {round(sheet.height)}",
        role="img",
        aria_labelledby=f"{key}-title {key}-desc",
        font_size=sheet.font,
        class_="narrow" if sheet.narrow else "wide",
    )


def _text(x: float, y: float, words: str, anchor: str = "start", look: str | None = None) -> Markup:
    return tag("text", words, x=x, y=y, text_anchor=anchor, class_=look)


def _axes(sheet: Sheet) -> Iterator[Markup]:
    font = sheet.font
    yield _text(2.0, float(font), sheet.picture.y.label, look="label")
    for tick, label in zip(sheet.y.ticks, sheet.y.labels(), strict=True):
        y = sheet.down(tick)
        yield tag("line", x1=sheet.left, x2=sheet.right, y1=y, y2=y, class_="grid")
        yield _text(sheet.left - 6, y + font * 0.35, label, "end")
    yield tag("path", d=f"M{sheet.left:.1f} {sheet.top:.1f}V{sheet.bottom:.1f}H{sheet.right:.1f}", class_="axis")
    for tick, label in zip(sheet.x.ticks, sheet.x.labels(), strict=True):
        x, half = sheet.across(tick), len(label) * font * LETTER / 2
        yield tag("line", x1=x, x2=x, y1=sheet.bottom, y2=sheet.bottom + 5, class_="axis")
        yield _text(min(max(x, half), sheet.width - half), sheet.bottom + font + 6, label, "middle")
    yield _text((sheet.left + sheet.right) / 2, sheet.bottom + font * 2 + 10, sheet.picture.x.label, "middle", "label")


def _marks(sheet: Sheet) -> Iterator[Markup]:
    """Each mark's name above the plot, a thin line from it to its place, a dotted one down to the axis where it matters."""
    for number, row in enumerate(sheet.rows):
        y = sheet.font * 2 + number * (sheet.font + 7) + 8.0
        said, widths = _fitting(sheet, row)
        middles = spread([sheet.across(mark.at) for mark in row], widths, 0.0, float(sheet.width))
        for mark, words, middle in zip(row, said, middles, strict=True):
            x = sheet.across(mark.at)
            ends = sheet.bottom if mark.kind != "begin" or mark.value is None else sheet.down(mark.value)
            yield tag(
                "path", d=f"M{middle:.1f} {y + 3:.1f}L{x:.1f} {sheet.top:.1f}V{ends:.1f}", class_=f"mark {mark.kind}"
            )
            yield _text(middle, y, words, "middle", "turned" if mark.kind == "turn" else None)


def _fitting(sheet: Sheet, row: Sequence[Mark]) -> tuple[list[str], list[float]]:
    """The names of marks, brief where they would not all fit, left out where they still do not."""
    room = sheet.width
    for words in ([mark.says for mark in row], [mark.brief for mark in row],
                  [mark.brief if mark.kind == "turn" else "" for mark in row]):  # fmt: skip
        widths = [len(word) * sheet.font * LETTER + (8 if word else 0) for word in words]
        if sum(widths) <= room:
            return words, widths
    return [""] * len(row), [0.0] * len(row)


def spread(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Middles as near as may be to those wanted (in order), so that nothing overlaps or leaves low to high.

    Neighbours that would overlap share the mean of their places (the pool-adjacent-violators method of isotonic
    regression: Ayer and others, Annals of Mathematical Statistics 26(4), 1955).
    """
    starts, offset = [], 0.0
    for place, width in zip(wanted, widths, strict=True):
        starts.append(place - width / 2 - offset)
        offset += width
    pools: list[tuple[float, int]] = []
    for start in starts:
        pools.append((start, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (mean, many), (other, few) = pools[-2:]
            pools[-2:] = [((mean * many + other * few) / (many + few), many + few)]
    placed, offset = [], 0.0
    flat = [mean for mean, many in pools for _ in range(many)]
    for start, width in zip(flat, widths, strict=True):
        placed.append(min(max(start, low), max(low, high - sum(widths))) + offset + width / 2)
        offset += width
    return placed


def _series(sheet: Sheet, number: int, series: Series) -> Iterator[Markup]:
    if series.shape != "points":
        for run in series.corners():
            places = "L".join(f"{sheet.across(point.at):.1f} {sheet.down(point.value):.1f}" for point in run)
            yield tag("path", d=f"M{places}", class_="series", stroke_dasharray=DASHES[number % len(DASHES)])
    if series.named:
        for point in _signed(series):
            yield sign(number, sheet.across(point.at), sheet.down(point.value))


def _signed(series: Series) -> Iterator[Point]:
    """Points that get the series' sign: where a straight piece begins, every point of the others, and the last one."""
    for run in series.runs:
        yield from run[:1] if series.shape == "line" else run
    if series.shape == "line":
        yield series.runs[-1][-1]


def sign(number: int, x: float, y: float) -> Markup:
    """A series' sign at a place, light inside where it can be, so that it stands out on its line."""
    shape, r = SIGNS[number % len(SIGNS)], 4
    paths = {
        "square": f"M{x - r:.1f} {y - r:.1f}h{2 * r}v{2 * r}h-{2 * r}z",
        "triangle": f"M{x:.1f} {y - r - 1:.1f}l{r + 1} {2 * r}h-{2 * r + 2}z",
        "diamond": f"M{x:.1f} {y - r - 1:.1f}l{r + 1} {r + 1}l-{r + 1} {r + 1}l-{r + 1} -{r + 1}z",
        "cross": f"M{x - r:.1f} {y - r:.1f}l{2 * r} {2 * r}m0 -{2 * r}l-{2 * r} {2 * r}",
    }
    if shape in paths:
        filled = " solid" if shape in ("triangle",) else ""
        return tag("path", d=paths[shape], class_=f"sign{filled}")
    return tag("circle", cx=x, cy=y, r=r, class_="sign solid" if shape == "circle" else "sign")


def _names(sheet: Sheet) -> Iterator[Markup]:
    """Each step's name at its right end, moved apart where two ends meet; lines and points are named in place."""
    ends = [(series.runs[-1][-1], name) for series, name in zip(sheet.picture.series, sheet.names, strict=True)
            if series.shape == "step" and name and series.runs]  # fmt: skip
    ends.sort(key=lambda end: (-end[0].value, end[1]))
    high = [float(len(name) * (sheet.font + 1) + 4) for _, name in ends]
    middles = spread([sheet.down(point.value) for point, _ in ends], high, sheet.top - 10, sheet.bottom + 10)
    for (point, name), middle in zip(ends, middles, strict=True):
        x, y = sheet.across(point.at), sheet.down(point.value)
        yield tag("path", d=f"M{x + 6:.1f} {y:.1f}L{sheet.right + 14:.1f} {middle:.1f}", class_="mark begin")
        for place, line in enumerate(name):
            row = middle + (place - (len(name) - 1) / 2) * (sheet.font + 1) + sheet.font * 0.35
            yield _text(sheet.right + 18, row, line, look="name")
    yield from _line_names(sheet)
    yield from _point_names(sheet)


def _line_names(sheet: Sheet) -> Iterator[Markup]:
    """Each line's name below the middle of its longest run, further down where another stands there already."""
    taken: list[tuple[float, float, float]] = []
    for series in sheet.picture.series:
        if series.shape != "line" or not series.named:
            continue
        run = max(series.runs, key=lambda run: run[-1].at - run[0].at)
        first, last = run[0], run[-1]
        width = len(series.name) * sheet.font * LETTER
        x = (sheet.across(first.at) + sheet.across(last.at)) / 2
        y = (sheet.down(first.value) + sheet.down(last.value)) / 2 + sheet.font + 6
        x += -width / 2 if first.value == last.value else 10
        x = min(max(x, sheet.left + 4), sheet.width - width)
        while any(abs(y - row) < sheet.font + 2 and x < end and x + width > begin for row, begin, end in taken):
            y += sheet.font + 3
        taken.append((y, x, x + width))
        yield _text(x, y, series.name, look="name")


def _point_names(sheet: Sheet) -> Iterator[Markup]:
    """The names of single points, to their right above; left out where the one before stands in the way."""
    points = sorted((sheet.across(point.at), sheet.down(point.value), series.name)
                    for series in sheet.picture.series if series.shape == "points" and series.named
                    for point in series.points())  # fmt: skip
    taken: list[tuple[float, float, float]] = []
    for x, y, words in points:
        width = len(words) * sheet.font * LETTER
        place, row = min(x + 8, sheet.width - width), y - 8
        if all(row - above > sheet.font or above - row > sheet.font or place > end for above, _, end in taken):
            taken.append((row, place, place + width))
            yield _text(place, row, words, look="name")


def _key(sheet: Sheet) -> Iterator[Markup]:
    """Below the plot: each series' dashes and sign, and what it is in full."""
    y = sheet.bottom + sheet.font * 3 + 12.0
    for number, lines in sheet.key:
        series = sheet.picture.series[number]
        if series.shape != "points":
            yield tag(
                "line", x1=4.0, x2=40.0, y1=y, y2=y, class_="series", stroke_dasharray=DASHES[number % len(DASHES)]
            )
        if series.named:
            yield sign(number, 22.0, y)
        for line in lines:
            yield _text(48.0, y + sheet.font * 0.35, line)
            y += sheet.font + 5


def broken(words: str, most: int) -> list[str]:
    """A text in lines of at most so many letters, broken at spaces, after hyphens, or anywhere where it must be."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        if line and len(line) + 1 + len(word) > most:
            lines.append(line)
            line = ""
        line = f"{line} {word}" if line else word
        while len(line) > most:
            hyphen = line.rfind("-", 1, most) + 1 or most
            lines.append(line[:hyphen])
            line = line[hyphen:]
    return [*lines, line] if line else lines
