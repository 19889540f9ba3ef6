"""Every contradiction that a book can hold, told in a whole sentence."""

from __future__ import annotations

import copy
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from sourcing.book.crosscheck import faults_of
from sourcing.book.family import Family, read_family
from sourcing.faults import BadInput

Table = dict[str, Any]
SOUND: Table = {
    "format": 1,
    "family": {"code": "demo", "name": "Demo"},
    "era": [
        {"code": "e1", "name": "first", "from": "2001-01", "to": "2005-06"},
        {"code": "e2", "name": "second", "from": "2005-07"},
    ],
    "fact": [{"code": "lever", "ask": "Which lever?", "values": ["gate", "tap"]}],
    "position": [
        {"code": "block", "name": "Block", "lead": True},
        {"code": "plate", "name": "Plate", "optional": True},
    ],
    "mark": [{"code": "holes", "position": "block", "ask": "How many?", "values": [7, 8]}],
    "design": [
        {"code": "block-1", "position": "block", "name": "Block one", "fitted": ["e1"], "marks": {"holes": 7}},
        {"code": "plate-1", "position": "plate", "name": "Plate one", "fitted": ["e1", "e2"]},
    ],
    "rule": [
        {"code": "r", "says": "why", "source": "invented", "when": {"lever": ["tap"]}, "need": {"plate": ["plate-1"]}}
    ],
    "task": [{"code": "t", "name": "work", "when": {"block": ["block-1"]}, "replacing": ["plate"]}],
}
CORRECT = "Correct the name, or declare what it stands for."
SPLIT = "Split the rule in two, or complete it."
RENAME = "Rename one of the two."
LEAD = "Mark the solenoid block's position as the lead, and no other."
MONTHS = "Correct `from` and `to`; a change inside a model year is told by model_years, not by overlapping months."


def faults(change: Callable[[Table], object]) -> list[str]:
    """The faults of the sound book after a change, as sentences."""
    book = copy.deepcopy(SOUND)
    change(book)
    return [str(fault) for fault in faults_of(Family.model_validate(book), "interchange.toml", "demo")]


def rule(**said: Any) -> Callable[[Table], object]:
    """The only rule replaced by another."""
    return lambda b: b.update(rule=[{"code": "r", "says": "why", "source": "invented", **said}])


