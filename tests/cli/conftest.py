"""The command line on copies of the demo, in a process of its own and in this one."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from demofolder import command, demo, environment, own_cache

from sourcing.cli import main

__all__ = ["demo", "own_cache"]


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


@pytest.fixture
def counter(demo: Path) -> Counter:
    """A fresh copy of the demo; the tests stand in it."""
    return Counter(demo)


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
