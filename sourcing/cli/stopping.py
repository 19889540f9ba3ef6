"""Ctrl-C while many jobs are planned: the first asks for the best plan so far, a second one ends the run."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType, TracebackType
from typing import Any

from sourcing.cli.progress import Progress


class Stopping:
    """Listens for Ctrl-C from the start of planning until every job's share is known.

    While the solver is at work on the pool it is stopped, and gives the best that it has. Once there is a plan, what follows
    (dealing it out, what each job would cost in its turn) is short and goes on: the plan would be lost without it.

    Parameters
    ----------
    progress : hears what becomes of it
    solving : the function in which a solver waits; there Ctrl-C is taken as a wish for the best so far

    `solves` tells how often a solver was asked about the pool: before the first time there is nothing to lose.
    """

    def __init__(self, progress: Progress, solving: Callable[..., Any]) -> None:
        self._progress, self._solving = progress, solving
        self._before: Any = None
        self.presses = 0
        self.planned = False
        self.solves: Callable[[], int] = lambda: 0

    def __enter__(self) -> Stopping:
        if threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGINT, self._heard)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)

    def _heard(self, number: int, frame: FrameType | None) -> None:
        self.presses += 1
        goes_on = self.planned or (self.solves() > 0 and not self._within(frame))
        if self.presses > 1 or not goes_on:
            raise KeyboardInterrupt
        self._progress.say(
            "there is a plan: finishing what it saves and who pays what (Ctrl-C again ends)", at_once=True
        )

    def _within(self, frame: FrameType | None) -> bool:
        """Whether the program is where a solver waits."""
        while frame is not None:
            if frame.f_code is self._solving.__code__:
                return True
            frame = frame.f_back
        return False
