"""The desk: each question is answered once for as long as nothing changes, however many ask."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from page.conftest import ShopFolder
from sourcing import counter
from sourcing.faults import BadInput
from sourcing.page.desk import Desk


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The jobs that were quoted, once for each time."""
    numbers: list[str] = []
    quoted = counter.quoted

    def counted(*words: object, **more: object) -> object:
        numbers.append(words[1][0].job.number)  # type: ignore[index]
        return quoted(*words, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(counter, "quoted", counted)
    return numbers


@pytest.fixture
def desk(shop: ShopFolder) -> Iterator[Desk]:
    made = Desk(shop.reach)
    yield made
    made.close()


def test_a_reload_asks_nothing_again(desk: Desk, solved: list[str]) -> None:
    first = desk.quoted(desk.file("exact-block"))
    assert desk.quoted(desk.file("exact-block")) is first
    assert solved == ["1042"]


def test_five_people_who_ask_at_once_are_answered_by_one_answer(desk: Desk, solved: list[str]) -> None:
    together = Barrier(5)

    def ask(_: int) -> int:
        together.wait()
        return desk.answered(desk.file("exact-block")).plan.cost

    with ThreadPoolExecutor(5) as people:
        assert set(people.map(ask, range(5))) == {54229}
    assert solved == ["1042"]


def test_several_jobs_at_once_are_answered_as_one_by_one(shop: ShopFolder, desk: Desk) -> None:
    names = desk.reach.job_names()
    alone = Desk(shop.reach, workers=1)
    with ThreadPoolExecutor(5) as people:
        costs = list(people.map(lambda name: desk.answered(desk.file(name)).plan, names))
    for name, plan in zip(names, costs, strict=True):
        expected = alone.answered(alone.file(name)).plan
        assert (plan.status, plan.choice) == (expected.status, expected.choice), name


def test_what_failed_is_asked_again(shop: ShopFolder, desk: Desk) -> None:
    path = shop.reach.catalogs / "larch5" / "parts.csv"
    whole = path.read_bytes()
    path.write_text("supplier\n", encoding="utf-8")
    with pytest.raises(BadInput):
        desk.answered(desk.file("exact-block"))
    path.write_bytes(whole)
    assert desk.answered(desk.file("exact-block")).plan.cost == 54229


def test_a_job_saved_again_is_answered_anew(shop: ShopFolder, desk: Desk, solved: list[str]) -> None:
    desk.answered(desk.file("exact-block"))
    path = shop.job("exact-block")
    path.write_text(
        path.read_text(encoding="utf-8").replace("base_hours = 13.5", "base_hours = 14.5"), encoding="utf-8"
    )
    desk.answered(desk.file("exact-block"))
    assert solved == ["1042", "1042"]
