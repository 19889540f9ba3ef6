"""A job sealed with its book and its offers: what can be bought, kept and sent back, and why the rest cannot."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from program.tiny import sold, tiny

from sourcing.book.rules import Setting
from sourcing.problem import Problem


def refusals(problem: Problem) -> list[str]:
    return [reason.says for reason in problem.refusals]


def blocks(**row: Any) -> dict[str, Any]:
    return sold("s", "A", "block-1", 10, **row)


def block(row: dict[str, Any] | None = None, **sections: Any) -> Problem:
    return tiny(["block"], ["block-1"], [row or blocks()], **sections)


REFUSED: dict[str, tuple[Problem, str]] = {
    "expired": (block(blocks(valid_until=date(2026, 3, 1))), "its price held until 2026-03-01"),
    "out of stock": (block(blocks(stock=0)), "it is out of stock"),
    "too little stock": (block(blocks(stock=1, pack=2)), "1 in stock, but the smallest quantity sold is 2"),
    "supplier not named": (block(limits={"suppliers": ["t"]}), "limits suppliers does not name its supplier"),
    "supplier avoided": (block(limits={"avoid_suppliers": ["s"]}), "limits avoid_suppliers names its supplier"),
    "condition": (block(limits={"conditions": ["reman", "used"]}), "it is new; limits conditions allows reman, used"),
    "no condition": (block(limits={"conditions": []}), "it is new; limits conditions allows nothing"),
    "warranty": (block(blocks(warranty_months=3), limits={"min_warranty_months": 12}),
                 "3 months of warranty; the job asks for 12"),
    "too late": (block(blocks(lead_days=2), job={"need_by": "2026-03-03"}),
                 "it would be here on 2026-03-04 at the soonest, after 2026-03-03"),
}  # fmt: skip


@pytest.mark.parametrize("why", REFUSED)
def test_a_part_that_cannot_be_bought_says_why(why: str) -> None:
    problem, says = REFUSED[why]
    assert refusals(problem) == [f"s A (block-1): {says}"]
    assert problem.lines == ()
    assert problem.fitting is None


def test_the_last_day_of_a_price_still_counts() -> None:
    assert len(block(blocks(valid_until=date(2026, 3, 2))).lines) == 1


def test_a_part_in_time_by_one_of_two_modes_is_bought_by_that_one() -> None:
    modes = {"s": {"freight": [{"mode": "ground", "days": 5}, {"mode": "air", "days": 1}]}}
    problem = block(suppliers=modes, job={"need_by": "2026-03-03"})
    assert [line.mode.mode for line in problem.lines] == ["air"]
    assert refusals(problem) == []


@pytest.mark.parametrize("first", ["ground", "air"])
def test_a_part_too_late_by_every_mode_names_the_earliest_day(first: str) -> None:
    days = {"ground": 5, "air": 2}
    modes = [{"mode": mode, "days": days[mode]} for mode in (first, *sorted(days.keys() - {first}))]
    problem = block(suppliers={"s": {"freight": modes}}, job={"need_by": "2026-03-03"})
    assert refusals(problem) == ["s A (block-1): it would be here on 2026-03-04 at the soonest, after 2026-03-03"]


# What blocks a job


def blocked(problem: Problem) -> list[str]:
    assert problem.fitting is None
    return [reason.says for reason in problem.blocked]


def two(offers: str = "block-1 block-2", rules: Any = (), **sections: Any) -> Problem:
    rows = [sold("s", design, design, 10) for design in offers.split()]
    return tiny(["block", "plate"], ["block-1", "block-2", "plate-1"], [*rows, sold("s", "P", "plate-1", 5)],
                rules=rules, **sections)  # fmt: skip


def test_a_required_design_that_is_excluded_too_blocks_the_job() -> None:
    problem = two(limits={"require": ["block-1"], "exclude": ["block-1"]})
    assert blocked(problem) == ["the job requires block-1, and also excludes it or requires another in its place"]


def test_two_required_designs_of_one_position_block_the_job() -> None:
    problem = two(limits={"require": ["block-1", "block-2"]})
    assert blocked(problem)[0] == "the job requires block-2, and also excludes it or requires another in its place"


def test_a_required_design_of_another_era_says_so() -> None:
    problem = tiny(["block"], [{"code": "block-1", "fitted": []}, "block-2"], [sold("s", "B", "block-2", 10)],
                   limits={"require": ["block-1"]})  # fmt: skip
    assert blocked(problem)[0] == "the job requires block-1"
    assert blocked(problem)[1].startswith("block-1 does not belong in a unit of E")


def test_excluding_every_design_blocks_the_job() -> None:
    problem = two(limits={"exclude": ["block-1", "block-2"]})
    assert blocked(problem) == ["the limits exclude every block that the unit could take"]


def test_rules_that_meet_block_the_job_and_are_named() -> None:
    problem = two(
        rules=[{"need": {"block": ["block-1"]}}, {"need": {"block": ["block-2"]}}, {"need": {"plate": ["plate-1"]}}]
    )
    assert blocked(problem) == ["no combination is valid in a unit of E", "reason 0", "reason 1"]


def test_what_is_for_sale_but_does_not_go_together_blocks_the_job() -> None:
    problem = two("block-2", rules=[{"when": {"plate": ["plate-1"]}, "need": {"block": ["block-1"]}}])
    assert blocked(problem) == [
        "what can be had or kept does not go together (block: block-2; plate: plate-1)",
        "reason 0",
    ]


def test_a_design_that_cannot_be_had_is_gone_from_what_the_unit_can_hold() -> None:
    assert two("block-2").domains == {"block": ("block-2",), "plate": ("plate-1",)}


def test_a_rule_that_can_no_longer_bite_is_gone_before_any_program_is_built() -> None:
    problem = two("block-2", rules=[{"when": {"block": ["block-1"]}, "need": {"plate": ["plate-1"]}}])
    assert problem.fitting is not None and problem.fitting.tables == ()


# Kept parts and cores


def found(**sections: Any) -> Problem:
    design = {"code": "block-1", "marks": {"holes": 7}}
    other = {"code": "block-2", "marks": {"holes": 7}}
    return tiny(
        [{"code": "block", "may_keep": sections.pop("may_keep", True)}], [design, other], [blocks()], **sections
    )


def test_a_kept_part_is_under_no_limit_of_what_is_bought() -> None:
    problem = found(found={"block": "block-1"}, limits={"keep": ["block"], "conditions": [], "min_warranty_months": 99})
    assert problem.keepable == {"block": "block-1"}
    assert problem.fitting is not None


KEPT: dict[str, tuple[dict[str, Any], str]] = {
    "nothing found": ({"limits": {"keep": ["block"]}}, "keep: no block was found that could be kept"),
    "by the book": ({"found": {"block": "block-1"}, "limits": {"keep": ["block"]}, "may_keep": False},
                    "keep: the found block never goes back in, by the book"),
    "two candidates": ({"found": {"block": {"holes": 7}}, "limits": {"keep": ["block"]}},
                       "keep: the found block can be block-1, block-2; a part that is kept must be known as exactly one"),
}  # fmt: skip


@pytest.mark.parametrize("why", KEPT)
def test_a_part_that_cannot_be_kept_is_passed_over_and_said(why: str) -> None:
    sections, says = KEPT[why]
    problem = found(**sections)
    assert problem.keepable == {}
    assert says in problem.notes


def test_a_part_that_never_goes_back_in_may_still_be_a_core() -> None:
    assert found(found={"block": "block-1"}, limits={"keep": ["block"]}, may_keep=False).cores == {"block": "block-1"}


def test_an_excluded_part_is_not_kept() -> None:
    problem = found(found={"block": "block-2"}, limits={"keep": ["block"], "exclude": ["block-2"]})
    assert (problem.keepable, problem.cores) == ({}, {"block": "block-2"})


def test_cores_are_every_found_part_or_those_that_are_named() -> None:
    assert found(found={"block": "block-1"}).cores == {"block": "block-1"}
    assert found(found={"block": "block-1"}, limits={"cores": []}).cores == {}
    nothing = found(limits={"cores": ["block"]})
    assert nothing.cores == {} and "cores: nothing was found at block" in nothing.notes
    unsure = found(found={"block": {"holes": 7}})
    assert unsure.cores == {}
    assert "the core at block can be block-1, block-2: identify it to get its core charge back" in unsure.notes


# Facts and works


def test_only_the_works_of_the_setting_are_carried_over() -> None:
    tasks = [{"hours": 1, "when": {"lever": ["tap"]}}, {"hours": 1, "when": {"era": ["e"], "vehicle_era": ["e"]}},
             {"hours": 1, "when": {"block": ["block-1"]}, "replacing": ["block"]}]  # fmt: skip
    facts = [{"code": "lever", "ask": "?", "values": ["gate", "tap"]}]
    made = tiny(
        ["block"], ["block-1"], [blocks()], tasks=tasks, facts=facts, setting=Setting("e", None, {"lever": "gate"})
    )
    assert [work.code for work in made.works] == ["t2"]
    (work,) = made.works
    assert work.due({"block": "block-1"}, ["block"]) and not work.due({"block": "block-1"}, [])


def test_holding_a_position_narrows_a_new_problem_and_leaves_the_old_one() -> None:
    problem = two()
    held = problem.holding("block", "block-2")
    assert held.domains["block"] == ("block-2",)
    assert problem.domains["block"] == ("block-1", "block-2")
    assert problem.holding("block", "block-9").fitting is None


def test_room_on_the_shelf_is_that_of_the_scarcest_design() -> None:
    problem = tiny(["block", "plate"], ["block-1", "plate-1"],
                   [sold("s", "K", "block-1 + plate-1 + plate-1", 10), sold("s", "B", "block-1", 9),
                    sold("s", "P", "plate-1", 9)],
                   wanted=[{"design": design, "pieces": 5, "worth": 1} for design in ("block-1", "plate-1")])  # fmt: skip
    assert {o.part.number.spelt: problem.shelf_room(o) for o in problem.offers} == {"K": 2, "B": 5, "P": 5}


# A unit that somebody mixed before: block 1 takes plate 1, block 2 plate 2, and body 1 takes block 1.
MIXED = [
    {"allow": {"positions": ["block", "plate"], "rows": [["block-1", "plate-1"], ["block-2", "plate-2"]]}},
    {"when": {"body": ["body-1"]}, "need": {"block": ["block-1"]}},
]


def mixed(found: dict[str, Any], **limits: Any) -> Problem:
    designs = ["block-1", "block-2", "plate-1", "plate-2", "body-1", "body-2"]
    offers = [sold("s", d, d, 10, core_charge=5) for d in designs]
    return tiny(["block", "plate", "body"], designs, offers, rules=MIXED, found=found, limits=limits)


def test_a_unit_mixed_before_is_named_with_the_part_that_does_not_belong_and_the_rule() -> None:
    problem = mixed({"block": "block-1", "plate": "plate-2", "body": "body-1"}, exclude=["body-2"],
                    keep=["block", "plate", "body"])  # fmt: skip
    assert problem.bench == (
        "mixed before: the found plate-2 cannot go back in, and its core counts as plate-2: reason 0 (r0)",
    )
    assert problem.notes[0] == problem.bench[0]
    assert dict(problem.keepable) == {"block": "block-1", "body": "body-1"}  # the plate cannot be kept ...
    assert problem.cores["plate"] == "plate-2"  # ... and goes back as what it is


def test_where_two_parts_do_not_belong_together_either_may_be_the_one() -> None:
    problem = mixed({"block": "block-1", "plate": "plate-2"})
    assert problem.bench == (
        "mixed before, one of these does not belong: the found block-1, its core counts as block-1: reason 0 (r0); "
        "or the found plate-2, its core counts as plate-2: reason 0 (r0)",
    )


def test_a_core_that_is_not_returned_is_not_promised() -> None:
    problem = mixed({"block": "block-1", "plate": "plate-2", "body": "body-1"}, cores=["block"], exclude=["body-2"])
    assert problem.bench == ("mixed before: the found plate-2 cannot go back in: reason 0 (r0)",)


def test_a_unit_whose_parts_belong_together_is_not_called_mixed() -> None:
    assert mixed({"block": "block-1", "plate": "plate-1", "body": "body-1"}).bench == ()
    assert mixed({}).bench == ()


def test_a_unit_that_only_does_not_suit_its_vehicle_is_not_called_mixed() -> None:
    """The lever is the vehicle's, and the unit comes out of a vehicle of another era."""
    rule = {"when": {"lever": ["tap"]}, "need": {"block": ["block-2"]}}
    lever = {"code": "lever", "ask": "?", "values": ["gate", "tap"], "of": "vehicle"}
    fits = [sold("s", "2", "block-2", 10)]

    def lever_of(vehicle_era: str | None) -> Problem:
        setting = Setting("e", vehicle_era, {"lever": "tap"})
        return tiny(["block"], ["block-1", "block-2"], fits, rules=[rule], facts=[lever], setting=setting,
                    found={"block": "block-1"})  # fmt: skip

    assert lever_of(None).bench == ()
    assert lever_of("e").bench != ()  # in a vehicle of its own era it was built for that lever


