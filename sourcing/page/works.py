"""Long work in the background: begun once, told while it goes on, stopped by a person, found again after a reload."""

from __future__ import annotations

import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass, field
from threading import Event, Lock
from typing import Annotated, Any

from fastapi import Depends, Request

from sourcing.faults import BadInput, OurFault
from sourcing.page.reach import NotThere

MOST_KEPT = 100
AT_ONCE = 2


@dataclass
class Work:
    """A piece of work and how far it is; read by one thread while another one does it.

    `step`, `done` and `of` say what is at hand; `best` and `bound` the best plan so far and what no plan is below, in cents.
    """

    key: str
    title: str
    home: str
    step: str = "waiting for its turn"
    done: int = 0
    of: int = 0
    best: float | None = None
    bound: float | None = None
    result: Any = None
    faults: tuple[str, ...] = ()
    ended: bool = False
    _stop: Event = field(default_factory=Event)
    _begun: float = field(default_factory=time.monotonic)
    _took: float = 0.0

    def say(self, step: str, done: int = 0, of: int = 0) -> None:
        """Tell what is at hand, and how much of it is done."""
        self.step, self.done, self.of = step, done, of

    def plans(self, best: float | None, bound: float | None) -> None:
        """Tell of the best plan so far, and of the bound."""
        self.best, self.bound = best, bound

    def stop(self) -> None:
        """Ask it to end with what it has."""
        self._stop.set()

    @property
    def stopped(self) -> bool:
        return self._stop.is_set()

    @property
    def goes_on(self) -> bool:
        return not self.stopped

    @property
    def seconds(self) -> int:
        return int(self._took if self.ended else time.monotonic() - self._begun)

    @property
    def gap(self) -> float | None:
        """How far the best plan may still be from the least, as a share of it."""
        if self.best is None or self.bound is None or not self.best:
            return None
        return max(0.0, (self.best - self.bound) / abs(self.best))

    def run(self, work: Callable[[Work], Any]) -> None:
        """Do it; whatever goes wrong becomes its faults."""
        try:
            if self.stopped:
                self.faults = ("It was stopped before it began.",)
            else:
                self.say("at work")
                self.result = work(self)
        except BadInput as error:
            self.faults = tuple(map(str, error.faults))
        except OSError as error:
            self.faults = (f"{error.strerror or error}. Nothing more was written.",)
        except OurFault as error:
            self.faults = (f"This is a defect of the tool: {error}",)
        except Exception as error:
            self.faults = (f"This is a defect of the tool: {type(error).__name__}: {error}",)
        finally:
            self._took = time.monotonic() - self._begun
            self.ended = True


class Works:
    """The pieces of work of a running page; they end with it."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(AT_ONCE, thread_name_prefix="work")
        self._lock = Lock()
        self._known: OrderedDict[str, Work] = OrderedDict()

    def begin(self, title: str, home: Callable[[str], str], work: Callable[[Work], Any], key: str = "") -> Work:
        """Begin a piece of work; where one of that key is known and was not stopped, that one.

        Parameters
        ----------
        title : what is being done, in words
        home : the page on which its result will stand, by its key
        work : does it, and is handed the piece of work to tell of itself
        """
        with self._lock:
            known = self._known.get(key)
            if known is not None and not known.stopped and not known.faults:
                return known
            made = key or secrets.token_urlsafe(12)
            piece = self._known[made] = Work(made, title, home(made))
            self._known.move_to_end(made)
            ended = [one for one, other in self._known.items() if other.ended]
            for one in ended[: max(0, len(self._known) - MOST_KEPT)]:
                del self._known[one]
        self._pool.submit(piece.run, work)
        return piece

    def of(self, key: str) -> Work:
        """A piece of work as it is at this moment: it does not end between two looks at it. Raises NotThere."""
        with self._lock:
            if key not in self._known:
                raise NotThere(
                    "The page was started again since this was asked, or much else was asked: ask once more."
                )
            return copy(self._known[key])

    def close(self) -> None:
        for piece in list(self._known.values()):
            piece.stop()
        self._pool.shutdown(wait=False, cancel_futures=True)


def the_works(request: Request) -> Works:
    works = request.app.state.works
    assert isinstance(works, Works)
    return works


Background = Annotated[Works, Depends(the_works)]
