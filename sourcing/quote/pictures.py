"""The pictures of a decision: break-even, frontiers and trend as values, each told in words as well."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal

from sourcing.decision.break_even import BreakEven, Piece, cost_at
from sourcing.decision.trend import Moment
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.picture import Axis, Mark, Picture, Point, Run, Series

MOST_TOLD = 8  # pieces or points that a picture's words tell one by one; the table beside it has all
MINIMISED = {
    "whole": "whole cost",
    "landed": "landed cost",
    "cash": "cash to lay out",
}
WITHIN = {"day": "day on which everything is here", "comebacks": "expected comebacks", "cash": "cash now"}

TITLES = {"day": "the day on which everything is here", "comebacks": "expected comebacks", "cash": "cash now"}
KEPT = {
    "day": "cheapest plan that is all here by then",
    "comebacks": "cheapest plan with no more expected comebacks",
    "cash": "cheapest plan with no more cash now",
}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of a break-even with what is drawn and tabled of it: its plan's name, its cost at both ends, in cents."""

    number: int
    piece: Piece
    design: str
    name: str
    cost_low: int
    cost_high: int
    turns: bool


def cost_axis(problem: Problem) -> Axis:
    """The cost that a job minimises."""
    return Axis(f"{MINIMISED[problem.minimise]} ({problem.shop.currency})", "money", problem.shop.currency)


def stretches(found: BreakEven) -> list[Stretch]:
    """The pieces of a break-even from the lowest price on; one `turns` where another design, or use of the part, begins."""
    lead, told = found.problem.family.lead.code, []
    before = ""
    for number, piece in enumerate(found.pieces, 1):
        assert piece.plan.choice is not None
        design = piece.plan.choice.combination[lead]
        name = f"{design} {'with' if piece.uses(found.offer.id) else 'without'} it"
        first, last = (cost_at(found.problem, piece, found.offer.id, at) for at in (piece.low, piece.high))
        told.append(Stretch(number, piece, design, name, first, last, turns=bool(before) and name != before))
        before = name
    return told


def present(found: BreakEven) -> tuple[int, int | None, Stretch | None]:
    """The part's price now, the cheapest cost at it and its stretch; None where it lies in none."""
    now = found.offer.steps[0].minor
    here = next((stretch for stretch in stretches(found) if stretch.piece.low <= now <= stretch.piece.high), None)
    return now, (cost_at(found.problem, here.piece, found.offer.id, now) if here else None), here


def break_even_picture(found: BreakEven) -> Picture:
    """The cheapest plan's cost over a part's price: its straight pieces, where each begins, where the choice turns."""
    part, problem = found.offer.part, found.problem
    currency = problem.terms[part.supplier].currency
    x = Axis(f"price of {part.supplier} {part.number.spelt} ({currency})", "money", currency)
    y, told = cost_axis(problem), stretches(found)
    runs: dict[str, list[Run]] = {}
    for stretch in told:
        ends = (Point(stretch.piece.low, stretch.cost_low), Point(stretch.piece.high, stretch.cost_high))
        runs.setdefault(stretch.name, []).append(ends[: 1 + (stretch.piece.low < stretch.piece.high)])
    designs = {stretch.name: stretch.design for stretch in told}
    series = tuple(
        Series(name, f"{name}: {problem.family.name_of(designs[name])}", "line", tuple(some))
        for name, some in runs.items()
    )
    now, cost, _ = present(found)
    marks = [Mark("now", now, cost, f"now {x.says(now)}", "now")] if found.low <= now <= found.high else []
    for stretch in told[1:]:
        at, number = stretch.piece.low, str(stretch.number)
        says = f"{number}: turns at {x.says(at)}" if stretch.turns else number
        marks.append(Mark("turn" if stretch.turns else "begin", at, stretch.cost_low, says, number))
    title = f"{MINIMISED[problem.minimise].capitalize()} of the cheapest plan by the price of {part.supplier} {part.number.spelt}"
    words = " ".join(_break_even_words(found, x, y))
    note = "The numbers above the line are the pieces of the table." if len(told) > 1 else ""
    return Picture(title, x, y, series, tuple(marks), words, found.low, found.high, note)


