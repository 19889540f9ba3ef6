"""Papers as revisions: nothing new writes nothing, a former set stays, no number twice, whole or not at all."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from sourcing.quote import placed, revisions
from sourcing.quote.revisions import Facts, Papers, file_papers

FACTS = Facts("2026-03-02", "100.00 USD", ("1 x a/1",), "2026-03-05")


def papers(**content: str) -> Callable[[int], Papers]:
    """Papers that print their revision's number."""
    return lambda number: {f"{name}.txt": f"{text}, revision {number}".encode() for name, text in content.items()}


def held(folder: Path) -> dict[str, bytes]:
    """What lies in a folder itself, hidden files aside."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file() and path.name[0] != "."}


def on_file(folder: Path, number: int) -> dict[str, bytes]:
    found = held(folder / "revisions" / str(number))
    del found["revision.json"]
    return found


def everything(folder: Path) -> dict[Path, tuple[bytes, int]]:
    return {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.rglob("*") if path.is_file()}


def test_an_unchanged_set_writes_nothing(tmp_path: Path) -> None:
    first = file_papers(tmp_path, FACTS, papers(quote="q", order="o"))
    before = everything(tmp_path)
    again = file_papers(tmp_path, FACTS, papers(quote="q", order="o"))
    assert (first.number, first.written, again.number, again.written) == (1, True, 1, False)
    assert everything(tmp_path) == before


def test_a_changed_set_is_the_next_revision_and_the_former_stays_as_it_was(tmp_path: Path) -> None:
    file_papers(tmp_path, FACTS, papers(quote="q", order="o"))
    former = everything(tmp_path / "revisions" / "1")
    new = replace(FACTS, total="90.00 USD", parts=("2 x b/2",), arrival="2026-03-09")
    second = file_papers(tmp_path, new, papers(quote="other"))
    assert second.number == 2
    assert everything(tmp_path / "revisions" / "1") == former
    assert held(tmp_path) == on_file(tmp_path, 2) == {"quote.txt": b"other, revision 2"}  # the old order is gone
    assert second.changes == (
        "the total was 100.00 USD and is 90.00 USD", "no longer bought: 1 x a/1", "now bought: 2 x b/2",
        "the last part was to be here 2026-03-05 and now is 2026-03-09",
    )  # fmt: skip
    assert json.loads((tmp_path / "revisions" / "2" / "revision.json").read_text())["changes"] == list(second.changes)


def test_where_only_words_changed_it_says_so(tmp_path: Path) -> None:
    file_papers(tmp_path, FACTS, papers(quote="q"))
    assert "only words or sheets changed" in file_papers(tmp_path, FACTS, papers(quote="r")).changes[0]


def test_a_customers_copy_goes_with_its_revision_and_makes_none(tmp_path: Path) -> None:
    file_papers(tmp_path, FACTS, papers(quote="q"))
    with_copy = file_papers(tmp_path, FACTS, papers(quote="q"), papers(copy="c"))
    assert (with_copy.number, with_copy.written) == (1, True)
    assert held(tmp_path)["copy.txt"] == b"c, revision 1"
    assert not file_papers(tmp_path, FACTS, papers(quote="q"), papers(copy="c")).written
    file_papers(tmp_path, FACTS, papers(quote="r"))
    assert "copy.txt" not in held(tmp_path)  # it would be the copy of an older price
    assert "copy.txt" in on_file(tmp_path, 1)


def test_a_paper_changed_by_hand_is_kept(tmp_path: Path) -> None:
    file_papers(tmp_path, FACTS, papers(quote="q"))
    (tmp_path / "quote.txt").write_bytes(b"by hand")
    same = file_papers(tmp_path, FACTS, papers(quote="q"))
    assert same.edited == ("quote.txt",) and held(tmp_path) == {"quote.txt": b"by hand"}
    new = file_papers(tmp_path, FACTS, papers(quote="r"))
    assert new.aside == ("quote.txt",)
    assert (tmp_path / "revisions" / "found-before-2" / "quote.txt").read_bytes() == b"by hand"
    assert held(tmp_path) == on_file(tmp_path, 2)


def test_what_others_put_beside_the_papers_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_bytes(b"mine")
    file_papers(tmp_path, FACTS, papers(quote="q"))
    file_papers(tmp_path, FACTS, papers(quote="r"))
    assert held(tmp_path)["note.txt"] == b"mine"


def test_a_number_is_not_given_again_where_a_revision_was_thrown_away(tmp_path: Path) -> None:
    import shutil

    file_papers(tmp_path, FACTS, papers(quote="q"))
    file_papers(tmp_path, FACTS, papers(quote="r"))
    shutil.rmtree(tmp_path / "revisions" / "2")
    assert file_papers(tmp_path, FACTS, papers(quote="s")).number == 3


class Cut(BaseException):
    """The end of a run, at some step."""


def cut_at(step: int, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """End the run before its n-th step that changes a file or a folder; how many there were."""
    seen = [0]

    def stepping(honest: Callable[..., object]) -> Callable[..., object]:
        def one(*words: object, **more: object) -> object:
            seen[0] += 1
            if seen[0] == step:
                raise Cut
            return honest(*words, **more)

        return one

    for name in ("write_bytes", "replace", "unlink", "mkdir"):
        monkeypatch.setattr(Path, name, stepping(getattr(Path, name)))
    # A run that is killed cleans nothing up.
    monkeypatch.setattr(revisions.shutil, "rmtree", lambda *words, **more: None)
    return seen


@pytest.mark.parametrize("by_hand", [False, True], ids=["as given out", "changed by hand"])
def test_a_run_cut_short_at_any_step_leaves_every_revision_whole_and_the_next_run_finishes(
    by_hand: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = papers(quote="q", order="o", cores="c"), papers(quote="new", bench="b")
    for step in range(1, 60):
        folder = tmp_path / str(step)
        file_papers(folder, FACTS, old)
        if by_hand:
            (folder / "order.txt").write_bytes(b"by hand")
        with monkeypatch.context() as patched:
            seen = cut_at(step, patched)
            with suppress(Cut):
                file_papers(folder, FACTS, new)
        assert on_file(folder, 1) == dict(old(1))
        assert (folder / "revisions" / "2").exists() is False or on_file(folder, 2) == dict(new(2))
        if (folder / "revisions" / "2").exists() is False:
            assert held(folder) == {**old(1), **({"order.txt": b"by hand"} if by_hand else {})}
        done = file_papers(folder, FACTS, new)
        assert done.number == 2 and on_file(folder, 2) == dict(new(2))
        if by_hand and done.edited:
            assert done.edited == ("order.txt",) and held(folder)["order.txt"] == b"by hand"
        else:
            assert held(folder) == dict(new(2))
        kept = [path for path in (folder / "revisions").rglob("order.txt") if path.read_bytes() == b"by hand"]
        assert not by_hand or kept or held(folder).get("order.txt") == b"by hand"
        assert not list((folder / "revisions").glob(".part-*"))
        if seen[0] < step:
            assert step > 8
            return
    raise AssertionError("it takes more steps than were tried")


def test_a_paper_that_another_program_holds_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file_papers(tmp_path, FACTS, papers(quote="q"))
    before = everything(tmp_path)
    honest = Path.open

    def locked(path: Path, mode: str = "r", *words: object, **more: object) -> object:
        if path.name == "quote.txt" and "+" in mode:
            raise PermissionError(13, "Permission denied", str(path))
        return honest(path, mode, *words, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", locked)
    with pytest.raises(PermissionError, match=r"quote\.txt"):
        file_papers(tmp_path, FACTS, papers(quote="r"))
    assert everything(tmp_path) == before


TOGETHER = """
import sys, time
from pathlib import Path
from sourcing.quote.revisions import Facts, file_papers
facts = Facts("2026-03-02", sys.argv[2], (), "now")
for n in range(6):
    filed = file_papers(Path(sys.argv[1]), facts, lambda number: {"q.txt": f"{sys.argv[2]} {n}, {number}".encode()})
    print(filed.number)
"""


def test_numbers_never_repeat_with_several_at_once(tmp_path: Path) -> None:
    root = str(Path(revisions.__file__).resolve().parents[2])
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", TOGETHER, str(tmp_path), name], stdout=subprocess.PIPE, text=True, cwd=root
        )
        for name in "abc"
    ]
    numbers = [int(line) for run in runs for line in run.communicate()[0].splitlines()]
    assert sorted(numbers) == list(range(1, 19))
    for number in range(1, 19):
        assert on_file(tmp_path, number)["q.txt"].endswith(f", {number}".encode())
    assert held(tmp_path) == on_file(tmp_path, 18)


def test_the_steps_that_are_cut_are_those_that_the_writing_takes() -> None:
    """The test above ends a run at calls of pathlib: nothing else here may change files."""
    for module in (revisions, placed):
        source = Path(str(module.__file__)).read_text(encoding="utf-8")
        assert not {"os.replace(", "os.rename(", "os.remove(", "shutil.move(", "write_text("} & set(source.split())
