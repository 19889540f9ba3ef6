"""How often somebody may do something: so many at once, and so many a minute after that."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

MOST_KNOWN = 4096  # addresses that are remembered; the oldest go


@dataclass(frozen=True, slots=True)
class Rate:
    """`at_once` in a burst, `a_minute` in the long run."""

    at_once: int
    a_minute: float


class Gate:
    """Lets through what keeps to a rate, for each one who asks by themselves."""

    def __init__(self, rate: Rate, clock: Callable[[], float] = time.monotonic) -> None:
        self._rate, self._clock, self._lock = rate, clock, Lock()
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def opens(self, who: str) -> bool:
        """Whether `who` may; a yes counts."""
        now = self._clock()
        with self._lock:
            left, since = self._left.pop(who, (float(self._rate.at_once), now))
            left = min(float(self._rate.at_once), left + (now - since) * self._rate.a_minute / 60)
            may = left >= 1
            self._left[who] = (left - 1 if may else left, now)
            while len(self._left) > MOST_KNOWN:
                self._left.popitem(last=False)
            return may
