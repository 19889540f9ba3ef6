"""How far a long run is: one line on standard error, written anew; nothing where nobody looks at a terminal."""

from __future__ import annotations

import sys
import time

from sourcing.cli.lines import WIDTH
from sourcing.money import text

OFTEN = 0.1  # seconds between two lines


class Progress:
    """A line that tells which step a run is at.

    Parameters
    ----------
    currency : of the amounts that are told; known once the shop is open
    """

    def __init__(self) -> None:
        self.currency = ""
        self._seen = sys.stderr.isatty()
        self._last = 0.0
        self._wide = 0
        self._best: float | None = None
        self._bound: float | None = None

    def say(self, words: str, at_once: bool = False) -> None:
        """Tell where the run is, unless the last line was written a moment ago."""
        now = time.monotonic()
        if not self._seen or (now - self._last < OFTEN and not at_once):
            return
        self._last = now
        line = words[:WIDTH]
        sys.stderr.write("\r" + line + " " * max(0, self._wide - len(line)))
        sys.stderr.flush()
        self._wide = len(line)

    def counted(self, step: str, done: int, of: int) -> None:
        """A step of which so much is done."""
        self.say(f"{step}: {done} of {of}" if of > 1 else step, at_once=done in (0, of))

    def solving(self, best: float | None, bound: float | None) -> None:
        """What the solver has: the best plan so far and what no plan can be below, in cents."""
        self._best, self._bound = (
            (best if best is not None else self._best),
            (bound if bound is not None else self._bound),
        )
        self.say(f"planning: {solver_told(self._best, self._bound, self.currency)} (Ctrl-C takes the best so far)")

    def done(self) -> None:
        """Take the line away."""
        if self._seen and self._wide:
            sys.stderr.write("\r" + " " * self._wide + "\r")
            sys.stderr.flush()
            self._wide = 0


def solver_told(best: float | None, bound: float | None, currency: str) -> str:
    """A solver's best plan, bound and gap in money.

    >>> solver_told(10500.0, 10000.0, "USD"), solver_told(None, 10000.0, "USD")
    ('best 105.00 USD, none below 100.00, gap 5.00 %', 'no plan yet, none below 100.00 USD')
    """
    if best is None:
        return "no plan yet" + ("" if bound is None else f", none below {text(round(bound))} {currency}")
    told = f"best {text(round(best))} {currency}"
    if bound is None:
        return told
    gap = f", gap {max(0.0, best - bound) * 100 / bound:.2f} %" if 10 * bound > best else ""
    return f"{told}, none below {text(round(bound))}{gap}"
