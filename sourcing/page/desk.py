"""The desk behind the page: the shop's folder opened, and jobs answered, each question once for as long as nothing changes.

What was answered is kept by what it was asked of: the job's text and the state of every file under catalogs/. So a reload
costs nothing, and whatever changes on the disk is seen at the next look.
"""

from __future__ import annotations

import hashlib
import os
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar, cast

from sourcing import counter
from sourcing.book.bench import Bench, identify
from sourcing.book.chart import Chart, chart_of
from sourcing.book.family import Family
from sourcing.book.fits import FitsIn, fits
from sourcing.bookshelf import Bookshelf
from sourcing.decision.easing import Freed
from sourcing.decision.possibilities import Answered, answer_all
from sourcing.decision.study import Decided, Study, decide, too_large
from sourcing.decision.trend import Moment, trend
from sourcing.faults import shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.jobfile import JobFile, opened
from sourcing.jobtext import Lines
from sourcing.page.reach import Reach
from sourcing.page.workers import Workers
from sourcing.plan import Status
from sourcing.prices.cache import Cache
from sourcing.quote.revisions import Revision
from sourcing.reading import tables_of
from sourcing.settings import standings_of

MOST_KEPT = 256  # answers
T = TypeVar("T")


@dataclass(frozen=True)
class Quoted:
    """A job's answer, the decision behind it where that can be told, and what would free it where it is impossible."""

    answered: Answered
    decided: Decided | None
    freed: Freed | None


@dataclass(frozen=True)
class Benched:
    """What is on a job's bench, with what looks are worth in money, and why not where that is not told."""

    bench: Bench
    worth: dict[tuple[str, str], str]
    why_not: str


