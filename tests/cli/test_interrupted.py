"""A run that is cut short leaves no half workbook, and an old one untouched."""

from __future__ import annotations

import errno
import json
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from demofolder import command, environment

from cli.conftest import Counter, Said
from sourcing.cli import quote as quoting

OLD = b"the workbook of last week"
Run = Callable[..., Said]


def papers(folder: Path) -> set[str]:
    """What lies in a job's folder; the lock, which is hidden, aside."""
    return {path.name for path in folder.iterdir() if not path.name.startswith(".")}


# When each signal comes, as shares of a whole run.
MOMENTS = {"SIGKILL": (0.5, 0.75, 0.85, 0.9, 0.95), "SIGTERM": (0.85, 0.95), "SIGINT": (0.5, 0.85, 0.95)}


@pytest.fixture
def workbook(counter: Counter) -> Path:
    path = counter.folder / "reports" / "exact-block" / "quote.xlsx"
    path.parent.mkdir(parents=True)
    path.write_bytes(OLD)
    return path


def hear_ctrl_c() -> None:
    """A process started in the background may have been told to ignore Ctrl-C: take that back."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def is_old_or_whole(path: Path) -> bool:
    if path.read_bytes() == OLD:
        return True
    with zipfile.ZipFile(path) as book:
        return book.testzip() is None and "xl/workbook.xml" in book.namelist()


def test_a_run_to_the_end_replaces_the_old_workbook(counter: Counter, workbook: Path, process: Run) -> None:
    assert process("quote", counter.job).code == 0
    assert workbook.read_bytes() != OLD
    assert is_old_or_whole(workbook)
    assert papers(workbook.parent) >= {"quote.xlsx", "cores.xlsx", "bench-papers.xlsx", "revisions"}
    assert (workbook.parent / "revisions" / "found-before-1" / "quote.xlsx").read_bytes() == OLD


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("name", MOMENTS)
def test_a_killed_run_leaves_the_old_workbook_or_the_whole_new_one(name: str, counter: Counter, workbook: Path) -> None:
    started = time.monotonic()
    first = subprocess.run(command("quote", counter.job, "--out", "first"), env=environment(), capture_output=True)
    assert first.returncode == 0, first.stderr
    takes = time.monotonic() - started
    for share in MOMENTS[name]:
        shutil.rmtree(workbook.parent)
        workbook.parent.mkdir()
        workbook.write_bytes(OLD)
        with subprocess.Popen(
            command("quote", counter.job),
            env=environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            preexec_fn=hear_ctrl_c,
        ) as run:
            time.sleep(takes * share)
            run.send_signal(getattr(signal, name))
            _, said = run.communicate()
        assert is_old_or_whole(workbook), share
        for filed in (workbook.parent / "revisions").glob("[0-9]*"):
            told = json.loads((filed / "revision.json").read_text(encoding="utf-8"))
            assert all((filed / name).is_file() for name in told["papers"]) and len(told["papers"]) > 3, share
        # Until the command begins, Python itself answers to Ctrl-C, with a traceback through its imports.
        assert b"quote_jobs" not in said, (share, said)


@pytest.mark.parametrize(
    "trouble", [KeyboardInterrupt(), OSError(errno.ENOSPC, "No space left on device")], ids=["Ctrl-C", "full disk"]
)
def test_trouble_while_writing_leaves_the_old_workbook_alone(
    trouble: BaseException, counter: Counter, workbook: Path, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = Path.write_bytes

    def half(path: Path, content: bytes) -> int:
        honest(path, content[: len(content) // 2])
        raise trouble

    monkeypatch.setattr(Path, "write_bytes", half)
    said = sourcing("quote", counter.job)
    assert workbook.read_bytes() == OLD
    assert papers(workbook.parent) == {"quote.xlsx"}
    assert said.code == (130 if isinstance(trouble, KeyboardInterrupt) else 2)
    assert "Traceback" not in said.err


def test_ctrl_c_is_answered_in_words(counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*words: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(quoting, "decide", stopped)
    said = sourcing("quote", counter.job)
    assert said.code == 130
    assert "Stopped" in said.err


def test_trouble_while_putting_it_in_place_leaves_nothing_beside_it(
    counter: Counter, workbook: Path, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(path: Path, target: Path) -> Path:
        raise PermissionError(errno.EACCES, "Permission denied", str(target))

    monkeypatch.setattr(Path, "replace", locked)
    said = sourcing("quote", counter.job)
    assert said.code == 2
    assert "exact-block" in said.err and "Nothing was written there" in said.err
    assert workbook.read_bytes() == OLD
    assert papers(workbook.parent) == {"quote.xlsx"}
