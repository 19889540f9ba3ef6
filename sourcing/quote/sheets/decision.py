"""The sheet of the decision: routes and their causes, where the choice turns, what a day costs, the record of prices.

Its numbers are stored as they were solved. The charts draw the cells of its tables and of the last part, so that whoever
opens the file can check every line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise

from sourcing.decision.break_even import BreakEven
from sourcing.decision.routes import Comparison, Route
from sourcing.decision.study import Decided
from sourcing.decision.trend import Moment
from sourcing.money import minor_digits
from sourcing.plan import Plan
from sourcing.quote.charging import charge
from sourcing.quote.picture import Series
from sourcing.quote.pictures import (
    break_even_picture,
    cost_on,
    frontier_picture,
    gaps,
    present,
    stretches,
    trend_picture,
)
from sourcing.quote.sheets.cells import Cell, Cents, Coins
from sourcing.quote.sheets.charts import NativeChart
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.words import WORDS, assumption_named, in_short, kind_of, plan_named, signed, told_causes, value_told

NAME = "Decision"
WIDTHS = (34, 12, 12, 12, 12, 12, 12, 12, 12, 60)
MOST_PIECES = 200  # a chart takes 255 series
# Points of the sheet that an A4 landscape page takes (letter takes more), where its columns are fitted to the page's width
# (a column's unit is 7 pixels, with 5 between) and its title is repeated.
PRINTED = 0.65 * sum(width * 7 + 5 for width in WIDTHS) * 0.75 - 25
ACROSS = len(WIDTHS) - 2  # routes that a table of the trend has room for


def draw_decision(page: Page, decided: Decided, moments: Sequence[Moment] | None = None) -> None:
    """Draw the whole sheet; with the trend where `moments` are given."""
    problem = decided.comparison.problem
    job = problem.job.job
    page.heading(f"Decision, job {job.number}")
    page.paragraph(
        "For the shop only. A record of what was solved: the numbers are stored, since a spreadsheet cannot solve again."
        f" Prices of {job.date.isoformat()}, amounts in {problem.shop.currency} unless another currency is named.",
        "label",
    )
    for line in in_short(decided):
        page.paragraph(line, "")
    _routes(page, decided.comparison)
    begins, steps = [(page.row, page.points)], list[Steps]()
    for found in decided.turns:
        _turns(page, found)
        begins.append((page.row, page.points))
    steps += _days(page, decided.plan, decided.by_day)
    begins.append((page.row, page.points))
    _assumptions(page, decided)
    begins.append((page.row, page.points))
    steps += _trend(page, moments) if moments else ()
    print_wide(page, f"Job {job.number}, the decision", problem.shop.letter)
    page.sheet.set_h_pagebreaks(list(_breaks([*begins, (page.row, page.points)])))
    _corners(page, steps)


def draw_not_studied(page: Page, plan: Plan, said: str) -> None:
    """The sheet of a job that is too large to be studied with its quote: what was left out, and what does it."""
    page.heading(f"Decision, job {plan.problem.job.number}")
    page.paragraph(said, "")


def _breaks(ends: Sequence[tuple[int, float]]) -> Iterator[int]:
    """Rows before which a printed page begins, so that no part which fits a page is parted; `ends` of the parts."""
    used = ends[0][1]
    for (row, before), (_, after) in pairwise(ends):
        if used + after - before > PRINTED:
            yield row
            used = 0.0
        used += after - before


def _routes(page: Page, comparison: Comparison) -> None:
    page.part(f"Routes by {comparison.problem.family.lead.name.lower()}")
    page.headings(["Design", "Kind", "Cost", "Dearer by", "All here on", "Cash now", "Expected comebacks",
                   "Price to the customer", "Margin", "Why it is dearer, or why there is no plan"],
                  (2, 3, 5, 6, 7, 8))  # fmt: skip
    for route in comparison.routes:
        page.line(_route(comparison, route), "row")


def _route(comparison: Comparison, route: Route) -> list[Cell]:
    plan, cheapest = route.plan, comparison.cheapest
    name = f"{comparison.problem.family.name_of(route.design)} ({route.design})"
    if plan.choice is None or cheapest is None:
        why = "; ".join(reason.says for reason in route.reasons) or WORDS[plan.status]
        return [name, kind_of(route), "no plan", None, None, None, None, None, None, why]
    charged, more = charge(plan), plan.cost - cheapest.plan.cost
    words = [word for word, holds in (("cheapest", route is cheapest),
                                      ("recommended", route.design == comparison.recommended)) if holds]  # fmt: skip
    return [
        ": ".join([name, *([", ".join(words)] if words else [])]), kind_of(route), Cents(plan.cost), Cents(more),
        plan.last_arrival or "no waiting", Cents(plan.totals.cash), Cents(plan.totals.comebacks),
        Cents(charged.total_cents), Cents(charged.margin_cents), told_causes(plan, cheapest.plan) if more else "",
    ]  # fmt: skip


def _turns(page: Page, found: BreakEven) -> None:
    """The pieces of a break-even, and their chart: each piece is a row, and a line from its first cell to its last."""
    picture, told = break_even_picture(found), stretches(found)
    currency = found.problem.terms[found.offer.supplier].currency
    digits = minor_digits(currency)
    page.part(picture.title)
    page.headings(["Cheapest plan", "Piece", f"From {currency}", f"To {currency}", "Cost at from", "Cost at to"],
                  (1, 2, 3, 4, 5))  # fmt: skip
    chart = NativeChart(page, picture)
    kinds = list(dict.fromkeys(stretch.name for stretch in told))
    for stretch in told:
        prices = [Coins(at, digits) for at in (stretch.piece.low, stretch.piece.high)]
        costs = [Cents(cost) for cost in (stretch.cost_low, stretch.cost_high)]
        row = page.line([stretch.name, stretch.number, *prices, *costs, "turns here" if stretch.turns else None], "row")
        if len(told) <= MOST_PIECES:
            label = f"turns at {signed(stretch.piece.low, currency)}" if stretch.turns else ""
            chart.across(row, kinds.index(stretch.name), label)
    now, cost, _ = present(found)
    if cost is not None:
        price = Coins(now, digits)
        row = page.line(["the price now", None, price, price, Cents(cost), Cents(cost)], "sum")
        chart.single(row, f"now {signed(now, currency)}")
    for low, high in gaps(found):
        page.line(["no plan is possible", None, Coins(low, digits), Coins(high, digits)], "row")
    if len(told) > MOST_PIECES:
        page.paragraph(f"{len(told)} pieces are more than a chart can draw.")
    chart.place()


Steps = tuple[NativeChart, tuple[Series, ...]]


def _days(page: Page, plan: Plan, by_day: Sequence[tuple[date | None, Plan]]) -> Iterator[Steps]:
    """Cost against the day; its chart draws the corners of the steps, and the points of this table by design."""
    picture = frontier_picture(plan.problem, "day", by_day)
    page.part(picture.title)
    if picture.empty:
        page.paragraph("There is no plan.")
        return
    page.headings([plan.problem.family.lead.name, "", "All here on", "Cost", "Dearer by"],
                  (3, 4))  # fmt: skip
    least, today = min(one.cost for _, one in by_day), plan.problem.job.job.date
    for day, one in by_day:
        assert one.choice is not None
        design = one.choice.combination[plan.problem.family.lead.code]
        bought = None if day else "nothing is bought"
        page.line([design, None, day or today, Cents(one.cost), Cents(one.cost - least), bought], "row")
    chart = NativeChart(page, picture)
    chart.place()
    yield chart, picture.series


def _assumptions(page: Page, decided: Decided) -> None:
    """What the decision hangs on, one number at a time."""
    if not decided.assumptions:
        return
    page.part("What the decision hangs on, one number at a time")
    page.headings(["All else as it is", "", "Now", "At and below", "At and above", "", "", "", "", "Then cheapest"])
    for carried in decided.assumptions:
        one, sides = carried.assumption, (carried.below, carried.above)
        values = [value_told(one, side.value) if side else "never" for side in sides]
        plans = dict.fromkeys(plan_named(side.plan) for side in sides if side)
        name = assumption_named(one, decided.plan.problem)
        page.line([name, None, value_told(one, one.now), *values, None, None, None, None, "; ".join(plans)], "row")


def _trend(page: Page, moments: Sequence[Moment]) -> Iterator[Steps]:
    picture = trend_picture(moments)
    page.part(picture.title)
    designs = [series.name for series in picture.series]
    for first in range(0, len(designs), ACROSS):
        some = designs[first : first + ACROSS]
        page.headings(["Date", "", *some], range(2, 2 + len(some)))
        for moment in moments:
            costs = [cost_on(moment, design) for design in some]
            cells: list[Cell] = ["no plan" if cost is None else Cents(cost) for cost in costs]
            page.line([moment.day, "turned" if moment.turned else None, *cells], "row")
    if picture.empty:
        page.paragraph("No route has a plan at any date.")
        return
    chart = NativeChart(page, picture)
    chart.place()
    yield chart, picture.series


def _corners(page: Page, steps: Sequence[Steps]) -> None:
    """The corners of the step lines as cells, run by run, for the charts above."""
    if not steps:
        return
    page.part("Points that the step lines above are drawn through (not printed)")
    page.headings(["Line", "", "Date", "Cost"], (3,))
    for chart, some in steps:
        for number, series in enumerate(some):
            for run in series.corners():
                first = page.row
                for point in run:
                    page.line(
                        [
                            series.name if series.named else series.says,
                            None,
                            date.fromordinal(point.at),
                            Cents(point.value),
                        ],
                        "row",
                    )
                chart.down(first, page.row - 1, number, series)
