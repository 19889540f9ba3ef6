"""The pictures as values: they hold the pieces, points and dates that were found, and tell them in words."""

from __future__ import annotations

import itertools
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quote.studied import JOBS, moments_of, studied
from sourcing.decision.break_even import cost_at
from sourcing.money import text
from sourcing.quote.picture import Axis, Picture, Point, Series
from sourcing.quote.pictures import break_even_picture, frontier_picture, stretches, trend_picture
from sourcing.quote.scales import cut, x_scale, y_scale
from sourcing.quote.svg import DASHES, SIGNS, broken, spread
from sourcing.quote.words import signed

TURNING = ("substitute-with-plate", "date-autumn", "used-block-for-cash")


@pytest.mark.parametrize("job", TURNING)
def test_a_break_even_draws_each_piece_from_its_first_price_to_its_last(job: str) -> None:
    for found in studied(job).turns:
        drawn = break_even_picture(found)
        runs = sorted((run for series in drawn.series for run in series.runs), key=lambda run: run[0].at)
        assert [(run[0], run[-1]) for run in runs] == [
            tuple(Point(at, cost_at(found.problem, piece, found.offer.id, at)) for at in (piece.low, piece.high))
            for piece in found.pieces
        ]
        now = [mark for mark in drawn.marks if mark.kind == "now"]
        assert [mark.at for mark in now] == [found.offer.steps[0].minor]
        assert now[0].value == studied(job).plan.cost  # the cheapest plan at the price of today is the job's own
        assert [mark.at for mark in drawn.marks if mark.kind != "now"] == [piece.low for piece in found.pieces[1:]]


def test_a_line_says_which_design_it_is_of_and_whether_the_part_is_in_it() -> None:
    found = studied("date-autumn").turns[0]
    drawn = break_even_picture(found)
    assert [series.name for series in drawn.series] == ["block-c with it", "block-b without it"]
    assert [(mark.says, mark.brief) for mark in drawn.marks if mark.kind == "turn"] == [("2: turns at 182.80", "2")]
    assert drawn.x.label == "price of birkental 00710-03 (EUR)" and drawn.y.label == "whole cost (USD)"


def test_another_screen_is_a_beginning_but_no_turn() -> None:
    told = stretches(studied("substitute-with-plate").turns[0])
    assert [stretch.turns for stretch in told] == [False] * 6 + [True]


@pytest.mark.parametrize("job", TURNING)
def test_the_words_of_a_break_even_give_the_price_now_and_every_turn(job: str) -> None:
    for found in studied(job).turns:
        drawn, currency = break_even_picture(found), found.problem.terms[found.offer.supplier].currency
        assert f"At the price now, {signed(found.offer.steps[0].minor, currency)}," in drawn.says
        assert text(studied(job).plan.cost) in drawn.says
        for stretch in stretches(found):
            if stretch.turns:
                assert signed(stretch.piece.low, currency) in drawn.says.rpartition("The choice turns at")[2]


@pytest.mark.parametrize("job", TURNING)
def test_a_frontier_draws_its_plans_and_falls_as_more_is_allowed(job: str) -> None:
    seen = studied(job)
    problem = seen.plan.problem
    for kind, plans in (("comebacks", seen.by_comebacks), ("cash", seen.by_cash)):
        drawn = frontier_picture(problem, kind, [(None, plan) for plan in plans])  # type: ignore[arg-type]
        step, *designs = drawn.series
        assert [(p.at, p.value) for p in step.points()] == sorted((plan.totals.of(kind), plan.cost) for plan in plans)
        assert all(one.value > after.value for one, after in itertools.pairwise(step.points()))
        assert sorted((p.at, p.value) for series in designs for p in series.points()) == sorted(
            (p.at, p.value) for p in step.points()
        )


def test_a_step_holds_until_the_next_point() -> None:
    step = Series("a", "a", "step", ((Point(0, 9), Point(4, 5)),))
    assert list(step.corners()) == [(Point(0, 9), Point(4, 9), Point(4, 5))]


@pytest.mark.parametrize("job", JOBS)
def test_a_trend_draws_each_routes_cost_at_each_date(job: str) -> None:
    moments = moments_of(job)
    drawn = trend_picture(moments)
    costs = {
        (route.design, m.day.toordinal()): route.plan.cost for m in moments for route in m.routes if route.plan.choice
    }
    points = {(series.name, point.at): point.value for series in drawn.series for point in series.points()}
    assert {key: cost for key, cost in points.items() if key in costs} == costs
    assert [mark.at for mark in drawn.marks] == [m.day.toordinal() for m in moments if m.turned]
    for moment in moments:
        if moment.turned:
            assert f"on {moment.day.isoformat()} from" in drawn.says


