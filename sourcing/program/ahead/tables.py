"""Rows and designs that no plan below a cutoff can hold, taken out of the tables before the program is built.

Every plan whose cost is at most the cutoff is kept, ties included: a row, or a design, goes only where the bound with it
held to lies strictly above the cutoff, and propagation takes out only what stands in no living row. So where the
cheapest plan of what is left costs no more than the cutoff, it is the cheapest of all, and all plans that cost the same
are still there; where it costs more, its cost is a cutoff that holds.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import compress

from sourcing.book.fitting import Fitting
from sourcing.problem import Line, Problem
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, bought_floors, floor_of
from sourcing.program.ahead.messages import Messages, carried, messages_of

# Rows from which it pays to look at bounds ahead of the program.
FEW_ROWS = 200
# The first cutoff lies one part in so many above the bound, each further one so many times as far, none beyond the last share.
FIRST_SHARE = 2000
FURTHER = 4
LAST_SHARE = 10
MOST_SWEEPS = 60
# Sweeps go on while the last few of them lift the bound by this share of it.
WORTH_A_SWEEP = 2e-5
SOME = 5


class Tables:
    """The tables of a problem, cut down to what plans up to a cutoff can hold.

    Parameters
    ----------
    problem : a problem with a fitting
    """

    def __init__(self, problem: Problem) -> None:
        assert problem.fitting is not None
        floor = floor_of(problem)
        self.problem, self._always, self._least = problem, floor.always, floor.least
        self._messages = messages_of(problem.fitting, floor.least)
        risen(self._messages)

    @property
    def bound(self) -> int:
        """Cents below which no plan can cost: rounded down."""
        return (self._messages.bound() + self._always) // PARTS_OF_A_CENT

    def guess(self) -> int:
        """A first cutoff in cents: not far above the bound."""
        return self.bound + max(100, abs(self.bound) // FIRST_SHARE)

    def further(self, cutoff: int) -> int | None:
        """A higher cutoff where there was no plan below one; None where it is time to give up cutting."""
        spare = FURTHER * (cutoff - self.bound)
        return self.bound + spare if spare * LAST_SHARE < abs(self.bound) else None

    def up_to(self, cutoff: int) -> Problem | None:
        """The problem with what plans of at most `cutoff` cents can hold; None where that is none."""
        fitting, messages = self.problem.fitting, self._messages
        most = (cutoff + 1) * PARTS_OF_A_CENT - 1 - self._always
        while fitting is not None:
            before = _size(fitting)
            fitting = struck(messages, most - messages.bound())
            if fitting is None or _size(fitting) > 0.9 * before:
                break
            messages = carried(messages, fitting)
            risen(messages)
        if fitting is None:
            return None
        return replace(self.problem, fitting=fitting, lines=self._lines(messages, most - messages.bound()))

    def _lines(self, messages: Messages, spare: int) -> tuple[Line, ...]:
        """The lines that a plan at most `spare` above the bound can hold: by what they cost beyond their design's floor."""
        above = messages.above()
        kept = set()
        for offer in self.problem.offers:
            floors = bought_floors(self.problem, offer)
            over = (above[p].get(d, spare + 1) + floor - self._least[p][d] for p, d, floor in floors)
            if self.problem.shelf_room(offer) or any(more <= spare for more in over):
                kept.add(offer.id)
        return tuple(line for line in self.problem.lines if line.offer.id in kept)


def _size(fitting: Fitting) -> int:
    return sum(len(table.rows) for table in fitting.tables) + sum(map(len, fitting.domains.values()))


def risen(messages: Messages) -> None:
    """Sweep until the bound hardly rises any more."""
    bounds = [messages.bound()]
    for _ in range(MOST_SWEEPS):
        messages.sweep()
        bounds.append(messages.bound())
        if len(bounds) > SOME and bounds[-1] - bounds[-1 - SOME] < WORTH_A_SWEEP * abs(bounds[-1]):
            return


def struck(messages: Messages, spare: int) -> Fitting | None:
    """What a combination at most `spare` above the bound can hold; None where nothing is left."""
    if spare < 0:
        return None
    tables = [
        replace(factor.table, rows=tuple(compress(factor.table.rows, within.tolist())))
        for factor, within in zip(messages.factors, messages.rows_within(spare), strict=True)
    ]
    return Fitting(messages.designs_within(spare), tables).reduced()


def many_rows(problem: Problem) -> bool:
    """Whether a problem's tables are large enough for it to pay."""
    tables = problem.fitting.tables if problem.fitting is not None else ()
    return sum(len(table.rows) for table in tables) >= FEW_ROWS