# Inspections: a block goes back in only where its winding reads 11.5 to 16 and it is tight.
WINDING = {"code": "winding", "position": "block", "ask": "How many ohms?", "unit": "ohm", "accept": [11.5, 16],
           "source": "note 1", "caution": "Battery off first."}  # fmt: skip
LEAK = {"code": "leak", "position": "block", "ask": "Is it tight?", "accept": ["tight", "weeps"], "source": "note 2"}


def inspected(keep: list[str] | None = None, **readings: Any) -> Problem:
    return tiny(["block", "plate"], ["block-1", "plate-1"], [sold("s", "1", "block-1", 10), sold("s", "2", "plate-1", 10)],
                inspections=[WINDING, LEAK], found={"block": "block-1", "plate": "plate-1"},
                limits={"keep": keep or ["block", "plate"]}, readings=readings)  # fmt: skip


@pytest.mark.parametrize("ohms", [11.5, 12, 16])
def test_a_part_that_passes_its_inspections_may_go_back_in(ohms: float) -> None:
    problem = inspected(winding=ohms, leak="Weeps")
    assert set(problem.keepable) == {"block", "plate"}  # the plate has none to pass
    assert problem.bench == ()


@pytest.mark.parametrize("ohms", [11.4, 16.1, 0])
def test_a_part_that_fails_one_does_not_go_back_in_and_the_note_says_what_it_reads(ohms: float) -> None:
    problem = inspected(winding=ohms, leak="tight")
    assert set(problem.keepable) == {"plate"}
    assert problem.bench == (f"keep: the found block does not go back in: it reads {ohms} ohm and passes at "
                             "11.5 to 16 ohm (winding, note 1)",)  # fmt: skip
    assert problem.cores["block"] == "block-1"  # it is still a core


def test_a_part_that_nobody_measured_does_not_go_back_in_and_the_note_asks() -> None:
    problem = inspected(winding=12)
    assert set(problem.keepable) == {"plate"}
    assert problem.bench == ("keep: the found block does not go back in: not measured: Is it tight? "
                             "It passes at tight or weeps (leak, note 2)",)  # fmt: skip
    (first, _) = inspected().bench
    assert first.endswith("(winding, note 1). Battery off first.")


def test_a_part_that_is_not_to_be_kept_needs_no_inspection() -> None:
    assert inspected(keep=["plate"]).bench == ()