def test_a_route_without_a_plan_leaves_a_gap_in_its_line() -> None:
    moments = moments_of("substitute-with-plate")
    first = next(series for series in trend_picture(moments).series if series.name == "block-a")
    assert next(first.points()).at == date(2026, 3, 2).toordinal()  # on 1 March nobody sold one
    gone = [moments[1], moments[0], moments[1]]
    runs = next(series for series in trend_picture(gone).series if series.name == "block-a").runs
    assert [[point.at for point in run] for run in runs] == [
        [moments[1].day.toordinal(), moments[0].day.toordinal()],
        [moments[1].day.toordinal()],
    ]


def test_a_trend_of_no_date_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one date"):
        trend_picture([])


def test_an_amount_has_its_own_currencys_decimals() -> None:
    """ISO 4217: the yen has none, the Kuwaiti dinar three."""
    says = [Axis("price", "money", currency).says(12345) for currency in ("USD", "JPY", "KWD")]
    assert says == ["123.45", "12345", "12.345"]
    assert Axis("cost", "money", "USD").says(-5) == "-0.05"


@given(st.integers(-(10**9), 10**9), st.integers(0, 10**9), st.integers(2, 9))
def test_a_scale_of_values_is_round_and_covers_them(low: int, more: int, most: int) -> None:
    axis = Axis("cost", "money", "USD")
    run = (Point(0, low), Point(1, low + more))
    drawn = Picture("", Axis("n", "count"), axis, (Series("a", "a", "line", (run,)),), (), "", 0, 1)
    scale = y_scale(drawn, most)
    steps = {after - one for one, after in itertools.pairwise(scale.ticks)}
    assert len(steps) == 1 and str(steps.pop()).rstrip("0") in {"1", "2", "5"}
    assert scale.low <= low and low + more <= scale.high
    assert len(scale.ticks) <= max(most, 3)
    assert bool(cut(drawn)) == (not y_scale(drawn, 7).low <= 0 <= y_scale(drawn, 7).high)


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(1, 20_000), st.integers(2, 12))
def test_dates_on_a_scale_are_few_and_lie_on_it(first: date, days: int, most: int) -> None:
    low = first.toordinal()
    axis = Axis("day", "date")
    drawn = Picture("", axis, axis, (), (), "", low, low + days)
    scale = x_scale(drawn, most)
    assert 2 <= len(scale.ticks) <= most
    assert all(low <= tick <= low + days for tick in scale.ticks)
    assert sorted(set(scale.ticks)) == list(scale.ticks)


@given(st.lists(st.tuples(st.floats(0, 500), st.floats(1, 60)), min_size=1, max_size=8))
def test_names_are_moved_apart_and_keep_their_order(placed: list[tuple[float, float]]) -> None:
    wanted, widths = [at for at, _ in sorted(placed)], [width for _, width in sorted(placed)]
    middles = spread(wanted, widths, 0, 500)
    ends = [(middle - width / 2, middle + width / 2) for middle, width in zip(middles, widths, strict=True)]
    assert all(after[0] - one[1] > -1e-6 for one, after in itertools.pairwise(ends))
    assert ends[0][0] > -1e-6 and ends[-1][1] < 500 + 1e-6  # at most 480 are needed


def test_names_that_do_not_meet_stay_where_they_are() -> None:
    assert spread([50, 100, 200], [20, 30, 40], 0, 300) == [50, 100, 200]
    assert spread([100, 110], [20, 20], 0, 300) == [95, 115]  # each gives way by as much


@given(st.text(), st.integers(3, 30))
def test_a_broken_name_loses_no_letter(words: str, most: int) -> None:
    lines = broken(words, most)
    assert "".join("".join(line.split()) for line in lines) == "".join(words.split())
    assert all(len(line) <= most for line in lines)


def test_thirty_series_each_have_a_pair_of_dashes_and_sign_of_their_own() -> None:
    pairs = {(DASHES[n % len(DASHES)], SIGNS[n % len(SIGNS)]) for n in range(30)}
    assert len(pairs) == 30


@given(st.integers(0, 10**7), st.integers(1, 10**7), st.integers(2, 12))
def test_prices_on_a_scale_are_few_and_never_one_alone(low: int, more: int, most: int) -> None:
    axis = Axis("price", "money", "USD")
    scale = x_scale(Picture("", axis, axis, (), (), "", low, low + more), most)
    assert 2 <= len(scale.ticks) <= most + 1
    assert all(low <= tick <= low + more for tick in scale.ticks)
