"""A chart of the spreadsheet's own, drawn from cells: in black, told apart by dashes and signs, with its words."""

from __future__ import annotations

from datetime import date
from typing import Any

from sourcing.money import minor_digits
from sourcing.quote.picture import Axis, Picture, Series
from sourcing.quote.scales import Scale, x_scale, y_scale
from sourcing.quote.sheets.page import FONT, Page
from sourcing.quote.sheets.texts import clean

DASHES = ("solid", "dash", "round_dot", "long_dash_dot", "square_dot")
SIGNS = ("circle", "square", "triangle", "diamond", "x", "star")
INK, GRID = "#111111", "#C8C8C8"
WIDTH, HEIGHT, ROWS = 860, 330, 18  # pixels, and rows of the sheet that it covers
DAY_ZERO = date(1899, 12, 30).toordinal()


class NativeChart:
    """A scatter chart of a picture: `across`, `down` and `single` add what a row or a column of cells holds."""

    def __init__(self, page: Page, picture: Picture) -> None:
        self.page, self.picture = page, picture
        self.chart = page.book.add_chart({"type": "scatter", "subtype": "straight_with_markers"})
        self._entries = 0
        self._named: set[str] = set()
        self._hidden: list[int] = []

    def across(self, row: int, number: int, label: str = "") -> None:
        """A piece in a row: its places in columns C and D, its values in E and F, its name in A."""
        name = self.picture.series[number].name
        custom = [{"value": label}, {"delete": True}]
        shown = {"value": True, "custom": custom, "position": "above", "font": _font(True)} if label else None
        self._add(name, row, (row, 2, row, 3), (row, 4, row, 5), number, _line(number), shown)

    def down(self, first: int, last: int, number: int, series: Series) -> None:
        """A run in rows: its names in column A, its places in C, its values in D."""
        line = {"none": True} if series.shape == "points" else _line(number)
        self._add(
            series.name, first, (first, 2, last, 2), (first, 3, last, 3), number, line, None, bare=not series.named
        )

    def single(self, row: int, label: str) -> None:
        """One place that matters: the price now."""
        shown = {"value": True, "custom": [{"value": label}], "position": "below", "font": _font(True)}
        marker = {"type": "plus", "size": 13, "border": {"color": INK, "width": 2}}
        self._add("now", row, (row, 2, row, 2), (row, 4, row, 4), 0, {"none": True}, shown, marker)

    def _add(
        self,
        name: str,
        named: int,
        places: tuple[int, int, int, int],
        values: tuple[int, int, int, int],
        number: int,
        line: dict[str, Any],
        labels: dict[str, Any] | None,
        marker: dict[str, Any] | None = None,
        bare: bool = False,
    ) -> None:
        """One series; only the first of a name stands in the legend."""
        sheet = self.page.name
        given: dict[str, Any] = {
            "name": [sheet, named, 0],
            "categories": [sheet, *places],
            "values": [sheet, *values],
            "line": line,
            "marker": {"type": "none"} if bare else marker or _marker(number),
        }
        self.chart.add_series(given | ({"data_labels": labels} if labels else {}))
        if name in self._named:
            self._hidden.append(self._entries)
        self._named.add(name)
        self._entries += 1

    def place(self) -> None:
        """Put the chart below what was drawn so far. Series may still be added."""
        picture, page = self.picture, self.page
        self.chart.set_title({"none": True})
        self.chart.set_x_axis(_axis(picture.x, x_scale(picture, 8), False))
        self.chart.set_y_axis(_axis(picture.y, y_scale(picture, 7), True))
        self.chart.set_size({"width": WIDTH, "height": HEIGHT})
        self.chart.set_legend({"position": "bottom", "font": _font(), "delete_series": self._hidden})
        page.sheet.insert_chart(
            page.row, 0, self.chart,
            {"description": clean(f"{picture.title}. {picture.says}"), "x_offset": 4, "y_offset": 6, "object_position": 1},
        )  # fmt: skip
        page.skip(ROWS)


def _font(bold: bool = False) -> dict[str, Any]:
    return {"name": FONT, "size": 9, "bold": bold, "color": INK}


def _line(number: int) -> dict[str, Any]:
    return {"color": INK, "width": 1.75, "dash_type": DASHES[number % len(DASHES)]}


def _marker(number: int) -> dict[str, Any]:
    """Filled throughout: a sign without a line that is light inside is not seen in every spreadsheet."""
    return {
        "type": SIGNS[number % len(SIGNS)],
        "size": 7,
        "border": {"color": INK, "width": 1.25},
        "fill": {"color": INK},
    }


def _axis(axis: Axis, scale: Scale, across: bool) -> dict[str, Any]:
    """An axis from end to end of its scale, in the units of the cells."""
    unit = 10 ** minor_digits(axis.currency) if axis.kind == "money" else 1
    zero = DAY_ZERO if axis.kind == "date" else 0
    digits = minor_digits(axis.currency) if axis.kind == "money" else 0
    formats = {"date": "yyyy-mm-dd", "money": f"0.{'0' * digits}" if digits else "0", "count": "0"}
    step = scale.ticks[1] - scale.ticks[0] if len(scale.ticks) > 1 else scale.high - scale.low
    low, high = scale.low, scale.high
    if axis.kind == "date":
        step = max(1, -(-(high - low) // 6))
    else:
        low, high = low // step * step, -(-high // step) * step
    made: dict[str, Any] = {
        "name": clean(axis.label),
        "name_font": _font(True),
        "num_font": _font(),
        "num_format": formats[axis.kind],
        "min": (low - zero) / unit,
        "max": (high - zero) / unit,
        "major_unit": step / unit,
        "line": {"color": INK},
        "crossing": "min",
        "major_gridlines": {"visible": across, "line": {"color": GRID, "width": 0.75}},
    }
    return made
