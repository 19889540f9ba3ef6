"""A copy of the demo to work in, and the command run there as people run it: for tests of the command line, the page, README."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def demo_in(folder: Path) -> Path:
    """A copy of the demo's catalogs and jobs."""
    for name in ("catalogs", "scenarios"):
        shutil.copytree(ROOT / name, folder / name)
    return folder


def command(*words: str | Path) -> list[str]:
    """The command in a process of its own."""
    return [sys.executable, "-m", "sourcing", *map(str, words)]


def environment(cache: Path | None = None) -> dict[str, str]:
    """This environment, with the package under test on the path, and where parsed sheets are kept."""
    paths = [str(ROOT), *os.environ.get("PYTHONPATH", "").split(os.pathsep)]
    named = {} if cache is None else {"SOURCING_CACHE": str(cache)}
    return {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in paths if path), **named}


@pytest.fixture(scope="session")
def kept_sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Parsed sheets, shared by the tests of a worker."""
    return tmp_path_factory.mktemp("parsed")


@pytest.fixture(autouse=True)
def own_cache(kept_sheets: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads what the person at this machine has parsed."""
    monkeypatch.setenv("SOURCING_CACHE", str(kept_sheets))


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh copy of the demo; the test stands in it."""
    monkeypatch.chdir(demo_in(tmp_path))
    return tmp_path
