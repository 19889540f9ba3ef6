"""A design's prices as a picture: steps that hold, and a gap where there was no price."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from sourcing.partnumber import PartNumber
from sourcing.prices.history import History, Point
from sourcing.prices.parts import Part
from sourcing.quote.pricepicture import prices_picture

DAYS = [date(2026, 3, 1), date(2026, 4, 1), date(2026, 5, 1), date(2026, 6, 1)]


def history(number: str, *prices: str | None) -> History:
    part = Part("quarry", PartNumber(number), ("block-a",), "reman", 0, frozenset(), None, "", "")
    cents = [None if price is None else int(Decimal(price) * 100) for price in prices]
    points = tuple(
        Point(day, None if price is None else Decimal(price), at)
        for day, price, at in zip(DAYS, prices, cents, strict=True)
    )
    return History("larch5", "block-a", part, "Quarry Bend Exchange", "USD", points)


def test_a_price_holds_until_the_day_on_which_there_is_none() -> None:
    picture = prices_picture([history("A-1", "200.00", "210.00", None, "190.00")], "Block A", "USD")
    [series] = picture.series
    march, april, may, june = (day.toordinal() for day in DAYS)
    assert [[(point.at, point.value) for point in run] for run in series.runs] == [
        [(march, 20000), (april, 21000), (may, 21000)],
        [(june, 19000)],
    ]
    assert (picture.low, picture.high) == (march, june)
    assert "200.00 from 2026-03-01, 210.00 from 2026-04-01, 190.00 from 2026-06-01" in picture.says


def test_a_part_that_never_had_a_price_is_not_drawn() -> None:
    picture = prices_picture([history("A-1", None, None, None, None)], "Block A", "USD")
    assert picture.empty
