"""The wrong box came, or a number cannot be had: each way against the other, reckoned in the head."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from oracle.every import EveryPlan, TooMany
from oracle.random_shops import write_shop
from oracle.reading import read_problem
from program.tiny import sold, tiny

from sourcing.decision.arrived import crossings, missing, told_crossing, told_missing, with_arrived
from sourcing.decision.possibilities import answer_all
from sourcing.folder import Folder
from sourcing.plan import Status
from sourcing.problem import Problem
from sourcing.program.answer import answer

GROUND = {"lead_days": 1, "return_days": 14, "restock_share": "0.1",
          "freight": [{"mode": "ground", "days": 2}]}  # fmt: skip


def wrong_box(plate_2: int = 30, **terms: Any) -> Problem:
    """Block-1 was ordered for 180.00 and goes with the found plate-1; block-2 came in its box and needs plate-2."""
    return tiny(
        ["block", "plate"], ["block-1", "block-2", "plate-1", "plate-2"],
        [sold("s", "A", "block-1", 180), sold("t", "P", "plate-2", plate_2)],
        rules=[{"allow": {"positions": ["block", "plate"], "rows": [["block-1", "plate-1"], ["block-2", "plate-2"]]}}],
        suppliers={"s": {**GROUND, **terms}}, found={"plate": "plate-1"}, limits={"keep": ["plate"]},
        in_hand={"block": {"design": "block-2", "source": "received", "supplier": "s", "part_number": "A", "cost": 180}},
    )  # fmt: skip


def sentence(problem: Problem) -> str:
    (one,) = crossings(problem, answer)
    return told_crossing(one)


def test_the_wrong_box_is_kept_with_another_plate_or_sent_back() -> None:
    # Kept: 180.00 paid and 30.00 for the plate, over the counter. Sent back: 18.00 stays with s, 180.00 for the right one.
    assert sentence(wrong_box()) == (
        "block in hand (block-2): use it with plate-2: 210.00, today; send it back, 18.00 of its price stays with s, "
        "and go on without it: 198.00, in 3 working days. Using it is 12.00 dearer and 3 working days sooner"
    )
    assert answer(wrong_box()).cost == 198_00


def test_a_cheap_plate_makes_the_wrong_box_the_cheaper_way() -> None:
    assert sentence(wrong_box(17)).endswith("Using it is 1.00 cheaper and 3 working days sooner")
    assert answer(wrong_box(17)).cost == 197_00


def test_what_nobody_takes_back_is_compared_with_leaving_it_over() -> None:
    said = sentence(wrong_box(return_days=None))
    assert "without it: 360.00, in 3 working days. Using it is 150.00 cheaper" in said


def test_a_box_that_fits_nothing_is_said_so() -> None:
    problem = tiny(["block"], ["block-1", {"code": "block-2", "fitted": []}], [sold("s", "A", "block-1", 100)],
                   in_hand={"block": {"design": "block-2", "source": "received", "cost": 10}})  # fmt: skip
    assert sentence(problem) == "block in hand (block-2): no valid plan uses it; without it: 110.00, today"


def test_what_cannot_be_had_is_compared_with_what_could() -> None:
    sections: dict[str, Any] = {"suppliers": {"s": GROUND, "t": {}}}
    offers = [sold("s", "A", "block-1", 100), sold("t", "B", "block-1", 112)]

    def seal(*_: object) -> Problem:
        return tiny(["block"], ["block-1"], offers, **sections)

    problem = tiny(["block"], ["block-1"], offers, limits={"unavailable": ["s/A"]}, **sections)
    lost = missing(problem, seal, answer)
    assert lost is not None
    assert told_missing(lost) == (
        "s/A cannot be had: without it 112.00, today; with it 100.00, in 3 working days. "
        "Without it is 12.00 dearer and 3 working days sooner"
    )
    only = tiny(["block"], ["block-1"], offers[:1], limits={"unavailable": ["s/A"]}, **sections)
    assert answer(only).status == Status.IMPOSSIBLE
    lost = missing(only, seal, answer)
    assert lost is not None and "without it there is no plan; with it one comes to 100.00" in told_missing(lost)


def test_a_number_that_would_not_be_bought_anyway_changes_nothing() -> None:
    offers = [sold("s", "A", "block-1", 100), sold("t", "B", "block-1", 90)]
    problem = tiny(["block"], ["block-1"], offers, limits={"unavailable": ["s/A"]})
    lost = missing(problem, lambda *_: tiny(["block"], ["block-1"], offers), answer)
    assert lost is not None and "that changes nothing" in told_missing(lost)


def test_the_answer_carries_the_sentence_and_a_job_without_parts_in_hand_none() -> None:
    def seal(*_: object) -> Problem:
        raise AssertionError("nothing is missing")

    told = with_arrived(answer_all([wrong_box()], answer), seal, answer)
    assert any(note.startswith("block in hand (block-2): use it") for note in told.plan.problem.notes)
    plain = answer_all([tiny(["block"], ["block-1"], [sold("s", "A", "block-1", 9)])], answer)
    assert with_arrived(plain, seal, answer) is plain


def test_each_way_is_the_cheapest_of_its_kind_and_the_better_one_is_the_plan() -> None:
    for plate in (5, 17, 18, 19, 60):
        (one,) = crossings(wrong_box(plate), answer)
        assert min(one.using.cost, one.without.cost) == answer(wrong_box(plate)).cost


@pytest.mark.parametrize("seed", range(3000, 3024))
def test_every_plan_counted_gives_the_same_two_ways(seed: int, tmp_path: Path) -> None:
    """The least cost of all plans that use a part in hand, and of all that send it back or leave it, by brute force."""
    for job in write_shop(seed, tmp_path, edges=True):
        if "in_hand" not in tomllib.loads(job.read_text(encoding="utf-8")):
            continue
        read = read_problem(tmp_path / "catalogs", job)
        try:
            every = EveryPlan(read, read.job.worlds[0]).every()
        except TooMany:
            continue
        problem = Folder(tmp_path / "catalogs").problems(job)[0]
        for one in crossings(problem, lambda asked: answer(asked, ties=False)):
            fills = [plan.key[0] for plan in every if one.position in plan.filling.here]
            goes = [plan.key[0] for plan in every if one.position in plan.filling.sent_back]
            left = [plan.key[0] for plan in every if one.position not in plan.filling.here]
            assert (one.using.cost if one.using.choice else None) == min(fills, default=None), job.stem
            without = goes if one.goes_back else left
            assert (one.without.cost if one.without.choice else None) == min(without, default=None), job.stem
