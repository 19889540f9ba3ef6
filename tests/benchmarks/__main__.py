"""Ratios against a plain peer in the same run: `python tests/benchmarks` (not tests: nothing here asserts a time)."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parent)]
from books import write_large  # noqa: E402
from people import under_load  # noqa: E402
from sheets import measure  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
RUNS = 15


def seconds(command: list[str], cache: str, codes: tuple[int, ...] = (0,)) -> float:
    """Wall time of one command in a fresh process."""
    started = time.perf_counter()
    environment = {**os.environ, "SOURCING_CACHE": cache}
    run = subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, env=environment, check=False)
    assert run.returncode in codes, command
    return time.perf_counter() - started


def main() -> None:
    python = sys.executable
    with tempfile.TemporaryDirectory() as folder:
        quote = [python, "-m", "sourcing", "quote", "scenarios/exact-block.toml", "--out", f"{folder}/reports"]
        peers = {
            "import pandas, pulp, openpyxl": [python, "-c", "import pandas, pulp, openpyxl"],
            "quote, sheets parsed before": quote,
            "--help": [python, "-m", "sourcing", "--help"],
        }
        taken: dict[str, list[float]] = {"quote, cold": [], **{name: [] for name in peers}}
        seconds(quote, f"{folder}/warm")
        for run in range(RUNS):
            taken["quote, cold"].append(seconds(quote, f"{folder}/cold-{run}"))
            for name, command in peers.items():
                taken[name].append(seconds(command, f"{folder}/warm"))
        large = {size: write_large(Path(folder) / f"large-{size}", size) for size in (150, 300)}
        for size, job in large.items():
            catalogs = ["--catalogs", str(job.parent / "catalogs")]
            words = {
                f"identify, {size} positions": ["identify", str(job)],
                f"review, {size} positions": ["review", "large"],
            }
            for name, said in words.items():
                command = [python, "-m", "sourcing", *said, "--json", *catalogs]
                taken[name] = [seconds(command, f"{folder}/warm", (0, 5)) for _ in range(3)]
    peer = statistics.median(taken["import pandas, pulp, openpyxl"])
    print(f"{'':<32}{'median s':>10}{'ratio':>8}   ({RUNS} runs, large books 3; {os.cpu_count()} cores)")
    for name, times in taken.items():
        print(f"{name:<32}{statistics.median(times):>10.3f}{statistics.median(times) / peer:>8.2f}")
    measure(5)
    under_load(minutes=5, people=20, think=5)


if __name__ == "__main__":
    main()
