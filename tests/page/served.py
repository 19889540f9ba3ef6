"""The page served by its own command, in a process of its own, over a shop's folder."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Served:
    """A running page: its address, the folder that it stands in, its process, what it writes."""

    address: str
    folder: Path
    process: subprocess.Popen[bytes]
    log: Path

    def job(self, name: str) -> Path:
        return self.folder / "scenarios" / f"{name}.toml"

    def says(self, path: str, timeout: float = 60) -> str:
        """What a page answers to who just looks."""
        with urllib.request.urlopen(self.address + path, timeout=timeout) as answer:
            return str(answer.read().decode("utf-8"))


def environment(cache: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "SOURCING_CACHE": str(cache), "PYTHONUTF8": "1"}


def demo_in(folder: Path) -> Path:
    """A copy of the demo's catalogs and jobs."""
    for name in ("catalogs", "scenarios"):
        shutil.copytree(ROOT / name, folder / name)
    return folder


@contextmanager
def served(folder: Path, cache: Path, *words: str) -> Iterator[Served]:
    """`sourcing serve` in a folder, until the block ends."""
    with socket.socket() as ear:
        ear.bind(("127.0.0.1", 0))
        port = ear.getsockname()[1]
    log = folder / "served.txt"
    command = [sys.executable, "-m", "sourcing", "serve", "--no-browser", "--port", str(port), *words]
    with log.open("wb") as written:
        process = subprocess.Popen(command, cwd=folder, env=environment(cache), stdout=written, stderr=written)
    running = Served(f"http://127.0.0.1:{port}", folder, process, log)
    try:
        _wait(running)
        yield running
    finally:
        process.kill()
        process.wait()


def _wait(running: Served) -> None:
    for _ in range(600):
        try:
            running.says("/static/mark.svg")
            return
        except OSError:
            assert running.process.poll() is None, (running.process.returncode, running.log.read_text(encoding="utf-8"))
            time.sleep(0.1)
    raise AssertionError("the page did not start within a minute")