class Desk:
    """Answers for all who use the page; safe to be asked by several threads.

    Parameters
    ----------
    reach : the shop's folders
    seconds : time limit of one solve
    workers : how many questions are worked on at the same time; the others wait
    processes : so many processes of their own work on jobs; 0: threads of this one do
    """

    def __init__(self, reach: Reach, seconds: float | None = 120.0, workers: int = 2, processes: int = 0) -> None:
        self.reach = reach
        self._by = counter.answers(seconds)
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="answer")
        self._workers = Workers(Desk, reach, seconds, processes) if processes else None
        self._lock = Lock()
        self._kept: OrderedDict[str, Future[Any]] = OrderedDict()
        self._opened: tuple[str, Folder] | None = None
        self._shelved: tuple[str, Bookshelf] | None = None
        self._reading = Lock()

    def close(self) -> None:
        if self._workers is not None:
            self._workers.close()
        self._pool.shutdown(wait=False, cancel_futures=True)

    def warm(self) -> None:
        """Begin the processes before anybody asks."""
        if self._workers is not None:
            self._workers.warm()

    # -- the shop's folder --

    def state(self) -> str:
        """A digest of the state of every file under catalogs/."""
        told = hashlib.sha256()
        for path, size, changed in _states(self.reach.catalogs):
            told.update(f"{path}\0{size}\0{changed}\n".encode("utf-8", "surrogateescape"))
        return told.hexdigest()

    def folder(self) -> Folder:
        """The catalogs, opened anew where anything in them changed. Raises BadInput."""
        state = self.state()
        with self._reading:
            if self._opened is None or self._opened[0] != state:
                self._opened = (state, Folder(self.reach.catalogs, Cache()))
            return self._opened[1]

    def shelf(self) -> Bookshelf:
        """The books alone, read anew where anything under catalogs/ changed. Raises BadInput where there is no such folder."""
        state = self.state()
        shelved = self._shelved
        if shelved is None or shelved[0] != state:
            shelved = self._shelved = (state, Bookshelf(self.reach.catalogs))
        return shelved[1]

    def families(self) -> list[Family]:
        """The books that can be read, in order."""
        shelf = self.shelf()
        return [shelf.family(code) for code in shelf.families]

    # -- jobs --

    def file(self, name: str) -> JobFile:
        """A job's file. Raises NotThere, BadInput."""
        return opened(self.reach.job(name))

    def job(self, file: JobFile) -> tuple[Job, Family]:
        """A job with its family's book. Raises BadInput with every fault of it."""
        shelf = self.shelf()
        job = shelf.job_of(file.text, file.path)
        return job, shelf.family(job.job.family)

    def family(self, lines: Lines) -> Family:
        """The book of the family that a job's lines name. Raises BadInput where there is none."""
        said = lines.get("job.family", '""')
        return self.shelf().family(str(tables_of(f"x = {said}", self.reach.jobs)["x"]), "job family")

    def check(self, path: Path, text: str) -> None:
        """Raises BadInput where a text is no job of this shop's, or its unit was built in no era."""
        shelf = self.shelf()
        job = shelf.job_of(text, path)
        standings_of(job, shelf.family(job.job.family), shown(path))

    # -- answers --

    def fits(self, file: JobFile) -> tuple[FitsIn, ...]:
        """Which designs fit the unit, for each era that it can be of."""
        job, family = self.job(file)
        return self.once("fits", file, lambda: fits(family, standings_of(job, family, shown(file.path))))

    def benched(self, file: JobFile, priced: bool = True) -> Benched:
        """What is on the bench; `priced`: also what looks are worth in money."""
        return cast(Benched, self._once(f"bench {priced}", file, "_benched", file, priced))

    def answered(self, file: JobFile) -> Answered:
        """A job's answer, as `sourcing quote --json` tells it."""
        return cast(Answered, self._once("answer", file, "_answered", file))

    def quoted(self, file: JobFile) -> Quoted:
        """A job quoted, as `sourcing quote` tells it."""
        answered = self.answered(file)
        return cast(Quoted, self._once("decision", file, "_quoted", answered))

    def studied(self, file: JobFile) -> Study | Answered:
        """A job compared, as `sourcing compare` does it; where it is open, its answer."""
        return cast("Study | Answered", self._once("study", file, "_studied", file))

    def moments(self, file: JobFile) -> list[Moment] | Answered:
        """A job at every date on which prices changed, as `sourcing trend` does it; where it is open, its answer."""
        answered = self.answered(file)
        if answered.plan.status == Status.OPEN:
            return answered
        return cast("list[Moment]", self._once("trend", file, "_moments", file))

    def chart(self, code: str) -> Chart:
        """A family's chart. Raises BadInput where there is no such family."""
        family = self.shelf().family(code, "family")
        return self.once(f"chart {code}", None, lambda: chart_of(family))

    def file_papers(self, name: str, file: JobFile) -> Revision | None:
        """File a job's papers as its next revision; None where it has no plan."""
        seen = self.quoted(file)
        if seen.answered.plan.choice is None:
            return None
        return counter.file_quote(seen.answered.plan, self.reach.papers_folder(name), seen.decided)

    def _benched(self, file: JobFile, priced: bool) -> Benched:
        shelf = self.shelf()
        job, family = self.job(file)
        where = shown(file.path)
        bench = identify(family, standings_of(job, family, where), job.found, shelf.mixed_share())
        return Benched(bench, *(counter.worths_of(shelf, job, where, bench) if priced else ({}, "")))

    def _answered(self, file: JobFile) -> Answered:
        folder = self.folder()
        return counter.quoted(folder, self._problems(folder, file), self._by)

    def _quoted(self, answered: Answered) -> Quoted:
        folder, plan, by = self.folder(), answered.plan, self._by
        return Quoted(
            answered,
            decide(plan, by.cost_only) if counter.goes_on(plan) and not too_large(plan) else None,
            counter.freed_of(folder, plan, by)
            if plan.status == Status.IMPOSSIBLE and not plan.proof.interrupted
            else None,
        )

    def _studied(self, file: JobFile) -> Study | Answered:
        folder, by = self.folder(), self._by
        answered = answer_all(self._problems(folder, file), by.settled)
        if answered.plan.status == Status.OPEN:
            return answered
        return counter.studied(folder, answered.plan, by)

    def _moments(self, file: JobFile) -> list[Moment]:
        folder = self.folder()
        job = folder.job_of(file.text, file.path)
        with self._reading:  # each date is joined from its own sheets
            days = list(counter.replayed(folder, job, folder.prices.days(), shown(file.path)))
        return trend(days, self._by.cost_only)

    def _problems(self, folder: Folder, file: JobFile) -> Any:
        with self._reading:
            return folder.problems_of(folder.job_of(file.text, file.path), shown(file.path))

    def once(self, kind: str, file: JobFile | None, work: Callable[[], T]) -> T:
        """What was answered before, or the answer of whoever is at it, or our own; what failed is not kept."""
        return cast(T, self._kept_or(kind, file, lambda: self._pool.submit(work)))

    def _once(self, kind: str, file: JobFile, name: str, *words: Any) -> Any:
        """The same for a method of ours, in a process of its own where there are some."""
        if self._workers is None:
            return self.once(kind, file, partial(getattr(self, name), *words))
        workers = self._workers
        try:
            return self._kept_or(kind, file, lambda: workers.ask(name, *words))
        except BrokenProcessPool:  # one of them was killed, by hand or for its memory
            return self._kept_or(kind, file, lambda: workers.ask(name, *words))

    def _kept_or(self, kind: str, file: JobFile | None, begun: Callable[[], Future[Any]]) -> Any:
        asked = f"{kind}\0{file.path if file else ''}\0{file.version if file else ''}\0{self.state()}"
        with self._lock:
            waiting = self._kept.get(asked)
            if waiting is None or waiting.cancelled():
                waiting = self._kept[asked] = begun()
                while len(self._kept) > MOST_KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(asked)
        try:
            return waiting.result()
        except BaseException:
            with self._lock:
                if self._kept.get(asked) is waiting:
                    del self._kept[asked]
            raise


def _states(folder: Path) -> Iterator[tuple[str, int, int]]:
    """Path, size and time of change of every file, in order; hidden ones are nobody's answer."""
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for name in sorted(files):
            if not name.startswith("."):
                try:
                    found = os.stat(os.path.join(place, name))  # noqa: PTH116, PTH118 - asked at every look
                except FileNotFoundError:
                    continue
                yield os.path.join(place, name), found.st_size, found.st_mtime_ns  # noqa: PTH118
