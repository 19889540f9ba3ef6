"""Ratios against plain peers in the same run: `python tests/benchmarks` (not tests: nothing here asserts a time).

`python tests/benchmarks proofs` measures one part alone (commands, sheets, proofs, pools, scale or people); `--quick` small
ones only, `--limit 30` stops every solver sooner.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent), str(HERE)]
import pools  # noqa: E402
import scale  # noqa: E402
from books import write_large  # noqa: E402
from people import under_load  # noqa: E402
from proofs import LIMIT, measure_proofs  # noqa: E402
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
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument(
        "what",
        nargs="?",
        choices=["everything", "commands", "sheets", "proofs", "pools", "scale", "people"],
        default="everything",
    )
    asked.add_argument("--quick", action="store_true")
    asked.add_argument("--limit", type=float, default=LIMIT, metavar="SECONDS")
    said = asked.parse_args()
    parts = {
        "commands": measure_commands,
        "sheets": lambda: measure(5),
        "proofs": lambda: measure_proofs(said.quick, said.limit),
        "pools": lambda: pools.measure(said.quick, said.limit),
        "scale": lambda: scale.measure(max(said.limit, 60), said.quick),
        "people": lambda: under_load(minutes=0.5 if said.quick else 5, people=20, think=5),
    }
    for name, part in parts.items():
        if said.what in (name, "everything"):
            part()


def measure_commands() -> None:
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


if __name__ == "__main__":
    main()
