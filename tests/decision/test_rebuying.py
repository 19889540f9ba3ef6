"""Which open jobs would be bought differently after prices changed, checked by quoting each side by itself."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from oracle.random_shops import write_shop

from sourcing.decision.rebuying import rebought, supplied
from sourcing.folder import Folder
from sourcing.newsheet import moved
from sourcing.problem import Problem
from sourcing.program.answer import answer

ROOT = Path(__file__).resolve().parents[2]


def test_the_same_record_leaves_every_job_untouched() -> None:
    one, other = Folder(ROOT / "catalogs"), Folder(ROOT / "catalogs")
    path = ROOT / "scenarios" / "exact-block.toml"
    item = rebought(one.read_job(path), one.problems(path), other.problems(path), answer)
    assert (item.outcome, item.before, item.after) == ("untouched", None, None)


@pytest.mark.parametrize("seed", range(700, 708))
def test_a_dearer_part_turns_a_job_exactly_where_its_two_quotes_differ(seed: int, tmp_path: Path) -> None:
    """Each offer that the plan buys is made dearer by half, and dearer by a cent: the outcome is what two quotes say."""
    jobs = write_shop(seed, tmp_path)
    folder = Folder(tmp_path / "catalogs")
    looked = 0
    for path in jobs[:3]:
        before = folder.problems(path)[:1]
        plan = answer(before[0])
        if plan.choice is None or not plan.choice.purchases:
            continue
        for purchase in plan.choice.purchases[:2]:
            offer = purchase.line.offer
            for more in (1, offer.steps[0].minor // 2 + 1):
                after: list[Problem] = [before[0].priced(offer.id, offer.steps[0].minor + more)]
                item = rebought(folder.read_job(path), before, after, answer)
                now = answer(after[0])
                assert item.after is not None and now.choice is not None
                same = (now.choice.combination, now.choice.kept, supplied(now)) == (
                    plan.choice.combination, plan.choice.kept, supplied(plan))  # fmt: skip
                if not same:
                    assert item.outcome == "differs"
                elif now.cost != plan.cost:
                    assert item.outcome in ("repriced", "differs")  # it may differ in quantities or freight alone
                looked += 1
    if not looked:
        pytest.skip("no job of this shop buys anything")


def test_a_job_without_a_quote_before_is_told_as_different() -> None:
    folder = Folder(ROOT / "catalogs")
    path = ROOT / "scenarios" / "exact-block.toml"
    item = rebought(folder.read_job(path), [], folder.problems(path), answer)
    assert item.outcome == "differs" and item.before is None and item.after is not None


def test_an_open_job_is_moved_to_the_sheets_day_with_its_promise_and_a_later_one_stays() -> None:
    folder = Folder(ROOT / "catalogs")
    job = folder.read_job(ROOT / "scenarios" / "needed-by-friday.toml")
    promise = job.job.need_by
    assert promise is not None
    later = moved(job, date(2026, 9, 1))
    assert later.job.date == date(2026, 9, 1)
    assert later.job.need_by is not None and later.job.need_by - later.job.date == promise - job.job.date
    assert moved(job, date(2026, 1, 1)) is job
