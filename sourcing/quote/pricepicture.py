"""The picture of a design's prices: each supplier's part over the record's dates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sourcing.prices.history import History
from sourcing.quote.picture import Axis, Picture, Point, Run, Series

MOST = 10  # series that signs or colours still tell apart


def prices_picture(listed: Sequence[History], name: str, currency: str) -> Picture:
    """What one piece of each part costs in the shop's currency, without its core; a price holds until the next date.

    Parameters
    ----------
    listed : at least one history; of more than `MOST` only the first are drawn
    name : the design's
    """
    drawn = [history for history in listed if any(True for _ in _runs(history))][:MOST]
    series = tuple(
        Series(_name(history), f"{_name(history)}: {_says(history)}", "step", tuple(_runs(history)))
        for history in drawn
    )
    x, y = Axis("date in the record of prices", "date"), Axis(f"price of one piece ({currency})", "money", currency)
    days = [point.day.toordinal() for point in listed[0].points]
    return Picture(f"Price of {name}", x, y, series, (), " ".join(_words(drawn, x, y)), days[0], days[-1])


def _name(history: History) -> str:
    return f"{history.part.supplier} {history.part.number}"


def _says(history: History) -> str:
    kit = f", kit {' + '.join(history.part.fills)}" if history.is_kit else ""
    return f"{history.supplier_name}, {history.part.condition}{kit}"


def _runs(history: History) -> Iterator[Run]:
    """Stretches of dates on which the part had a price."""
    run: list[Point] = []
    for point in history.points:
        if point.price_cents is not None:
            run.append(Point(point.day.toordinal(), point.price_cents))
        elif run:
            yield (*run, Point(point.day.toordinal(), run[-1].value))
            run = []
    if run:
        yield tuple(run)


def _words(drawn: Sequence[History], x: Axis, y: Axis) -> Iterator[str]:
    yield f"The {y.label} of each part as a step line over the {x.label}."
    for history in drawn:
        priced = [point for point in history.turns if point.price_cents is not None]
        steps = ", ".join(f"{y.says(point.price_cents or 0)} from {point.day.isoformat()}" for point in priced)
        yield f"{_name(history)}: {steps}."
