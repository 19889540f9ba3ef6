"""Rows and designs that no plan below a cutoff can hold, taken out of the tables before the program is built.

Every plan whose cost is at most the cutoff is kept, ties included: a row, or a design, goes only where the bound with it
held to lies strictly above the cutoff, and propagation takes out only what stands in no living row. So where the
cheapest plan of what is left costs no more than the cutoff, it is the cheapest of all, and all plans that cost the same
are still there; where it costs more, its cost is a cutoff that holds.

First costs are shifted between tables until the bound hardly rises; then a walk through all positions finds what the
cheapest combination costs at its floors, and the least with each design. Where that would take too many steps, or too
long, the shifted costs alone bound each row and design. Once the cost of a plan is known, the orders and waits that every
plan up to it pays are counted too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import compress

import numpy as np

from sourcing.book.fitting import Fitting
from sourcing.problem import Line, Problem
from sourcing.program.ahead.certain import Least, paid_besides
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, bought_floors, floor_of
from sourcing.program.ahead.messages import Messages, carried, messages_of
from sourcing.program.ahead.outlook import Outlook, outlooks
from sourcing.program.ahead.stages import BARRED, Stages, stages_of
from sourcing.program.ahead.walking import Walk, least_with, walk

# Rows in all, and on average of a table, from which it pays to look at bounds of the tables ahead of the program: small tables
# the other bound holds as well, and freight with them.
FEW_ROWS, FEW_A_TABLE = 200, 15
# The first cutoff lies one part in so many above the bound, each further one so many times as far, none beyond the last share.
FIRST_SHARE = 2000
FURTHER = 4
LAST_SHARE = 10
MOST_SWEEPS = 60
# Sweeps go on while the last few of them lift the bound by this share of it.
WORTH_A_SWEEP = 2e-5
SOME = 5
# Cells of an outlook.
CELLS = 100_000
# The same for the many walks that each leave something out, and the steps from which these are given up.
FEW_CELLS, FEW_STEPS = 20_000, 1_000_000
# Places that the first walks keep at a turn, until one comes to an end.
WIDTHS = (1_000, 10_000, 100_000)


@dataclass(frozen=True, slots=True)
class _Walks:
    """The turns of a walk, what lies ahead of each, and what a first walk found."""

    stages: Stages
    outlook: list[Outlook]
    first: Walk


class Tables:
    """The tables of a problem, cut down to what plans up to a cutoff can hold.

    Parameters
    ----------
    problem : a problem with a fitting
    spent : whether time is up; what takes long is then left out
    """

    def __init__(self, problem: Problem, spent: Callable[[], bool] = lambda: False) -> None:
        assert problem.fitting is not None
        floor = floor_of(problem)
        self.problem, self._always, self._least, self._spent = problem, floor.always, floor.least, spent
        self._messages = messages_of(problem.fitting, floor.least)
        risen(self._messages)
        self._walks = self._walked()

    def _walked(self) -> _Walks | None:
        """The cheapest combination at its floors, or a bound under it."""
        stages = stages_of(self._messages)
        outlook = outlooks(stages, CELLS)
        first = None
        for width in WIDTHS:
            first = walk(stages, outlook, int(BARRED) // 2, width, self._spent)
            if first is None:
                return None
            if first.cost is not None:
                break
        assert first is not None
        if first.cost is not None and first.bound < first.cost:
            first = walk(stages, outlook, first.cost, spent=self._spent) or first
        return _Walks(stages, outlook, first)

    @property
    def bound(self) -> int:
        """Cents below which no plan can cost: rounded down."""
        least = self._messages.bound()
        if self._walks is not None:
            least = max(least, self._walks.stages.base + self._walks.first.bound)
        return (least + self._always) // PARTS_OF_A_CENT

    def charge(self, cost: int) -> None:
        """Count what every plan of at most `cost` cents pays besides its floors; cutoffs above it do not hold from here on."""
        if self._walks is None:
            return
        for cents in paid_besides(self.problem, lambda least, besides: self._beyond(least, cost, besides)):
            self._always += cents * PARTS_OF_A_CENT

    def _beyond(self, least: Least, cost: int, besides: int = 0) -> bool:
        """Whether every combination at other floors, and `besides`, costs more than so many cents."""
        assert self._walks is not None
        stages, own = self._walks.stages, []
        for (position, designs), before in zip(self._messages.domains.items(), self._walks.stages.own, strict=True):
            more = [least[position].get(d, BARRED) - self._least[position].get(d, BARRED) for d in designs]
            own.append(np.minimum(before + np.array(more, dtype=np.int64), BARRED))
        other = replace(stages, own=own)
        spare = (cost + 1) * PARTS_OF_A_CENT - 1 - self._always - besides - stages.base
        walked = walk(other, outlooks(other, FEW_CELLS), spare, spent=self._spent, most=FEW_STEPS)
        return walked is not None and walked.cost is None

    def guess(self) -> int:
        """A first cutoff in cents: not far above the bound."""
        return self.bound + max(100, abs(self.bound) // FIRST_SHARE)

    def further(self, cutoff: int) -> int | None:
        """A higher cutoff where there was no plan below one; None where it is time to give up cutting."""
        spare = FURTHER * (cutoff - self.bound)
        return self.bound + spare if spare * LAST_SHARE < abs(self.bound) else None

    def up_to(self, cutoff: int) -> Problem | None:
        """The problem with what plans of at most `cutoff` cents can hold; None where that is none."""
        assert self.problem.fitting is not None
        most = (cutoff + 1) * PARTS_OF_A_CENT - 1 - self._always
        above = self._least_above(most)
        if above is None:
            return self._by_messages(most)
        spare = most - self._walks.stages.base  # type: ignore[union-attr]
        fitting = _within(self.problem.fitting, above, spare)
        if fitting is None:
            return None
        return replace(self.problem, fitting=fitting, lines=self._lines(above, spare))

    def _least_above(self, most: int) -> Least | None:
        """How far above the walk's base each design lies at least in a combination; None where no walk tells."""
        if self._walks is None:
            return None
        stages = self._walks.stages
        walked = walk(stages, self._walks.outlook, most - stages.base, spent=self._spent)
        if walked is None:
            return None
        domains = self._messages.domains
        if walked.cost is None:
            return {position: {} for position in domains}
        costs = dict(zip(domains, least_with(stages, walked), strict=True))
        return {position: dict(zip(domains[position], map(int, costs[position]), strict=True)) for position in domains}

    def _by_messages(self, most: int) -> Problem | None:
        """The same by the shifted costs alone."""
        fitting, messages = self.problem.fitting, self._messages
        while fitting is not None:
            before = _size(fitting)
            fitting = struck(messages, most - messages.bound())
            if fitting is None or _size(fitting) > 0.9 * before:
                break
            messages = carried(messages, fitting)
            risen(messages)
        if fitting is None:
            return None
        return replace(self.problem, fitting=fitting, lines=self._lines(messages.above(), most - messages.bound()))

    def _lines(self, above: Least, spare: int) -> tuple[Line, ...]:
        """The lines that a plan at most `spare` above the bound can hold: by what they cost beyond their design's floor."""
        kept = set()
        for offer in self.problem.offers:
            floors = bought_floors(self.problem, offer)
            over = (above[p].get(d, spare + 1) + floor - self._least[p][d] for p, d, floor in floors)
            if self.problem.shelf_room(offer) or any(more <= spare for more in over):
                kept.add(offer.id)
        return tuple(line for line in self.problem.lines if line.offer.id in kept)


def _size(fitting: Fitting) -> int:
    return sum(len(table.rows) for table in fitting.tables) + sum(map(len, fitting.domains.values()))


def _within(fitting: Fitting, above: Least, spare: int) -> Fitting | None:
    """What is left of the tables where only designs at most `spare` above a base are held; None where nothing is."""
    left = {
        position: tuple(design for design in designs if above[position].get(design, spare + 1) <= spare)
        for position, designs in fitting.domains.items()
    }
    return Fitting(left, fitting.tables).reduced() if all(left.values()) else None


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
    return sum(len(table.rows) for table in tables) >= max(FEW_ROWS, FEW_A_TABLE * len(tables))
