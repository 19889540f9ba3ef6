"""Processes that work on a desk's questions: in threads of one process they would wait for each other's turn.

Each has a desk of its own over the same folders, and keeps the shop's folder open. What is asked and answered goes between them
as values.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from threading import Lock
from typing import Any

from sourcing.faults import BadInput
from sourcing.page.reach import Reach

DeskOf = Callable[[Reach, float | None], Any]
_DESK: Any = None


class Workers:
    """So many processes, each begun when there is a question for it.

    Parameters
    ----------
    made : makes a desk that answers in its own process, of the shop's folders and a time limit
    """

    def __init__(self, made: DeskOf, reach: Reach, seconds: float | None, processes: int) -> None:
        self._begins = (made, reach, seconds)
        self._processes, self._lock = processes, Lock()
        self._pool = self._begun()

    def ask(self, name: str, *words: Any) -> Future[Any]:
        """A method of the desk called in one of the processes; anew in fresh ones where one of them was killed before."""
        with self._lock:
            try:
                return self._pool.submit(_answer, name, words)
            except BrokenProcessPool:
                self._pool = self._begun()
                return self._pool.submit(_answer, name, words)

    def warm(self) -> None:
        """Begin them all before anybody asks: one is begun for each question that finds nobody free."""
        for _ in range(self._processes):
            self.ask("state")

    def close(self) -> None:
        """End them, also in the middle of a question: nothing that they do is written."""
        with self._lock:
            # The pool tells its processes only by this name; a shutdown alone would wait for the longest answer.
            running = list((getattr(self._pool, "_processes", None) or {}).values())
            self._pool.shutdown(wait=False, cancel_futures=True)
        for process in running:
            process.terminate()

    def _begun(self) -> ProcessPoolExecutor:
        fresh = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self._processes, fresh, initializer=_begin, initargs=self._begins)


def _begin(made: DeskOf, reach: Reach, seconds: float | None) -> None:
    global _DESK
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the page, which ends us
    threading.Thread(target=_end_with_the_page, daemon=True).start()
    _DESK = made(reach, seconds)
    with suppress(BadInput, OSError):
        _DESK.folder()


def _end_with_the_page() -> None:
    """A page that was killed leaves nobody behind."""
    page = multiprocessing.parent_process()
    assert page is not None
    page.join()
    os._exit(1)


def _answer(name: str, words: tuple[Any, ...]) -> Any:
    return getattr(_DESK, name)(*words)
