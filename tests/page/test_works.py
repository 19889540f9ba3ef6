"""Long work in the background: one moment is one moment, one question one piece of work, a stop is heard."""

from __future__ import annotations

import time
from threading import Event

import pytest

from sourcing.faults import BadInput, JobOnFile, OurFault
from sourcing.page.reach import NotThere
from sourcing.page.works import MOST_KEPT, Work, Works


def ended(works: Works, key: str) -> Work:
    for _ in range(6000):
        work = works.of(key)
        if work.ended:
            return work
        time.sleep(0.01)
    raise AssertionError("it did not end")


def test_what_was_looked_at_does_not_end_while_a_page_is_made_of_it() -> None:
    works, go = Works(), Event()
    key = works.begin("Reading", "/sheet/{}".format, lambda work: go.wait(60)).key
    seen = works.of(key)
    go.set()
    assert ended(works, key).result is True
    assert (seen.ended, seen.result) == (False, None)


def test_a_stop_is_heard_by_the_work_itself() -> None:
    works = Works()

    def work(piece: Work) -> str:
        while piece.goes_on:
            piece.say("counting", 1, 2)
            piece.plans(200.0, 150.0)
            time.sleep(0.01)
        return "the best so far"

    key = works.begin("Planning", "/together/{}".format, work).key
    while not works.of(key).of:
        time.sleep(0.01)
    assert works.of(key).gap == 0.25
    works.of(key).stop()
    assert ended(works, key).result == "the best so far"


def test_one_question_is_one_piece_of_work_until_it_fails_or_is_stopped() -> None:
    works, asked = Works(), []
    for _ in range(2):
        ended(works, works.begin("x", str, lambda work: asked.append(1), "same").key)
    assert len(asked) == 1
    works.of("same").stop()
    ended(works, works.begin("x", str, lambda work: asked.append(1), "same").key)
    assert len(asked) == 2


@pytest.mark.parametrize(("error", "words"), [
    (BadInput([JobOnFile(file="a.toml")]), "a.toml"), (OSError(28, "No space left"), "No space left. Nothing more was written."),
    (OurFault("sums"), "This is a defect of the tool: sums"), (ValueError("x"), "This is a defect of the tool: ValueError: x"),
])  # fmt: skip
def test_whatever_goes_wrong_is_said(error: Exception, words: str) -> None:
    def work(piece: Work) -> None:
        raise error

    works = Works()
    assert words in ended(works, works.begin("x", str, work).key).faults[0]


def test_of_many_only_the_newest_are_kept() -> None:
    works = Works()
    keys = []
    for _ in range(MOST_KEPT + 5):
        keys.append(works.begin("x", str, lambda work: None).key)
        ended(works, keys[-1])
    with pytest.raises(NotThere):
        works.of(keys[0])
    assert works.of(keys[-1]).ended
