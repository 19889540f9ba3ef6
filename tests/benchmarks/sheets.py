"""A price sheet of 100,000 rows and 12 columns, read whole, against a bare read of the same file in the same run."""

from __future__ import annotations

import csv
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import xlsxwriter

from sourcing.prices.cache import Cache
from sourcing.prices.sheet import read_sheet

ROWS = 100_000
HEAD = ["Part Number", "Description", "Net Price", "Core Charge", "In Stock", "Pack", "Min Qty", "Lead Days", "5+", "10+",
        "Currency", "Valid Until"]  # fmt: skip


def rows() -> list[list[object]]:
    rng = random.Random(1)
    made: list[list[object]] = [list(HEAD)]
    for number in range(ROWS):
        cents = rng.randrange(100, 90_000)
        made.append([f"LB{number:06d}-{rng.randrange(99):02d}", f"Part {rng.choice(('block', 'plate', 'screen'))} {number}",
                     cents / 100, rng.choice(("", 30, 45.5)), rng.randrange(200), rng.choice((1, 5, 10)), rng.choice((1, 2)),
                     rng.randrange(9), round(cents * 0.95) / 100, round(cents * 0.9) / 100, "USD", "2026-12-31"])  # fmt: skip
    return made


def write(folder: Path) -> tuple[Path, Path]:
    book, text = folder / "list.xlsx", folder / "list.csv"
    workbook = xlsxwriter.Workbook(str(book), {"constant_memory": True})
    sheet = workbook.add_worksheet()
    made = rows()
    for y, row in enumerate(made):
        for x, cell in enumerate(row):
            if cell != "":
                sheet.write(y, x, cell)
    workbook.close()
    with text.open("w", newline="") as out:
        csv.writer(out).writerows(made)
    return book, text


def bare_workbook(path: Path) -> None:
    from python_calamine import CalamineWorkbook

    CalamineWorkbook.from_path(path).get_sheet_by_index(0).to_python()


def bare_text(path: Path) -> None:
    with path.open(newline="") as stream:
        list(csv.reader(stream))


def timed(action: Callable[[], object]) -> float:
    began = time.perf_counter()
    action()
    return time.perf_counter() - began


def most_memory(action: Callable[[], object]) -> float:
    """The most memory, in MB, that the child processes of an action and what it adds to this one take together."""
    me = psutil.Process()
    before, most, done = me.memory_info().rss, 0.0, threading.Event()

    def watch() -> None:
        nonlocal most
        while not done.wait(0.005):
            try:
                children = sum(child.memory_info().rss for child in me.children())
            except psutil.Error:
                continue
            most = max(most, (me.memory_info().rss - before + children) / 1e6)

    watching = threading.Thread(target=watch)
    watching.start()
    action()
    done.set()
    watching.join()
    return most


def measure(runs: int) -> None:
    """Print the ratios: read whole to bare, from the cache to bare, and the memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for path, bare, aim in zip(write(folder), (bare_workbook, bare_text), (2.0, 4.0), strict=True):
            taken: dict[str, list[float]] = {"bare": [], "read": [], "kept": []}
            for run in range(runs):
                cache = Cache(folder / f"{path.suffix}-{run}.sqlite3")
                taken["bare"].append(timed(lambda path=path, bare=bare: bare(path)))
                for kind in ("read", "kept"):
                    taken[kind].append(timed(lambda path=path, cache=cache: len(read_sheet(path, None, cache).rows)))
            peer = statistics.median(taken["bare"])
            first, again = (statistics.median(taken[kind]) for kind in ("read", "kept"))
            memory = most_memory(lambda path=path: read_sheet(path))
            print(f"{path.suffix:<6}bare {peer:.3f} s, read {first:.3f} s, ratio {first / peer:.2f} (aim {aim:g}), from the cache "
                  f"{again:.3f} s, ratio {again / peer:.2f}, memory {memory:.0f} MB (aim 400)   ({runs} runs)")  # fmt: skip


if __name__ == "__main__":
    measure(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