CASES: dict[str, tuple[Callable[[Table], object], list[str]]] = {
    "a sound book": (lambda b: None, []),
    "another folder": (
        lambda b: b["family"].update(code="other"),
        ['interchange.toml, family code: expected the folder\'s name as the family\'s code; found "other" in the folder '
         '"demo". Rename the folder or the code.'],
    ),
    "a design twice": (
        lambda b: b["design"].append(copy.deepcopy(b["design"][0])),
        [f'interchange.toml, design: expected each code once; found "block-1" 2 times. {RENAME}'],
    ),
    "a fact and a position of one code": (
        lambda b: b["fact"].append({"code": "plate", "ask": "?", "values": ["x"]}),
        [f'interchange.toml, fact or position: expected each code once; found "plate" 2 times. {RENAME}'],
    ),
    "a code that means something else": (
        lambda b: b["fact"].append({"code": "era", "ask": "?", "values": ["x"]}),
        [f'interchange.toml, fact or position: expected a code that has no meaning yet; found "era". {RENAME}'],
    ),
    "a design called none": (
        lambda b: b["design"].append({"code": "none", "position": "plate", "name": "x"}),
        [f'interchange.toml, design: expected a code that has no meaning yet; found "none". {RENAME}'],
    ),
    "a value of a fact twice": (
        lambda b: b["fact"][0]["values"].append("tap"),
        [f'interchange.toml, fact (lever) values: expected each code once; found "tap" 2 times. {RENAME}'],
    ),
    "an era that ends before it begins": (
        lambda b: b["era"][0].update(to="2000-12"),
        ["interchange.toml, era (e1): expected an era that ends after it begins; found from 2001-01 to 2000-12. " + MONTHS],
    ),
    "eras that share a month": (
        lambda b: b["era"][0].update(to="2005-07"),
        ["interchange.toml, era (e2): expected eras that follow each other without sharing a month; found e1 to 2005-07, "
         "e2 from 2005-07. " + MONTHS],
    ),
    "an open era before another": (
        lambda b: b["era"][0].pop("to"),
        ["interchange.toml, era (e2): expected eras that follow each other without sharing a month; found e1 to open, "
         "e2 from 2005-07. " + MONTHS],
    ),
    "no lead": (
        lambda b: b["position"][0].update(lead=False),
        [f"interchange.toml, position: expected lead = true on exactly one position; found none. {LEAD}"],
    ),
    "two leads": (
        lambda b: b["position"][1].update(lead=True),
        [f"interchange.toml, position: expected lead = true on exactly one position; found block, plate. {LEAD}"],
    ),
    "a mark of no position": (
        lambda b: b["mark"].append({"code": "m", "position": "screen", "ask": "?"}),
        [f'interchange.toml, mark (m) position: expected a position; found "screen". {CORRECT}'],
    ),
    "a design of no position": (
        lambda b: b["design"].append({"code": "s", "position": "screen", "name": "x"}),
        [f'interchange.toml, design (s) position: expected a position; found "screen". {CORRECT}'],
    ),
    "a design of no era": (
        lambda b: b["design"][0].update(fitted=["e9"], retrofits=["e8"]),
        [f'interchange.toml, design (block-1) fitted: expected an era; found "e9". {CORRECT}',
         f'interchange.toml, design (block-1) retrofits: expected an era; found "e8". {CORRECT}'],
    ),
    "an unknown mark": (
        lambda b: b["design"][0]["marks"].update(colour="grey"),
        [f'interchange.toml, design (block-1) marks: expected a mark; found "colour". {CORRECT}'],
    ),
    "a mark of another position": (
        lambda b: b["design"][1].update(marks={"holes": 7}),
        ["interchange.toml, design (plate-1) marks: expected marks of plate; found holes is a mark of block. "
         "Find out which is right and correct the other."],
    ),
    "a value that the mark does not take": (
        lambda b: b["design"][0]["marks"].update(holes=9),
        ["interchange.toml, design (block-1) marks holes: expected one of 7, 8; found 9. Correct the value."],
    ),
    "a rule without any of the three": (
        rule(),
        [f"interchange.toml, rule (r): expected exactly one of need, never and allow; found none of them. {SPLIT}"],
    ),
    "a rule with two of the three": (
        rule(need={"plate": ["plate-1"]}, never={"block": ["block-1"]}),
        [f"interchange.toml, rule (r): expected exactly one of need, never and allow; found need and never. {SPLIT}"],
    ),
    "a need of nothing": (
        rule(need={}),
        [f"interchange.toml, rule (r) need: expected at least one position; found none. {SPLIT}"],
    ),
    "a never of a design that is not there": (
        rule(never={"block": ["block-9"]}),
        [f'interchange.toml, rule (r) never block: expected a design of block; found "block-9". {CORRECT}'],
    ),
    "none at a position that must be filled": (
        rule(need={"block": ["none"]}),
        [f'interchange.toml, rule (r) need block: expected a design of block; found "none". {CORRECT}'],
    ),
    "a star outside a row": (
        rule(need={"plate": ["*"]}),
        [f'interchange.toml, rule (r) need plate: expected a design of plate; found "*". {CORRECT}'],
    ),
    "a need of a fact": (
        rule(need={"lever": ["tap"]}),
        [f'interchange.toml, rule (r) need lever: expected a position; found "lever". {CORRECT}'],
    ),
    "an empty list": (
        rule(need={"plate": []}),
        [f"interchange.toml, rule (r) need plate: expected at least one value; found an empty list. {SPLIT}"],
    ),
    "a condition on what is nowhere declared": (
        rule(when={"colour": ["grey"]}, need={"plate": ["plate-1"]}),
        [f'interchange.toml, rule (r) when colour: expected era, vehicle_era, a fact or a position; found "colour". {CORRECT}'],
    ),
    "a condition on no era of the book": (
        rule(when={"era": ["e9"], "vehicle_era": ["e1", "e8"]}, need={"plate": ["plate-1"]}),
        [f'interchange.toml, rule (r) when era: expected an era; found "e9". {CORRECT}',
         f'interchange.toml, rule (r) when vehicle_era: expected an era; found "e8". {CORRECT}'],
    ),
    "a condition on a value that the fact does not take": (
        rule(when={"lever": ["knob"]}, need={"plate": ["plate-1"]}),
        [f'interchange.toml, rule (r) when lever: expected a value of lever; found "knob". {CORRECT}'],
    ),
    "an allow of no position of the book": (
        rule(allow={"positions": ["block", "screen"], "rows": [["block-1", "x"]]}),
        [f'interchange.toml, rule (r) allow positions: expected a position; found "screen". {CORRECT}'],
    ),
    "an allow with a position twice": (
        rule(allow={"positions": ["block", "block"], "rows": [["block-1", "block-1"]]}),
        [f"interchange.toml, rule (r) allow positions: expected each position once; found block, block. {SPLIT}"],
    ),
    "a row that is too short": (
        rule(allow={"positions": ["block", "plate"], "rows": [["*", "none"], ["block-1"]]}),
        [f"interchange.toml, rule (r) allow rows[2]: expected 2 designs, one for each position; found 1. {SPLIT}"],
    ),
    "a row with a design of another position": (
        rule(allow={"positions": ["block", "plate"], "rows": [["plate-1", "plate-1"]]}),
        [f'interchange.toml, rule (r) allow rows[1]: expected a design of block; found "plate-1". {CORRECT}'],
    ),
    "work on a condition that is nowhere declared": (
        lambda b: b["task"][0].update(when={"colour": ["grey"]}),
        [f'interchange.toml, task (t) when colour: expected era, vehicle_era, a fact or a position; found "colour". {CORRECT}'],
    ),
    "an inspection of no position": (
        lambda b: b.update(inspection=[{"code": "i", "position": "screen", "ask": "?", "accept": ["ok"], "source": "x"}]),
        [f'interchange.toml, inspection (i) position: expected a position; found "screen". {CORRECT}'],
    ),
    "an inspection whose range is turned round": (
        lambda b: b.update(inspection=[{"code": "i", "position": "block", "ask": "?", "unit": "ohm",
                                        "accept": [16, 11.5], "source": "x"}]),
        ["interchange.toml, inspection (i) accept: expected the lower end of the range first; found 16 to 11.5 ohm. "
         "Correct the value."],
    ),
    "work on no position": (
        lambda b: b["task"][0].update(replacing=["screen"]),
        [f'interchange.toml, task (t) replacing: expected a position; found "screen". {CORRECT}'],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_fault_of_the_book_is_told_in_a_whole_sentence(case: str) -> None:
    change, sentences = CASES[case]
    assert faults(change) == sentences


def test_all_faults_of_a_book_are_told_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "demo" / "interchange.toml"
    book.parent.mkdir()
    book.write_text(
        'format = 1\nfamily = {code = "demo", name = "Demo"}\n'
        'era = [{code = "e", name = "E", from = "2001-01"}, {code = "f", name = "F", from = "2002-01"}]\n'
        'position = [{code = "block", name = "Block"}]\n'
        'design = [{code = "b", position = "block", name = "B", fitted = ["g"]}]\n',
        encoding="utf-8",
    )
    with pytest.raises(BadInput) as raised:
        read_family(book)
    assert [fault.code for fault in raised.value.faults] == ["era-overlap", "no-lead", "unknown-name"]
    assert {fault.file for fault in raised.value.faults} == {"demo/interchange.toml"}


def test_a_weight_finer_than_a_gram_and_a_rate_above_one_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "demo" / "interchange.toml"
    book.parent.mkdir()
    book.write_text(
        'format = 1\nfamily = {code = "demo", name = "Demo"}\nera = [{code = "e", name = "E", from = "2001-13"}]\n'
        'position = [{code = "block", name = "Block", lead = true, colour = "grey"}]\n'
        'design = [{code = "b", position = "block", name = "B", weight_kg = 1.2345, comeback_rate = "5/4"}]\n',
        encoding="utf-8",
    )
    with pytest.raises(BadInput) as raised:
        read_family(book)
    told = {fault.place: (fault.code, fault.found) for fault in raised.value.faults}
    assert told == {
        "era[1] (e) from": ("bad-value", "'2001-13'"),
        "position[1] (block) colour": ("unknown-key", '"colour"'),
        "design[1] (b) weight_kg": ("bad-value", str(Decimal("1.2345"))),
        "design[1] (b) comeback_rate": ("bad-value", "'5/4'"),
    }
