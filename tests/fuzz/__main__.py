"""Read spoilt price sheets for a while: `python tests/fuzz --minutes N [--seed S]`.

A worker reads one after the other and says which before it begins; the parent ends it where one takes more than 10 s or
500 MB, and goes on behind it. What ends a worker must not end the tool: that file is read once more as the tool reads it.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from queue import Empty, Queue

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import psutil  # noqa: E402

from fuzz.checks import no_row_is_lost, reading  # noqa: E402
from fuzz.mutants import mutant  # noqa: E402
from sourcing.prices.sheet import read_sheet  # noqa: E402

MOST_SECONDS, MOST_MEMORY = 10.0, 500_000_000


def work(seed: int) -> None:
    """Read mutants from a seed on, without end."""
    while True:
        print(seed, flush=True)
        told = reading(mutant(seed)[1])
        if told is not None:
            no_row_is_lost(*told)
        seed += 1


def survives(seed: int) -> str:
    """Read a mutant as the tool does; what is wrong with that, or ''."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.xlsx"
        path.write_bytes(mutant(seed)[1])
        began = time.monotonic()
        sheet = read_sheet(path)
        taken = time.monotonic() - began
    return (
        f"took {taken:.1f} s"
        if taken > MOST_SECONDS + 3
        else ""
        if sheet.faults or sheet.status == "read"
        else "no reason given"
    )


def run(minutes: float, seed: int) -> list[str]:
    """Read mutants for some minutes; what went wrong, by seed."""
    wrong: list[str] = []
    until = time.monotonic() + 60 * minutes
    first = seed
    ended = 0
    while time.monotonic() < until:
        seed, why = watched(seed, until)
        if why:
            ended += 1
            told = why if "Error" in why else survives(seed)
            if told:
                wrong.append(f"seed {seed} ({mutant(seed)[0]}): {told}")
                print(wrong[-1], flush=True)
        seed += 1
    print(f"{seed - first} spoilt sheets read, {ended} ended a reader, {len(wrong)} went wrong", flush=True)
    return wrong


def watched(seed: int, until: float) -> tuple[int, str]:
    """Start a worker at a seed; the seed at which it ended, and why ('' where the time was up)."""
    worker = subprocess.Popen([sys.executable, __file__, "--worker", "--seed", str(seed)], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True, cwd=ROOT)  # fmt: skip
    lines: Queue[str] = Queue()
    complaints: list[str] = []
    assert worker.stdout is not None and worker.stderr is not None
    streams = [
        threading.Thread(target=lambda: [lines.put(line) for line in worker.stdout or ()], daemon=True),
        threading.Thread(target=lambda: complaints.extend(worker.stderr or ()), daemon=True),
    ]
    for stream in streams:
        stream.start()
    began, why = time.monotonic(), ""
    while time.monotonic() < until:
        try:
            seed, began = int(lines.get(timeout=0.05)), time.monotonic()
            continue
        except Empty:
            pass
        if worker.poll() is not None and lines.empty():
            streams[1].join(1)
            why = next(
                (line.strip() for line in reversed(complaints) if "Error" in line), f"ended with {worker.returncode}"
            )
            break
        if time.monotonic() - began > MOST_SECONDS:
            why = "more than 10 s"
            break
        try:
            if psutil.Process(worker.pid).memory_info().rss > MOST_MEMORY:
                why = "more than 500 MB"
                break
        except psutil.Error:
            continue
    worker.kill()
    worker.wait()
    return seed, why


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--minutes", type=float, default=1.0)
    said.add_argument("--seed", type=int, default=int(time.time()))
    said.add_argument("--worker", action="store_true")
    chosen = said.parse_args()
    if chosen.worker:
        work(chosen.seed)
    sys.exit(1 if run(chosen.minutes, chosen.seed) else 0)


if __name__ == "__main__":
    main()
