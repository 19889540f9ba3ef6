"""The receiving card's marks, beside every look-alike tried in every setting that a job leaves open."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from book.books import valid

from decision.jobs import cost_only, possible_problems
from sourcing.book.family import NONE
from sourcing.decision.receiving import receiving
from sourcing.folder import Folder
from sourcing.plan import Plan
from sourcing.settings import settings_of

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("seed", range(12))
def test_the_card_tells_each_part_from_all_that_would_break_the_plan_and_from_no_other(
    seed: int, tmp_path: Path
) -> None:
    looked = 0
    for problem in possible_problems(seed, tmp_path):
        plan = cost_only(problem)
        family, settings = problem.family, settings_of(problem.job, problem.family, "")
        assert plan.choice is not None
        if not all(valid(family, setting, plan.choice.combination) for setting in settings):
            continue  # another of the job's settings has another plan: no quote is written
        for one in receiving(plan):
            looked += 1
            home = family.design[one.design].position
            others = [code for code in family.holds[home] if code not in (NONE, one.design)]
            filled = [
                place for place, offer in plan.choice.fills.items()
                if str(problem.offer[offer].part.number) == one.number and plan.choice.combination[place] == one.design
                and problem.terms[problem.offer[offer].supplier].name == one.supplier
            ]  # fmt: skip
            breaking = [
                other for other in others
                if not filled or not all(
                    valid(family, setting, {**plan.choice.combination, place: other})
                    for setting in settings for place in filled
                )
            ]  # fmt: skip
            assert list(one.breaking) == breaking
            assert sorted((*one.breaking, *one.fitting)) == sorted(others)
            check_looks(plan, one.design, breaking, [look.mark.code for look in one.looks], one.untold)
            for look in one.looks:
                assert str(family.design[one.design].marks[look.mark.code]) == look.right
                for reading, designs in look.wrong:
                    assert all(str(family.design[other].marks[look.mark.code]) == reading for other in designs)
    assert looked


def check_looks(plan: Plan, design: str, breaking: list[str], marks: list[str], untold: tuple[str, ...]) -> None:
    """The marks tell what any mark can tell, and no smaller set does."""
    family = plan.problem.family

    def told(chosen: tuple[str, ...] | list[str]) -> set[str]:
        mine = family.design[design].marks
        return {
            other for other in breaking for mark in chosen
            if mark in mine and mark in family.design[other].marks and family.design[other].marks[mark] != mine[mark]
        }  # fmt: skip

    every = [mark.code for mark in family.marks]
    assert told(every) == told(marks) == set(breaking) - set(untold)
    assert not any(told(fewer) == told(every) for size in range(len(marks)) for fewer in combinations(every, size))


def test_a_wrong_number_of_solenoids_says_stop_and_a_plate_that_fits_as_well_does_not() -> None:
    problem = Folder(ROOT / "catalogs").problems(ROOT / "scenarios" / "substitute-with-plate.toml")[0]
    told = {one.design: one for one in receiving(cost_only(problem))}
    assert [look.mark.code for look in told["block-b"].looks] == ["cap_colour"]
    assert dict(told["block-b"].looks[0].wrong) == {
        "black": ("block-a",), "grey": ("block-c",), "blue": ("block-d",), "green": ("block-e",)}  # fmt: skip
    assert told["plate-2"].fitting == ("plate-3",)  # block B takes either plate, the gate lever needs no tap contact
    assert [(look.mark.code, look.right) for look in told["plate-2"].looks] == [("tracks", "6")]
