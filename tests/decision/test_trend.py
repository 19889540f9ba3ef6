"""A trend is the job quoted anew on each day: what it costs, when the choice turned, and which prices moved."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from oracle import reading
from oracle.every import EveryPlan, TooMany, buyer
from oracle.random_shops import write_shop, write_toml
from program.tiny import sold, tiny

from decision.jobs import cost_only
from sourcing.decision.trend import Moment, Move, trend
from sourcing.folder import Folder
from sourcing.problem import Problem

SEEDS = range(700, 716)


def replayed(job: Path, days: list[date]) -> Iterator[tuple[date, Path]]:
    """A job's file moved to each day, a promise and the days on which parts came by as much."""
    for day in days:
        read = reading.load(job)
        head = read["job"]
        was = reading.day_of(head["date"])
        if "need_by" in head:
            head["need_by"] = reading.day_of(head["need_by"]) + (day - was)
        for hand in read.get("in_hand", {}).values():
            if "came" in hand:
                hand["came"] = reading.day_of(hand["came"]) + (day - was)
        head["date"] = day
        moved = job.with_name(f"{job.stem} on {day}.toml")
        write_toml(moved, read)
        yield day, moved


def first_prices(who: EveryPlan) -> dict[tuple[str, str], int]:
    """What can be bought on a job's day and be here in time, at its first price in the shop's cents."""
    return {
        (offer.supplier, offer.number): offer.steps[0][2]
        for offer in who.offers
        if (offer.stock is None or offer.stock >= offer.smallest())
        and any(who.problem.in_time(offer.lead_days + m.days) for m in who.problem.suppliers[offer.supplier].modes)
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_each_moment_is_the_job_on_its_day_by_brute_force(seed: int, tmp_path: Path) -> None:
    """Dates on which nothing can be bought yet included."""
    jobs = write_shop(seed, tmp_path, edges=True)
    shop = Folder(tmp_path / "catalogs")
    days = [shop.prices.days()[0] - timedelta(days=1), *shop.prices.days()]
    for job in jobs:
        files = list(replayed(job, days))
        moments = trend([(day, shop.problems(path)[0]) for day, path in files], cost_only)
        assert [moment.day for moment in moments] == days
        leading: str | None = None
        before: dict[tuple[str, str], int] | None = None
        for moment, (_, path) in zip(moments, files, strict=True):
            who = buyer(tmp_path / "catalogs", path)
            now = first_prices(who)
            keys = sorted(
                key for key in {*now, *(before or {})} if before is not None and before.get(key) != now.get(key)
            )
            assert list(moment.moved) == [Move(*key, (before or {}).get(key), now.get(key)) for key in keys]
            before = now
            check_routes(moment, who)
            design = moment.best.design if moment.best else None
            assert moment.turned == (design is not None and leading is not None and design != leading)
            leading = design or leading


def check_routes(moment: Moment, who: EveryPlan) -> None:
    try:
        plans = who.every()
    except TooMany:
        return
    least: dict[str, int] = {}
    for plan in plans:
        cost = plan.totals[who.minimise]
        least[who.lead(plan)] = min(cost, least.get(who.lead(plan), cost))
    assert {r.design: r.plan.cost for r in moment.routes if r.plan.choice is not None} == least
    assert (moment.best.plan.cost if moment.best else None) == min(least.values(), default=None)


def on_a_day(*rows: tuple[str, int]) -> Problem:
    return tiny(["block"], ["block-1", "block-2"], [sold("s", f"N-{fills}", fills, price) for fills, price in rows])


def test_a_choice_turns_against_the_last_date_with_a_plan() -> None:
    """Not where it is made for the first time, nor on the date on which there is none."""
    days = [date(2026, 3, 2) + timedelta(days=n) for n in range(6)]
    sheets = [
        on_a_day(),
        on_a_day(("block-1", 100), ("block-2", 120)),
        on_a_day(("block-1", 100), ("block-2", 110)),
        on_a_day(),
        on_a_day(("block-1", 100), ("block-2", 90)),
        on_a_day(("block-1", 80), ("block-2", 90)),
    ]
    moments = trend(zip(days, sheets, strict=True), cost_only)
    assert [moment.turned for moment in moments] == [False, False, False, False, True, True]
    assert [moment.best and moment.best.design for moment in moments] == [
        None,
        "block-1",
        "block-1",
        None,
        "block-2",
        "block-1",
    ]
    assert moments[2].moved == (Move("s", "N-block-2", 12000, 11000),)
    assert moments[3].moved == (Move("s", "N-block-1", 10000, None), Move("s", "N-block-2", 11000, None))
    assert moments[4].moved == (Move("s", "N-block-1", None, 10000), Move("s", "N-block-2", None, 9000))
    assert moments[5].moved == (Move("s", "N-block-1", 10000, 8000),)


def test_no_dates_make_no_moments() -> None:
    assert trend([], cost_only) == []
