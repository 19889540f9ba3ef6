"""The report's section on the record of prices: each route's cost at each date, and when the choice turned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sourcing.decision.trend import Moment
from sourcing.money import text
from sourcing.quote.pictures import cost_on, trend_picture, turnings
from sourcing.quote.sections.parts import bullets, figure, section, table
from sourcing.quote.tags import Inside, Markup, join, name, tag


def trend_section(moments: Sequence[Moment]) -> Markup:
    """The trend's picture, its dates as a table, and the prices that moved where the choice turned."""
    picture = trend_picture(moments)
    designs = [series.name for series in picture.series]
    rows = [
        [moment.day.isoformat(), *(_cost(moment, design) for design in designs), len(moment.moved)]
        for moment in moments
    ]
    caption = "What each route costs from each date on; the cheapest is marked"
    numbers = table(caption, ("Date", *designs, "Prices moved"), rows, "n" * (len(designs) + 2))
    turned = list(_turned(moments))
    return section(
        "The job over the record of prices",
        figure(picture, "trend", numbers),
        *((tag("h3", "When the choice turned"), bullets(turned)) if turned else ()),
    )


def _cost(moment: Moment, design: str) -> Inside:
    cost = cost_on(moment, design)
    if cost is None:
        return "no plan"
    best = moment.best is not None and moment.best.design == design
    return join((tag("strong", "cheapest "), text(cost))) if best else text(cost)


def _turned(moments: Sequence[Moment]) -> Iterator[Markup]:
    for moment, before, after in turnings(moments):
        moves = join(join(("; " if place else "", name(str(move)))) for place, move in enumerate(moment.moved))
        head = f"{moment.day.isoformat()}: from {before} to {after}. Prices that moved: "
        yield join((head, moves if moment.moved else "none"))
