"""The page served by its own command, in a process of its own, over a shop's folder."""

from __future__ import annotations

import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import demofolder
from demofolder import demo_in

__all__ = ["Served", "demo_in", "environment", "served"]
PATIENCE = 300  # seconds that a start may take where the machine has other work


@dataclass(frozen=True)
class Served:
    """A running page: its address, the folder that it stands in, its process, what it writes."""

    address: str
    folder: Path
    process: subprocess.Popen[bytes]
    log: Path

    def job(self, name: str) -> Path:
        return self.folder / "scenarios" / f"{name}.toml"

    def says(self, path: str, timeout: float = PATIENCE) -> str:
        """What a page answers to who just looks."""
        with urllib.request.urlopen(self.address + path, timeout=timeout) as answer:
            return str(answer.read().decode("utf-8"))


def environment(cache: Path) -> dict[str, str]:
    return {**demofolder.environment(cache), "PYTHONUTF8": "1"}


@contextmanager
def served(folder: Path, cache: Path, *words: str) -> Iterator[Served]:
    """`sourcing serve` in a folder, until the block ends."""
    running = _begun(folder, cache, words)
    try:
        yield running
    finally:
        running.process.kill()
        running.process.wait()


def _begun(folder: Path, cache: Path, words: tuple[str, ...]) -> Served:
    """The page, once it answers: at another port where somebody has taken the one that was free a moment ago."""
    for _ in range(20):
        with socket.socket() as ear:
            ear.bind(("127.0.0.1", 0))
            port = ear.getsockname()[1]
        log = folder / "served.txt"
        command = demofolder.command("serve", "--no-browser", "--port", str(port), *words)
        with log.open("wb") as written:
            process = subprocess.Popen(command, cwd=folder, env=environment(cache), stdout=written, stderr=written)
        running = Served(f"http://127.0.0.1:{port}", folder, process, log)
        if _answers(running):
            return running
    raise AssertionError("no port was free")


def _answers(running: Served) -> bool:
    """Wait until the page says that it listens (who answers before may be somebody else), and answers; False: no port."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        ended = running.process.poll() is not None
        said = running.log.read_text(encoding="utf-8")
        if ended:
            assert "Give another --port" in said, (running.process.returncode, said)
            return False
        if f":{running.address.rpartition(':')[2]}/" in said:
            try:
                running.says("/static/mark.svg")
            except OSError:
                pass
            else:
                return True
        time.sleep(0.1)
    running.process.kill()
    raise AssertionError(f"the page did not start within {PATIENCE} seconds: {said}")
