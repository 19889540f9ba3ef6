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
from sheets import measure  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
RUNS = 15


def seconds(command: list[str], cache: str) -> float:
    """Wall time of one command in a fresh process."""
    started = time.perf_counter()
    subprocess.run(
        command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, env={**os.environ, "SOURCING_CACHE": cache}
    )
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
    peer = statistics.median(taken["import pandas, pulp, openpyxl"])
    print(f"{'':<32}{'median s':>10}{'ratio':>8}   ({RUNS} runs, {os.cpu_count()} cores)")
    for name, times in taken.items():
        print(f"{name:<32}{statistics.median(times):>10.3f}{statistics.median(times) / peer:>8.2f}")
    measure(5)


if __name__ == "__main__":
    main()