def _break_even_words(found: BreakEven, x: Axis, y: Axis) -> Iterator[str]:
    told = stretches(found)
    yield (
        f"The {y.label} of the cheapest plan as a line over the {x.label}, from {x.says(found.low)} to"
        f" {x.says(found.high)}."
    )
    now, cost, here = present(found)
    if here is not None and cost is not None:
        yield f"At the price now, {x.says(now)}, the cheapest plan is {here.name}, at {y.says(cost)}."
    listed = told if len(told) <= MOST_TOLD else [stretch for stretch in told if stretch.turns][:MOST_TOLD]
    for stretch in listed:
        low, high = x.says(stretch.piece.low), x.says(stretch.piece.high)
        costs = dict.fromkeys(y.says(cost) for cost in (stretch.cost_low, stretch.cost_high))
        yield f"From {low} to {high} it is {stretch.name}, at {' to '.join(costs)}."
    if len(told) > MOST_TOLD:
        yield f"The line has {len(told)} pieces; the table has all of them."
    turned = [x.says(stretch.piece.low) for stretch in told if stretch.turns]
    yield f"The choice turns at {_and(turned)}." if turned else "The choice does not turn in this range."
    holes = [f"{x.says(low)} to {x.says(high)}" for low, high in gaps(found)]
    if holes:
        yield f"No plan is possible at {_and(holes)}."


def gaps(found: BreakEven) -> Iterator[tuple[int, int]]:
    """Prices, first and last, at which no plan is possible."""
    at = found.low
    for piece in found.pieces:
        if piece.low > at:
            yield at, piece.low - 1
        at = piece.high + 1
    if at <= found.high:
        yield at, found.high


def frontier_picture(
    problem: Problem, kind: Literal["day", "comebacks", "cash"], points: Sequence[tuple[date | None, Plan]]
) -> Picture:
    """Cost against the day on which everything is here, expected comebacks or cash now.

    `points` are plans with the day of their last arrival (None: nothing is bought; stands on the job's own date). A step
    says what the cheapest plan costs that keeps within a place on the axis.
    """
    currency = problem.shop.currency
    x = Axis(WITHIN[kind], "date") if kind == "day" else Axis(f"{WITHIN[kind]} ({currency})", "money", currency)
    y, lead = cost_axis(problem), problem.family.lead.code
    placed = sorted((_place(problem, kind, day, plan), plan.cost, _lead(plan, lead)) for day, plan in points)
    run = tuple(Point(at, cost) for at, cost, _ in placed)
    designs = dict.fromkeys(design for _, _, design in placed)
    step = Series("within", KEPT[kind], "step", (run,) if run else (), named=False)
    series = (
        step,
        *(
            Series(
                design,
                f"{design}: {problem.family.name_of(design)}",
                "points",
                (tuple(Point(at, cost) for at, cost, held in placed if held == design),),
            )
            for design in designs
        ),
    )
    title = f"{MINIMISED[problem.minimise].capitalize()} against {TITLES[kind]}"
    words = " ".join(_frontier_words(kind, placed, x, y))
    low, high = (placed[0][0], placed[-1][0]) if placed else (0, 0)
    return Picture(title, x, y, series, (), words, low, high)


def _place(problem: Problem, kind: str, day: date | None, plan: Plan) -> int:
    if kind == "day":
        return (day or problem.job.job.date).toordinal()
    return plan.totals.of(kind)


