"""`sourcing trend`: what a quote made on each date would have said."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from cli.conftest import Counter, Said

Run = Callable[..., Said]
# Every date in the name of a price sheet of the demo, from the first whole one on.
DATES = ["2026-03-01", "2026-03-02", "2026-03-09", "2026-03-16", "2026-03-20", "2026-06-15", "2026-07-01", "2026-07-06",
         "2026-08-31", "2026-09-01", "2026-09-14", "2026-09-21", "2026-10-01"]  # fmt: skip


def trend(sourcing: Run, job: str, code: int = 0) -> dict[str, Any]:
    said = sourcing("trend", f"scenarios/{job}.toml", "--json")
    assert (said.code, said.err) == (code, "")
    (line,) = said.out.splitlines()
    found: dict[str, Any] = json.loads(line)
    return found


def dated(counter: Counter, job: str, day: str) -> str:
    """A job moved to another day, its promise by as much; returns its name."""
    lines = []
    said = {}
    for line in (counter.folder / "scenarios" / f"{job}.toml").read_text(encoding="utf-8").splitlines():
        key, _, value = line.partition(" = ")
        if key in ("date", "need_by"):
            said[key] = date.fromisoformat(value)
            moved = date.fromisoformat(day) + (said[key] - said["date"])
            lines.append(f"{key} = {moved.isoformat()}")
        else:
            lines.append(line)
    (counter.folder / "scenarios" / "moved.toml").write_text("\n".join(lines), encoding="utf-8")
    return "scenarios/moved.toml"


@pytest.mark.parametrize("job", ["upgrade-pays", "needed-by-friday"])
def test_each_date_costs_what_a_quote_made_on_it_costs(job: str, counter: Counter, sourcing: Run) -> None:
    """The promise of needed-by-friday is three days off, whatever the day."""
    said = trend(sourcing, job)
    assert set(said) >= {"job", "minimise", "dates"}
    assert [moment["date"] for moment in said["dates"]] == DATES
    leading = None
    for moment in said["dates"]:
        quote = json.loads(sourcing("quote", dated(counter, job, moment["date"]), "--json").out)
        assert (moment["cost"] is None) == (quote["status"] == "impossible")
        assert moment["turned"] == (moment["design"] not in (None, leading) and leading is not None)
        if moment["cost"] is not None:
            assert moment["cost"] == quote["totals"][said["minimise"]], moment["date"]
            assert moment["design"] == quote["combination"]["block"]
            leading = moment["design"]
            costs = [float(route["cost"]) for route in moment["routes"] if route["cost"] is not None]
            assert costs == sorted(costs) and f"{costs[0]:.2f}" == moment["cost"]
    assert said["dates"][0]["cost"] is None or job != "needed-by-friday"


def test_the_choice_turns_between_april_and_october_and_what_moved_is_told(counter: Counter, sourcing: Run) -> None:
    said = trend(sourcing, "date-spring")
    at = {moment["date"]: moment for moment in said["dates"]}
    assert at["2026-03-20"]["design"] == "block-b"
    assert at["2026-10-01"]["design"] == "block-c"
    turns = [moment for moment in said["dates"] if moment["turned"]]
    assert turns and all(moment["moved"] for moment in turns)
    july = {move["part_number"]: move for move in at["2026-07-01"]["moved"]}
    assert (july["QB-1200"]["from"], july["QB-1200"]["to"]) == ("269.00", "281.00")
    assert (july["QB-1100"]["from"], july["QB-1100"]["to"]) == (None, "338.00"), "it was out of stock"
    assert {move["supplier"] for move in at["2026-07-01"]["moved"]} == {"quarry"}
    september = {move["part_number"]: move for move in at["2026-09-21"]["moved"]}
    assert (september["QB-1200"]["from"], september["QB-1200"]["to"]) == ("281.00", None), "sold out"
    assert said["dates"][0]["moved"] == []


def test_a_job_that_was_never_possible_is_code_3(counter: Counter, sourcing: Run) -> None:
    said = trend(sourcing, "nothing-crosses", code=3)
    assert {moment["cost"] for moment in said["dates"]} == {None}
    assert not any(moment["turned"] for moment in said["dates"])
    told = sourcing("trend", "scenarios/nothing-crosses.toml")
    assert (told.code, told.err) == (3, "")


def test_it_is_told_on_the_screen_and_writes_no_file(counter: Counter, process: Run) -> None:
    before = counter.files()
    said = process("trend", "scenarios/upgrade-pays.toml")
    assert (said.code, said.err) == (0, "")
    assert all(day in said.out for day in DATES)
    assert counter.files() == before


def test_without_a_price_sheet_there_is_no_trend_and_code_2(counter: Counter, sourcing: Run) -> None:
    shutil.rmtree(counter.catalogs / "price-sheets")
    said = sourcing("trend", counter.job)
    assert (said.code, said.out) == (2, "")
    assert "price-sheets" in said.err and "dated price sheet" in said.err


@pytest.mark.parametrize("words", [["not-there.toml"], []], ids=str)
def test_wrong_usage_is_code_2(words: list[str], counter: Counter, sourcing: Run) -> None:
    said = sourcing("trend", *words)
    assert (said.code, said.out) == (2, "")
    assert said.err
