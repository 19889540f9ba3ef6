"""Twenty people at the page at once, each changing a job and looking at its answer, against the same calls in process.

`python tests/benchmarks/people.py [--minutes 5] [--people 20] [--think 5]`. Nobody waits for anybody; the calls in process are
made in the same minutes, so that the machine is as busy for them.
"""

from __future__ import annotations

import argparse
import random
import re
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]
import httpx2  # noqa: E402
from page.conftest import fields_of  # noqa: E402
from page.served import Served, demo_in, served  # noqa: E402

from sourcing.jobfile import JobFile, opened  # noqa: E402
from sourcing.page.desk import Desk  # noqa: E402
from sourcing.page.reach import Reach  # noqa: E402

REQUOTED, ANSWERED = "re-quoted beside the form", "the answer's page"


class Taken:
    """Seconds by what was asked, and what went wrong."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self.seconds: dict[str, list[float]] = {}
        self.errors: list[str] = []

    def of(self, what: str, call: Callable[[], object]) -> object:
        started = time.perf_counter()
        done = call()
        with self._lock:
            self.seconds.setdefault(what, []).append(time.perf_counter() - started)
        return done


def person(number: int, running: Served, until: float, think: float, taken: Taken) -> None:
    """Change the hours, see what it comes to, save it, look at the answer; with time to think before each."""
    chance, path = random.Random(number), f"/jobs/load-{number}/limits"

    def goes_home() -> bool:
        """Think; whether it is over by then. Nobody asks more at the end, all at once."""
        time.sleep(max(0.0, min(chance.expovariate(1 / think), until - time.perf_counter())))
        return time.perf_counter() >= until

    try:
        with httpx2.Client(base_url=running.address, timeout=120, follow_redirects=True) as client:
            while not goes_home():
                fields = fields_of(client.get(path).text, path)
                if goes_home():
                    break
                fields["base_hours"] = [f"{chance.randrange(5, 40)}.{chance.randrange(10, 99)}"]
                said = taken.of(REQUOTED, lambda: client.post(path.replace("limits", "live"), data=fields))  # noqa: B023
                assert isinstance(said, httpx2.Response) and said.status_code == 200 and "The answer" in said.text, said
                if goes_home():
                    break
                assert "Saved." in client.post(path, data=fields).text
                said = taken.of(ANSWERED, lambda: client.get(path.replace("limits", "answer")))
                assert isinstance(said, httpx2.Response) and said.status_code == 200 and "Why" in said.text, said
    except (AssertionError, httpx2.HTTPError) as error:
        taken.errors.append(f"person {number}: {error!r}")


def in_process(folder: Path, until: float, taken: Taken) -> None:
    """The same questions asked of a desk in this process, one at a time, each a job that nobody asked about."""
    desk = Desk(Reach(folder / "catalogs", folder / "scenarios", folder / "reports"))
    file = opened(folder / "scenarios" / "exact-block.toml")
    desk.quoted(file)
    turn = 0
    while time.perf_counter() < until:
        turn += 1
        asked = JobFile(file.path, file.text.replace("13.5", f"{turn}.11"))
        taken.of(REQUOTED, lambda: desk.answered(asked))  # noqa: B023
        asked = JobFile(file.path, file.text.replace("13.5", f"{turn}.22"))
        desk.answered(asked)
        taken.of(ANSWERED, lambda: desk.quoted(asked))  # noqa: B023
        time.sleep(min(3.0, max(0.0, until - time.perf_counter())))
    desk.close()


def under_load(minutes: float, people: int, think: float) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = demo_in(Path(place))
        text = (folder / "scenarios" / "exact-block.toml").read_text(encoding="utf-8")
        for number in range(people):
            said = re.sub(r'number = "\d+"', f'number = "load {number}"', text)
            (folder / "scenarios" / f"load-{number}.toml").write_text(said, encoding="utf-8")
        with served(folder, folder / "parsed") as running:
            running.says("/jobs/exact-block/answer")
            page, peer, until = Taken(), Taken(), time.perf_counter() + minutes * 60
            threads = [
                threading.Thread(target=person, args=(number, running, until, think, page)) for number in range(people)
            ]
            threads.append(threading.Thread(target=in_process, args=(folder, until, peer)))
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        print(f"\n{people} people for {minutes:g} minutes, {think:g} s to think; errors: {len(page.errors)}")
        for error in page.errors[:5]:
            print(f"  {error}")
        print(f"{'':<28}{'asked':>7}{'median':>9}{'p95 s':>9}{'ratio of medians':>19}{'of p95':>9}")
        for what in (REQUOTED, ANSWERED):
            ours, theirs = page.seconds.get(what, []), peer.seconds.get(what, [])
            if len(ours) < 2 or len(theirs) < 2:
                continue
            (middle, high), (peer_middle, peer_high) = _told(ours), _told(theirs)
            print(
                f"{what:<28}{len(ours):>7}{middle:>9.3f}{high:>9.3f}{middle / peer_middle:>19.2f}{high / peer_high:>9.2f}"
            )
            print(f"{'  in process':<28}{len(theirs):>7}{peer_middle:>9.3f}{peer_high:>9.3f}")


def _told(seconds: list[float]) -> tuple[float, float]:
    return statistics.median(seconds), statistics.quantiles(seconds, n=20, method="inclusive")[-1]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--minutes", type=float, default=5)
    asked.add_argument("--people", type=int, default=20)
    asked.add_argument("--think", type=float, default=5)
    said = asked.parse_args()
    under_load(said.minutes, said.people, said.think)


if __name__ == "__main__":
    main()
