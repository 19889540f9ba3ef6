"""The pictures in plain characters: narrow enough, without colour, every line where its figures put it."""

from __future__ import annotations

import pytest
from quote.studied import moments_of, studied

from sourcing.cli.plot import plot, sign_of
from sourcing.decision.break_even import cost_at
from sourcing.quote.picture import Axis, Mark, Picture, Point, Series
from sourcing.quote.pictures import break_even_picture, frontier_picture, stretches, trend_picture

DRAWN = ("substitute-with-plate", "date-autumn", "used-block-for-cash")


def pictures(job: str) -> list[Picture]:
    seen = studied(job)
    problem = seen.plan.problem
    return [
        *(break_even_picture(found) for found in seen.turns),
        frontier_picture(problem, "day", seen.by_day),
        frontier_picture(problem, "cash", [(None, plan) for plan in seen.by_cash]),
        trend_picture(moments_of(job)),
    ]


@pytest.mark.parametrize("job", DRAWN)
def test_a_picture_fits_a_terminal_and_is_plain(job: str) -> None:
    for picture in pictures(job):
        lines = plot(picture)
        assert max(map(len, lines)) <= 100 and len(lines) <= 24
        assert all(line.isascii() and line.isprintable() and line == line.rstrip() for line in lines)
        signs = [sign_of(picture, number) for number in range(len(picture.series))]
        assert len(signs) == len(set(signs))
        for series, sign in zip(picture.series, signs, strict=True):
            assert any(line.startswith(f"  {sign}  {series.says}") for line in lines)


@pytest.mark.parametrize("job", DRAWN)
def test_the_line_lies_at_the_cost_that_the_axis_says(job: str) -> None:
    """Read back from the characters: the rows by the labels beside them, the columns by the range looked at."""
    for found in studied(job).turns:
        picture = break_even_picture(found)
        lines = plot(picture)
        left = next(line.find("+") for line in lines if line.lstrip(" .0123456789").startswith("+")) + 1
        begin = next(
            place for place, line in enumerate(lines) if line[left - 1 : left] == "+" and line[: left - 1].strip()
        )
        rows = lines[begin : begin + 13]
        grid = [line[left:] for line in rows]
        labels = [(row, float(line[: left - 1])) for row, line in enumerate(rows) if line[: left - 1].strip()]
        (first, top), (last, bottom) = labels[0], labels[-1]
        step = (top - bottom) / (last - first)
        columns = 100 - left - 2
        for stretch in stretches(found):
            sign = sign_of(picture, [series.name for series in picture.series].index(stretch.name))
            middle = (stretch.piece.low + stretch.piece.high) // 2
            column = round((middle - found.low) / (found.high - found.low) * (columns - 1))
            cost = cost_at(found.problem, stretch.piece, found.offer.id, middle) / 100
            seen = [row for row in range(len(grid)) if grid[row][column : column + 1] == sign]
            if stretch.piece.high - stretch.piece.low > (found.high - found.low) / columns * 2:
                assert seen and min(abs(top - row * step - cost) for row in seen) <= step


def test_a_small_picture_is_drawn_as_by_hand() -> None:
    """Values from 0 to 80 on thirteen rows, places from 0 to 20 on as many columns: the line rises a row in a column."""
    rising = Series("a", "a: rises", "line", ((Point(0, 0), Point(12, 80)),))
    falling = Series("b", "b: falls", "step", ((Point(12, 80), Point(20, 40)),))
    marks = (Mark("now", 4, 27, "now 4", "now"), Mark("turn", 12, 80, "2: turns at 12", "2"))
    picture = Picture("By hand", Axis("places", "count"), Axis("values", "count"), (rising, falling), marks, "", 0, 20)
    assert plot(picture, 27) == [
        "By hand",
        "  up: values, from 0;",
        "  across: places",
        " 80+            oxxxxxxxx",
        "   |           o        x",
        "   |          o         x",
        " 60+         o          x",
        "   |        o           x",
        "   |       o            x",
        " 40+      o             x",
        "   |     o",
        "   |    o",
        " 20+   o",
        "   |  o",
        "   | o",
        "  0+o",
        "   ++----+----+----+----+",
        "    0    5   10   15   20",
        "        ^       ^",
        "        now 4",
        "              turns at 12",
        "  o  a: rises",
        "  x  b: falls",
    ]


def test_where_there_is_no_plan_it_says_so() -> None:
    empty = frontier_picture(studied("nothing-crosses").plan.problem, "day", ())
    assert plot(empty) == [empty.title, "  nothing to be drawn: there is no plan"]


def test_more_routes_than_signs_still_draw() -> None:
    many = tuple(Series(f"d{n}", f"d{n}", "step", ((Point(0, n), Point(9, n)),)) for n in range(13))
    picture = Picture("Many", Axis("n", "count"), Axis("cost", "count"), many, (), "", 0, 9)
    assert len([line for line in plot(picture) if "  d" in line]) == 13


def test_a_name_out_of_a_file_moves_no_cursor() -> None:
    line = Series("a", "a: \x1b[2Jgone\u202e", "step", ((Point(0, 1), Point(9, 2)),))
    picture = Picture("By \x07hand", Axis("n", "count"), Axis("cost", "count"), (line,), (), "", 0, 9)
    assert all(row.isprintable() for row in plot(picture))
