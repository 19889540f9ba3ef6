"""The report's section on the record of prices: each route's cost at each date, and when the choice turned."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.decision.trend import Moment
from sourcing.money import text
from sourcing.quote.pictures import cost_on, trend_picture
from sourcing.quote.sections.parts import figure, section, table
from sourcing.quote.tags import Inside, Markup, join, name, tag

MOST_MOVES = 12


def trend_section(moments: Sequence[Moment]) -> Markup:
    """The trend's picture, and its dates as a table."""
    picture = trend_picture(moments)
    designs = [series.name for series in picture.series]
    rows: list[list[Inside]] = []
    for moment in moments:
        costs = [_cost(moment, design) for design in designs]
        rows.append([moment.day.isoformat(), *costs, _moved(moment)])
    head = ("Date", *designs, "Prices that moved")
    caption = "What each route costs from each date on; the cheapest is marked"
    return section(
        "The job over the record of prices",
        figure(picture, "trend", table(caption, head, rows, range(1, len(designs) + 1))),
    )


def _cost(moment: Moment, design: str) -> Inside:
    cost = cost_on(moment, design)
    if cost is None:
        return "no plan"
    best = moment.best is not None and moment.best.design == design
    return join((tag("strong", text(cost)), " cheapest")) if best else text(cost)


def _moved(moment: Moment) -> Inside:
    """The moves of a date in words; where the choice turned, said first."""
    moves = [name(str(move)) for move in moment.moved[:MOST_MOVES]]
    told = join(part for move in moves for part in (move, "; ")) if moves else Markup("none")
    more = f"and {len(moment.moved) - MOST_MOVES} more" if len(moment.moved) > MOST_MOVES else None
    return join((tag("strong", "The choice turned. ") if moment.turned else None, told, more))
