"""Questions worked on in processes of their own: the same answers, the same faults, and nobody left behind."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import psutil
import pytest

from page.conftest import ROOT, ShopFolder
from page.served import demo_in, served
from page.test_same_answers import JOBS, timeless
from sourcing.decision.possibilities import Answered
from sourcing.faults import BadInput
from sourcing.page.app import create_app
from sourcing.page.desk import Desk
from sourcing.page.guard import Rules
from sourcing.page.reach import Reach
from sourcing.quote import told
from sourcing.quote.comparison import study_record
from sourcing.quote.record import record


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, kept_sheets: Path) -> Iterator[tuple[Desk, Desk]]:
    """A desk with processes, and one without, over the demo."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("SOURCING_CACHE", str(kept_sheets))
        patched.chdir(ROOT)
        reach = Reach(ROOT / "catalogs", ROOT / "scenarios", tmp_path_factory.mktemp("reports"))
        desks = Desk(reach, processes=2), Desk(reach)
        yield desks
        for desk in desks:
            desk.close()


def children() -> list[psutil.Process]:
    """The processes of ours that are there; one of another test may end while they are looked up."""
    found = []
    for one in multiprocessing.active_children():
        with suppress(psutil.NoSuchProcess):
            found.append(psutil.Process(one.pid))
    return found


@pytest.mark.parametrize("job", JOBS)
def test_a_process_answers_as_we_would(job: str, kept: tuple[Desk, Desk]) -> None:
    theirs, ours = (desk.quoted(desk.file(job)) for desk in kept)
    assert timeless(record(theirs.answered)) == timeless(record(ours.answered))
    assert (theirs.decided is None, theirs.freed is None) == (ours.decided is None, ours.freed is None)
    if theirs.decided and ours.decided:
        assert list(told.why_told(theirs.decided)) == list(told.why_told(ours.decided))
    if theirs.freed and ours.freed:
        assert list(told.easings_told(theirs.freed)) == list(told.easings_told(ours.freed))
    assert kept[0].benched(kept[0].file(job)) == kept[1].benched(kept[1].file(job))


@pytest.mark.parametrize("job", ["substitute-with-plate", "nothing-crosses", "read-the-label-first"])
def test_a_process_compares_as_we_would(job: str, kept: tuple[Desk, Desk]) -> None:
    def object_of(desk: Desk) -> Any:
        study = desk.studied(desk.file(job))
        return record(study) if isinstance(study, Answered) else study_record(study)

    assert timeless(object_of(kept[0])) == timeless(object_of(kept[1]))


def test_a_fault_that_a_process_finds_is_told_whole(shop: ShopFolder) -> None:
    path = shop.reach.catalogs / "larch5" / "parts.csv"
    path.write_text("supplier\n", encoding="utf-8")
    desks = Desk(shop.reach, processes=1), Desk(shop.reach)
    found = []
    for desk in desks:
        with pytest.raises(BadInput) as told_of:
            desk.answered(desk.file("exact-block"))
        found.append((told_of.value.faults, str(told_of.value)))
        desk.close()
    assert found[0] == found[1] and found[0][0]


def test_a_process_that_is_killed_is_followed_by_another(shop: ShopFolder) -> None:
    desk = Desk(shop.reach, processes=1)
    assert desk.answered(desk.file("exact-block")).plan.cost == 54229
    for child in children():
        child.kill()
        child.wait(30)
    assert desk.answered(desk.file("core-lost")).plan.cost
    desk.close()


def test_a_closed_desk_leaves_no_process_behind(shop: ShopFolder) -> None:
    before = {child.pid for child in children()}
    with_page = create_app(shop.reach, Rules(), Desk(shop.reach, processes=2)).state.desk
    with_page.warm()
    with_page.answered(with_page.file("exact-block"))
    begun = [child for child in children() if child.pid not in before]
    assert len(begun) == 2
    with_page.close()
    assert not psutil.wait_procs(begun, 30)[1]


def test_a_page_that_is_killed_leaves_no_process_behind(tmp_path: Path, kept_sheets: Path) -> None:
    with served(demo_in(tmp_path), kept_sheets) as running:
        running.says("/jobs/exact-block/answer")
        begun = psutil.Process(running.process.pid).children(recursive=True)
        assert len(begun) >= 2
    started = time.perf_counter()
    assert not psutil.wait_procs(begun, 30)[1]
    assert time.perf_counter() - started < 30
