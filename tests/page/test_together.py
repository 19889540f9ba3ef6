"""Several open jobs bought together at the counter, with scripts off."""

from __future__ import annotations

import io
import json
import re
import sys
import time
from typing import Any

import openpyxl
import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from page.test_sheets import settled
from sourcing.cli import main

JOBS = ["backordered", "customers-block", "exact-block"]  # all of 2026-03-24


def planned(person: Person, jobs: list[str]) -> tuple[str, str]:
    """The address of a plan, and its page once it is there."""
    said = person.sends("/together", {**person.form("/together"), "job": jobs})
    assert said.status_code == 200, words_of(said.text)
    home = said.url.path
    return home, settled(person, home)


def test_the_page_says_of_jobs_together_what_the_command_prints(
    shop: ShopFolder, person: Person, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home, seen = planned(person, JOBS)
    monkeypatch.setattr(sys, "argv", ["sourcing", "buy", *(str(shop.job(job)) for job in JOBS), "--json"])
    with pytest.raises(SystemExit):
        main()
    record: dict[str, Any] = json.loads(capsys.readouterr().out)
    words = words_of(seen)
    assert f"{record['totals']['whole']} USD" in words and record["saved"] in words and record["alone"] in words
    for job in record["jobs"]:
        assert f"Job {job['job']} {job['alone']} {job['share']}" in words
    for bought in record["purchases"]:
        assert bought["part_number"] in words
    assert record["shared_by"] in words and "Proven" in words
    assert person.sees(home) == seen  # a reload loses nothing


def test_two_people_who_ask_for_the_same_jobs_get_one_plan(shop: ShopFolder) -> None:
    first = shop.opens()
    home, _ = planned(first, JOBS)
    assert planned(Person(first.client), JOBS)[0] == home
    path = shop.job("exact-block")
    path.write_text(path.read_text(encoding="utf-8") + "\n# changed\n", encoding="utf-8")
    assert planned(first, JOBS)[0] != home


def test_the_papers_of_a_pool_are_made_and_handed_over(shop: ShopFolder, person: Person) -> None:
    home, seen = planned(person, JOBS)
    made = person.sends(f"{home}/papers", fields_of(seen, f"{home}/papers"))
    assert "The papers were made." in made.text
    paper = person.client.get(f"{home}/papers/pool.xlsx")
    assert openpyxl.load_workbook(io.BytesIO(paper.content)).sheetnames
    assert (shop.folder / "reports" / "pool-2026-03-24" / "pool.xlsx").read_bytes() == paper.content
    again = person.sends(f"{home}/papers", fields_of(person.sees(home), f"{home}/papers"))
    assert "nothing was written" in again.text
    for name in ("..%2F..%2Fcatalogs%2Fshop.toml", "none.xlsx", "revisions"):
        assert person.client.get(f"{home}/papers/{name}").status_code == 404


def test_jobs_of_different_dates_are_told_that_they_cannot_stand_in_one_order(person: Person) -> None:
    _, seen = planned(person, ["exact-block", "substitute-with-plate"])
    assert "There is no plan" in seen and "2026-04-13" in seen


def test_nothing_chosen_is_said_and_no_name_leads_elsewhere(person: Person) -> None:
    form = person.form("/together")
    assert person.sends("/together", form).status_code == 422
    assert person.sends("/together", form, job=["../catalogs/shop", "nowhere"]).status_code == 422
    person.sees("/together/nothing", 404)


def test_a_plan_that_is_stopped_is_the_best_so_far_and_says_so(person: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    from sourcing.program import together as program

    honest = program.answer_together

    def slow(pool: Any, watch: Any) -> Any:
        for _ in range(1200):
            watch.told(90_000.0, 80_000.0)
            if watch.stop():
                break
            time.sleep(0.05)
        return honest(pool, watch)

    monkeypatch.setattr(program, "answer_together", slow)
    said = person.sends("/together", {**person.form("/together"), "job": JOBS})
    home = said.url.path
    for _ in range(1200):
        going = person.sees(home)
        if "900.00" in going:
            break
        time.sleep(0.05)
    assert "900.00" in going and "800.00" in going and "11.11 percent" in going
    stop = re.search(r'action="(/works/[^"]+/stop)"', going)
    assert stop
    part = person.sees(stop[1].replace("/stop", "/progress"))
    assert "<html" not in part and "hx-get" in part
    person.sends(stop[1], fields_of(going, stop[1]))
    words = words_of(settled(person, home))
    assert (
        "Stopped: this is the best that was found until then." in words
        or "not proven" in words.casefold()
        or "Proven" in words
    )
    ended = person.client.get(stop[1].replace("/stop", "/progress"))
    assert ended.headers["hx-refresh"] == "true"


def test_the_solver_is_stopped_by_a_wish_and_not_only_by_a_key() -> None:
    """A long program, stopped after its first plan: what comes back is a plan that says it was stopped."""
    import random

    import pulp

    from sourcing.program.solver import Effort, Outcome, solve

    rng = random.Random(7)
    model = pulp.LpProblem("hard", pulp.LpMinimize)
    x = [pulp.LpVariable(f"x{n}", 0, 1, pulp.LpInteger) for n in range(120)]
    model += pulp.lpSum(rng.randint(50, 99) * one for one in x)
    for _ in range(60):
        model += pulp.lpSum(rng.randint(0, 99) * one for one in x) >= 2000
    heard: list[float | None] = []
    solved = solve(
        model, Effort(60.0, told=lambda best, _: heard.append(best), stop=lambda: any(b is not None for b in heard))
    )
    assert solved.interrupted and solved.outcome == Outcome.STOPPED and solved.values is not None
