"""What is on the bench: candidates, validity, what does not belong and what to look at, against trying everything."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from random import Random
from typing import Any

import pytest
from oracle import bench as oracle
from program.tiny import family_of

from book.books import ERAS, FACTS, marked_tables
from sourcing.book.bench import Bench, identify
from sourcing.book.family import Family
from sourcing.book.standing import Standing

BOOKS = range(0, 400, 20)  # twenty books a case
SHARE = Fraction(1, 10)


class Case:
    """A random book, a random unit of it, and what was seen on the bench."""

    def __init__(self, seed: int) -> None:
        random = Random(seed)
        self.tables = marked_tables(random)
        self.family: Family = family_of(self.tables)
        self.facts = {code: random.choice(values) for code, values in FACTS.items() if random.random() < 0.6}
        eras = random.sample(ERAS, random.choice([1, 1, 2]))
        vehicle: tuple[str | None, ...] | None = random.choice([None, ("e1",), ("e1", "e2"), (None,), ("e2", None)])
        self.standings = [Standing(era, vehicle or (era,), self.facts) for era in eras]
        self.found: dict[str, Any] = {}
        for position, held in self.family.holds.items():
            way = random.choice(["name", "marks", "marks", "nothing"])
            if way == "name" and held:
                self.found[position] = random.choice(held)
            elif way == "marks":
                marks = [m for m in self.tables["mark"] if m["position"] == position]
                seen = [m for m in marks if random.random() < 0.6]
                self.found[position] = {m["code"]: random.choice(m.get("values") or [1, 2]) for m in seen}
        self.bench: Bench = identify(self.family, self.standings, self.found, SHARE)

    def worlds(self, standing: Standing) -> list[oracle.World]:
        return list(oracle.worlds(self.tables, standing.era, standing.vehicle_eras, self.facts))

    def factory(self, standing: Standing) -> list[oracle.World]:
        """The facts of all books here are of the unit."""
        return list(oracle.worlds(self.tables, standing.era, [standing.era], self.facts))


def cases(first: int) -> list[Case]:
    return [Case(seed) for seed in range(first, first + 20)]


@pytest.mark.parametrize("first", BOOKS)
def test_candidates_contradict_no_mark_and_whole_combinations_are_counted(first: int) -> None:
    for case in cases(first):
        held = oracle.candidates(case.tables, case.found)
        assert {p: [one.design for one in ones] for p, ones in case.bench.candidates.items()} == held
        assert case.bench.combinations == len(list(oracle.everything(case.tables, held)))
        for position, ones in case.bench.candidates.items():
            seen = case.found.get(position)
            for one in ones:
                marks = seen if isinstance(seen, dict) and one.design != "none" else {}
                known = oracle.design(case.tables, one.design)["marks"] if marks else {}
                assert one.agrees == tuple(code for code, value in marks.items() if known.get(code) == value)
                assert one.contradicts == ()


@pytest.mark.parametrize("first", BOOKS)
def test_validity_is_told_as_trying_every_combination_in_every_world_tells_it(first: int) -> None:
    for case in cases(first):
        held = oracle.candidates(case.tables, case.found)
        answers = set()
        for standing, told in zip(case.standings, case.bench.eras, strict=True):
            tried = list(oracle.everything(case.tables, held))
            good = [[oracle.valid(case.tables, c, world) for world in case.worlds(standing)] for c in tried]
            here = {answer for worlds in good for answer in worlds}
            answers |= here or {False}
            assert told.valid is (False if not tried else here.pop() if len(here) == 1 else None)
            assert told.combinations == sum(any(worlds) for worlds in good)
        assert case.bench.valid is (answers.pop() if len(answers) == 1 else None)


@pytest.mark.parametrize("first", BOOKS)
def test_what_is_not_valid_has_reasons_that_hold(first: int) -> None:
    for case in cases(first):
        held = oracle.candidates(case.tables, case.found)
        for standing, told in zip(case.standings, case.bench.eras, strict=True):
            assert bool(told.reasons) == (told.valid is not True)
            if told.valid is not False or not all(held.values()):
                continue
            # A book of these rules and eras alone is not valid either: the reasons are enough.
            named = {reason.code for reason in told.reasons}
            fewer = {**case.tables, "rule": [rule for rule in case.tables["rule"] if rule["code"] in named]}
            tried = oracle.everything(fewer, held)
            assert not any(oracle.valid(fewer, c, world) for c in tried for world in case.worlds(standing))


@pytest.mark.parametrize("first", BOOKS)
def test_the_parts_that_do_not_belong_are_the_fewest_without_which_the_rest_does(first: int) -> None:
    for case in cases(first):
        for standing, told in zip(case.standings, case.bench.eras, strict=True):
            sets = oracle.smallest_misfits(case.tables, case.found, case.factory(standing))
            if sets:  # some unit of this era is valid at all
                ways = product(*told.misfits)
                assert {frozenset(m.position for part in way for m in part) for way in ways} == sets
            assert told.mixed == bool(told.misfits)
            assert all(misfit.reasons for group in told.misfits for way in group for misfit in way)


@pytest.mark.parametrize("first", range(0, 400, 100))
def test_chances_and_bits_are_those_of_the_prior_spelt_out(first: int) -> None:
    told = 0
    for case in (case for start in range(first, first + 100, 20) for case in cases(start)):
        factory = {standing.era: case.factory(standing) for standing in case.standings}
        prior = oracle.joint(case.tables, factory, SHARE)
        held = oracle.candidates(case.tables, case.found)
        if sum(prior.values()) != 1 or not all(held.values()) or any("equally likely" in n for n in case.bench.notes):
            continue  # an era without a factory combination, or no candidate: told by other tests
        told += 1
        after = oracle.posterior(case.tables, prior, case.found)
        for at, (position, ones) in enumerate(case.bench.candidates.items()):
            for one in ones:
                assert one.chance == sum(chance for key, chance in after.items() if key[at] == one.design)
            seen = case.found.get(position)
            for mark in case.tables["mark"]:
                if mark["position"] == position and not isinstance(seen, str) and mark["code"] not in (seen or {}):
                    bits = oracle.expected_bits(case.tables, after, mark)
                    look = next((look for look in case.bench.looks if look.mark.code == mark["code"]), None)
                    assert (look.bits if look else 0) == pytest.approx(bits, abs=1e-9)
    assert told > 5


# A hand-made book of three marks. Factory combinations of its one era: (a, x) and (b, y); c and z were fitted in none.
HAND = {
    "position": [{"code": "block", "name": "Block", "lead": True}, {"code": "plate", "name": "Plate"}],
    "mark": [
        {"code": "count", "position": "block", "ask": "How many solenoids?"},
        {"code": "plug", "position": "block", "ask": "Round or square?"},
        {"code": "tracks", "position": "plate", "ask": "How many tracks?", "needs": "block off"},
    ],
    "design": [
        {"code": "a", "position": "block", "name": "A", "fitted": ["e"], "marks": {"count": 7, "plug": "round"}},
        {"code": "b", "position": "block", "name": "B", "fitted": ["e"], "marks": {"count": 7, "plug": "square"}},
        {"code": "c", "position": "block", "name": "C", "marks": {"count": 8, "plug": "square"}},
        {"code": "x", "position": "plate", "name": "X", "fitted": ["e"], "marks": {"tracks": 5}},
        {"code": "y", "position": "plate", "name": "Y", "fitted": ["e"], "marks": {"tracks": 6}},
        {"code": "z", "position": "plate", "name": "Z", "marks": {"tracks": 6}},
    ],
    "rule": [{"code": "pairs", "says": "A takes X, B takes Y", "source": "invented",
              "allow": {"positions": ["block", "plate"], "rows": [["a", "x"], ["b", "y"]]}}],
}  # fmt: skip


def test_expected_information_of_three_marks_reckoned_by_hand() -> None:
    """With a share of 1/10 a design stays with 9/10 + 1/30 = 28/30, and is one of the two others with 1/30 each.

    Nothing seen: block a and b each (28 + 1)/60 = 29/60, c 2/60; plate x and y each 29/60, z 2/60.
    count: 7 with 58/60, 8 with 2/60:       -(58/60) log2(58/60) - (2/60) log2(2/60)   = 0.210842
    plug: round 29/60, square 31/60:        -(29/60) log2(29/60) - (31/60) log2(31/60) = 0.999198
    tracks: 5 with 29/60, 6 with 31/60:     the same                                   = 0.999198
    The three numbers were reckoned with bc.
    """
    bench = identify(family_of(HAND), [Standing("e", ("e",))], {}, SHARE)
    assert bench.combinations == 9
    assert bench.eras[0].combinations == 2
    assert {look.mark.code: round(look.bits, 6) for look in bench.looks} == {
        "count": 0.210842, "plug": 0.999198, "tracks": 0.999198}  # fmt: skip
    assert [look.mark.code for look in bench.looks] == ["plug", "tracks", "count"]  # of equals what needs nothing off


def test_a_mark_on_one_part_tells_of_the_part_beside_it() -> None:
    """Six tracks seen. From (a, x): y or z were swapped in, 2/30; from (b, y): y stayed or came, or z came, 28/30 + 1/30.

    So b's combination stands behind it with 29/31, and the block is b with (29/31)(28/30) + (2/31)(1/30) = 814/930,
    a with (2/31)(28/30) + (29/31)(1/30) = 85/930, c with 1/30 = 31/930. plug: square 845/930, round 85/930: 0.441119.
    """
    bench = identify(family_of(HAND), [Standing("e", ("e",))], {"plate": {"tracks": 6}}, SHARE)
    chances = {one.design: one.chance for one in bench.candidates["block"]}
    assert chances == {"a": Fraction(85, 930), "b": Fraction(814, 930), "c": Fraction(31, 930)}
    assert round(next(look.bits for look in bench.looks if look.mark.code == "plug"), 6) == 0.441119


def test_what_is_open_and_decides_is_asked_for_and_what_makes_no_difference_is_not() -> None:
    lever = {"code": "lever", "ask": "Which lever?", "values": ["gate", "tap"]}
    pan = {"code": "pan", "ask": "Which pan?", "values": ["flat", "deep"]}
    tap = {"code": "tap", "says": "A tap lever takes B", "source": "invented", "when": {"lever": ["tap"]},
           "need": {"block": ["b"]}}  # fmt: skip
    deep = {"code": "deep", "says": "A deep pan takes A or B", "source": "invented", "when": {"pan": ["deep"]},
            "need": {"block": ["a", "b"]}}  # fmt: skip
    family = family_of({**HAND, "fact": [lever, pan], "rule": [*HAND["rule"], tap, deep]})
    bench = identify(family, [Standing("e", ("e",))], {"block": "a", "plate": "x"}, SHARE)
    assert bench.valid is None
    assert [(ask.key, ask.outcomes) for ask in bench.asks] == [("lever", (("gate", True), ("tap", False)))]
    assert identify(family, [Standing("e", ("e",))], {"block": "b", "plate": "y"}, SHARE).asks == ()


def test_marks_that_no_design_has_name_the_nearest_ones() -> None:
    bench = identify(family_of(HAND), [Standing("e", ("e",))], {"block": {"count": 8, "plug": "round"}}, SHARE)
    assert bench.combinations == 0
    assert bench.valid is False
    assert [(one.design, one.contradicts) for one in bench.nearest["block"]] == [("a", ("count",)), ("c", ("plug",))]
    assert bench.eras[0].reasons[0].says == "no design of the book has the marks seen on the Block"


def test_too_many_open_facts_are_said_and_candidates_count_as_equally_likely() -> None:
    facts = [{"code": f"f{n}", "ask": "?", "values": ["yes", "no"]} for n in range(13)]
    rules = [{"code": f"r{n}", "says": "?", "source": "invented", "when": {f"f{n}": ["yes"]},
              "never": {"block": ["c"], "plate": ["z"]}} for n in range(13)]  # fmt: skip
    family = family_of({**HAND, "fact": facts, "rule": rules})
    bench = identify(family, [Standing("e", ("e",))], {}, SHARE)
    assert bench.notes == (
        "too many positions or open facts hang together for exact chances: candidates count as equally likely",)  # fmt: skip
    assert [one.chance for one in bench.candidates["block"]] == [None, None, None]
    assert {look.mark.code: round(look.bits, 6) for look in bench.looks}["plug"] == 0.918296  # 1/3 against 2/3
    assert bench.eras[0].combinations == 4 + 0  # c and z stand in no era
