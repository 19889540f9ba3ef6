"""The command line on copies of the demo, in a process of its own and in this one."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from sourcing.cli import main

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Said:
    """What a run said: its exit code, standard output and standard error."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class Counter:
    """A folder in which somebody works: the demo's catalogs and jobs, and nothing written yet."""

    folder: Path

    @property
    def catalogs(self) -> Path:
        return self.folder / "catalogs"

    @property
    def book(self) -> Path:
        return self.catalogs / "larch5" / "interchange.toml"

    @property
    def parts(self) -> Path:
        return self.catalogs / "larch5" / "parts.csv"

    @property
    def job(self) -> Path:
        return self.folder / "scenarios" / "exact-block.toml"

    def change(self, path: Path, old: str, new: str) -> None:
        """Replace the first place in a text file where `old` stands."""
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    def add(self, path: Path, text: str) -> None:
        with path.open("a", encoding="utf-8") as file:
            file.write(text)

    def files(self) -> set[str]:
        return {path.relative_to(self.folder).as_posix() for path in self.folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="session")
def kept_sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Parsed sheets, shared by the tests of a worker."""
    return tmp_path_factory.mktemp("parsed")


@pytest.fixture(autouse=True)
def _own_cache(kept_sheets: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCING_CACHE", str(kept_sheets))


@pytest.fixture
def counter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Counter:
    """A fresh copy of the demo; the tests stand in it."""
    for name in ("catalogs", "scenarios"):
        shutil.copytree(ROOT / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return Counter(tmp_path)


@pytest.fixture
def sourcing(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """Run the command in this process."""

    def run(*words: str | Path) -> Said:
        monkeypatch.setattr(sys, "argv", ["sourcing", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        code = left.value.code
        return Said(code if isinstance(code, int) else 0 if code is None else 1, said.out, said.err)

    return run


@pytest.fixture
def process() -> Callable[..., Said]:
    """Run the command in a process of its own, as people do."""

    def run(*words: str | Path) -> Said:
        done = subprocess.run(command(*words), capture_output=True, encoding="utf-8", env=environment(), check=False)
        return Said(done.returncode, done.stdout, done.stderr)

    return run


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "sourcing", *map(str, words)]


def environment() -> dict[str, str]:
    """This environment, with the package under test on the path."""
    paths = [str(ROOT), *os.environ.get("PYTHONPATH", "").split(os.pathsep)]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in paths if path)}
