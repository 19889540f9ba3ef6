"""The fewest marks that tell a design from others, beside every subset tried."""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest
from program.tiny import family_of

from sourcing.book.family import Family
from sourcing.book.telling import fewest_marks


def random_family(random: Random) -> Family:
    marks = [
        {"code": f"m{n}", "position": "p", "ask": "?", "needs": random.choice(["", "pan off"])}
        for n in range(random.randint(0, 7))
    ]
    designs = [
        {"code": f"d{n}", "position": "p", "name": f"D {n}", "fitted": ["e"],
         "marks": {mark["code"]: random.choice([1, 2, "red"]) for mark in marks if random.random() < 0.8}}
        for n in range(random.randint(1, 8))
    ]  # fmt: skip
    return family_of({"position": [{"code": "p", "name": "P", "lead": True}], "mark": marks, "design": designs})


def told_by(family: Family, design: str, other: str, mark: str) -> bool:
    one, two = family.design[design].marks, family.design[other].marks
    return mark in one and mark in two and one[mark] != two[mark]


@pytest.mark.parametrize("seed", range(300))
def test_no_smaller_set_of_marks_tells_as_much(seed: int) -> None:
    random = Random(seed)
    family = random_family(random)
    design = random.choice(family.designs).code
    others = [one.code for one in family.designs if one.code != design and random.random() < 0.8]
    found = fewest_marks(family, design, others)
    every = [mark.code for mark in family.marks]
    can = {other for other in others if any(told_by(family, design, other, mark) for mark in every)}
    assert set(found.untold) == set(others) - can

    def tells(marks: tuple[str, ...]) -> bool:
        return all(any(told_by(family, design, other, mark) for mark in marks) for other in can)

    def hard(marks: tuple[str, ...]) -> int:
        return sum(bool(family.mark[mark].needs) for mark in marks)

    assert tells(found.marks)
    whole = [chosen for size in range(len(every) + 1) for chosen in combinations(every, size) if tells(chosen)]
    assert (len(found.marks), hard(found.marks)) == min((len(chosen), hard(chosen)) for chosen in whole)


def test_a_mark_that_the_look_alike_is_not_known_by_does_not_tell_it() -> None:
    family = family_of({
        "position": [{"code": "p", "name": "P", "lead": True}], "mark": [{"code": "m", "position": "p", "ask": "?"}],
        "design": [{"code": "a", "position": "p", "name": "A", "fitted": ["e"], "marks": {"m": 7}},
                   {"code": "b", "position": "p", "name": "B", "fitted": ["e"]}]})  # fmt: skip
    assert fewest_marks(family, "a", ["b"]).untold == ("b",)


def test_many_marks_and_look_alikes_take_no_time() -> None:
    marks = [{"code": f"m{n}", "position": "p", "ask": "?"} for n in range(24)]
    random = Random(5)
    designs = [
        {"code": f"d{n}", "position": "p", "name": "D", "fitted": ["e"],
         "marks": {mark["code"]: random.randint(0, 1) if n else 0 for mark in marks if n == 0 or random.random() < 0.6}}
        for n in range(40)
    ]  # fmt: skip
    family = family_of({"position": [{"code": "p", "name": "P", "lead": True}], "mark": marks, "design": designs})
    found = fewest_marks(family, "d0", [f"d{n}" for n in range(1, 40)])
    assert 2 <= len(found.marks) <= 12