def _frontier_words(kind: str, placed: Sequence[tuple[int, int, str]], x: Axis, y: Axis) -> Iterator[str]:
    yield f"The {y.label} of the cheapest plan as a falling step line over the {x.label}: {KEPT[kind]}."
    told = list(placed) if len(placed) <= MOST_TOLD else [placed[0], placed[-1]]
    for at, cost, design in told:
        yield f"{x.says(at)}: {y.says(cost)}, with {design}."
    if len(placed) > MOST_TOLD:
        yield f"The line has {len(placed)} steps; the table has all of them."
    if len(placed) > 1:
        yield f"From end to end {y.says(placed[0][1] - placed[-1][1])} is at stake."
    elif placed:
        yield "There is one step only: nothing is to be traded."


def trend_picture(moments: Sequence[Moment]) -> Picture:
    """Each route's cost at each date on which prices changed; a cost holds until the next date.

    Raises
    ------
    ValueError
        There is no moment.
    """
    if not moments:
        raise ValueError("a trend needs at least one date")
    problem = next((route.plan.problem for moment in moments for route in moment.routes), None)
    y = cost_axis(problem) if problem else Axis("cost", "money", "")
    x = Axis("date on which prices changed", "date")
    designs = dict.fromkeys(route.design for moment in moments for route in moment.routes if route.plan.choice)
    series = tuple(
        Series(
            design,
            f"{design}: {problem.family.name_of(design)}" if problem else design,
            "step",
            tuple(_held(moments, design)),
        )
        for design in sorted(designs)
    )
    marks = tuple(
        Mark(
            "turn",
            m.day.toordinal(),
            m.best.plan.cost if m.best else None,
            f"turned {m.day.isoformat()}",
            f"{m.day:%m-%d}",
        )
        for m in moments
        if m.turned
    )
    title = f"{MINIMISED[problem.minimise].capitalize() if problem else 'Cost'} of each route over the record of prices"
    low, high = moments[0].day.toordinal(), moments[-1].day.toordinal()
    return Picture(title, x, y, series, marks, " ".join(_trend_words(moments, series, x, y)), low, high)


def _held(moments: Sequence[Moment], design: str) -> Iterator[Run]:
    """A route's cost at each date, in runs that end where the route has no plan."""
    run: list[Point] = []
    for moment in moments:
        cost = cost_on(moment, design)
        if cost is not None:
            run.append(Point(moment.day.toordinal(), cost))
        elif run:
            yield (*run, Point(moment.day.toordinal(), run[-1].value))
            run = []
    if run:
        yield tuple(run)


def cost_on(moment: Moment, design: str) -> int | None:
    """What a route costs at a date; None where it has no plan."""
    found = (route.plan.cost for route in moment.routes if route.design == design and route.plan.choice)
    return next(found, None)


def turnings(moments: Sequence[Moment]) -> Iterator[tuple[Moment, str, str]]:
    """Dates on which the choice turned, with the design before and after."""
    led = [(moment, moment.best) for moment in moments if moment.best is not None]
    for (_, before), (moment, best) in pairwise(led):
        if moment.turned:
            yield moment, before.design, best.design


def _trend_words(moments: Sequence[Moment], series: Sequence[Series], x: Axis, y: Axis) -> Iterator[str]:
    first, last = moments[0].day.isoformat(), moments[-1].day.isoformat()
    yield f"The {y.label} as step lines, one for each route, at {len(moments)} dates from {first} to {last}."
    for line in series:
        points = list(line.points())
        costs = [point.value for point in points]
        yield (
            f"{line.name}: {y.says(costs[0])} on {x.says(points[0].at)}, {y.says(costs[-1])} at the end,"
            f" between {y.says(min(costs))} and {y.says(max(costs))}."
        )
    turns = [f"on {moment.day.isoformat()} from {before} to {after}" for moment, before, after in turnings(moments)]
    yield f"The cheapest route turned {_and(turns)}." if turns else "The cheapest route never turned."
    none = [moment.day.isoformat() for moment in moments if moment.best is None]
    if none:
        yield f"No route had a plan on {_and(none)}."


def _lead(plan: Plan, lead: str) -> str:
    assert plan.choice is not None
    return plan.choice.combination[lead]


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
