"""Lines that no plan of least cost holds, because another line could stand in for them in every plan and save money.

Line a is left out where some line b exists such that every valid plan with a becomes, with b in its place, a valid plan that
costs strictly less. So a is in no plan of least cost, and no tie is lost. Leaving out several at once is sound: a plan with
any of them is dearer than another plan, that one dearer than a third where it holds one again, and so on to a plan without any.

When b may stand in for a, and what is put against it (all for one job; the amounts in cents):
both are parts of one and the same design, which can stand at one position only, so that a plan buys the smallest quantity of
one of them, on one line; none of it is wanted for the shelf. What a's condition may fill, b's may.
a goes      its price, core charge, freight by weight and comebacks fall away. In its favour: a core came back against each of
            its pieces that could take one; its order pays nothing less. Where its order's freight can be waived, or must reach a
            minimum, a is left out only for a line of the same order that counts for no less there: taking a away could lose it.
b comes     its price, core charge, freight by weight and comebacks, unless waived, in full. Against it: no core comes back,
            its order is placed for it alone (fee and flat freight) unless it goes into a's own order, and every working day
            that it comes later than a is waited for. Its order must reach its minimum by b alone. Another supplier only where
            their number is not limited.
With a core: where b takes back every core of the job that a takes, the core changes over, at the cost of returning to b's
supplier; what counts is then the worse of the two cases, with a core and without.

Silent where a question is asked of the problem: how many are paid at the first price, which part must or must not fill, what was
told, a ceiling. A narrow rule by design: a saving that does not carry a whole order of its own is left to the solver.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sourcing.problem import Line, Problem

# The cheapest newcomers that each line is held against.
MOST_TRIED = 4


@dataclass(frozen=True, slots=True)
class _Weighed:
    """A line as it stands in a plan: cents without any core coming back, the core that may, its counting towards thresholds."""

    line: Line
    cents: int
    credit: int
    accepts: frozenset[str]
    opening: int
    minor: int
    conditional: bool

    @property
    def best(self) -> int:
        return self.cents - (self.credit if self.accepts else 0)


def without_dominated(problem: Problem) -> Problem:
    """The problem without the lines that another line beats in every plan; the same optimum and the same ties."""
    if problem.asked or problem.using or problem.sparing or problem.told or problem.ceilings:
        return problem
    out = {line.key for lines in _rivals(problem) for line in _beaten(problem, lines)}
    if not out:
        return problem
    return replace(problem, lines=tuple(line for line in problem.lines if line.key not in out))


def _rivals(problem: Problem) -> Iterator[list[_Weighed]]:
    """Lines of the same design, where it may be had in several ways."""
    found: dict[str, list[_Weighed]] = {}
    cores = frozenset(problem.cores.values()) if problem.minimise != "cash" else frozenset()
    for line in problem.lines:
        fills = line.offer.part.fills
        if len(fills) == 1 and fills[0] not in problem.wishes:
            position = problem.family.design[fills[0]].position
            if problem.may_fill(line.offer, position):
                found.setdefault(fills[0], []).append(_weighed(problem, line, position, cores))
    return (lines for lines in found.values() if len(lines) > 1)


def _weighed(problem: Problem, line: Line, position: str, cores: frozenset[str]) -> _Weighed:
    offer, terms = line.offer, problem.terms[line.offer.supplier]
    pieces = offer.smallest
    cents = offer.cents(pieces) + pieces * (offer.core_cents + line.piece_freight_cents)
    if problem.minimise == "whole":
        cents += problem.comeback_cents(position, offer, offer.part.fills[0])
    opening = line.mode.flat_cents + terms.order_fee_cents
    conditional = line.mode.free_over_minor is not None or terms.order_minimum_minor > 0
    return _Weighed(line, cents, pieces * terms.core_credit(offer.core_cents), offer.part.core_accepts & cores, opening,
                    offer.minor(pieces), conditional)  # fmt: skip


def _beaten(problem: Problem, lines: list[_Weighed]) -> Iterator[Line]:
    newcomers = sorted(lines, key=lambda one: one.cents + one.opening)[:MOST_TRIED]
    for one in lines:
        mates = [other for other in lines if other.line.order == one.line.order]
        if any(_beats(problem, other, one) for other in (*newcomers, *mates) if other.line.offer is not one.line.offer):
            yield one.line


def _beats(problem: Problem, b: _Weighed, a: _Weighed) -> bool:
    """Whether b in a's place makes every plan with a cheaper."""
    together = b.line.order == a.line.order
    if not _may(problem, b, a, together):
        return False
    days = problem.shop.day_cents * max(0, b.line.workdays - a.line.workdays) if problem.minimise == "whole" else 0
    comes = b.cents + days + (0 if together else b.opening)
    if comes < _least(a):
        return True
    if not (a.accepts and a.accepts <= b.accepts and a.line.offer.smallest == b.line.offer.smallest == 1):
        return False
    changes_over = comes - b.credit + problem.terms[b.line.offer.supplier].core_return_cents
    return comes < _least(replace(a, accepts=frozenset())) and changes_over < _least(a)


def _least(a: _Weighed) -> int:
    """What a costs at the very least: freight by weight only where nothing waives it."""
    waived = a.line.mode.free_over_minor is not None
    return a.best - (a.line.offer.smallest * a.line.piece_freight_cents if waived else 0)


def _may(problem: Problem, b: _Weighed, a: _Weighed, together: bool) -> bool:
    """Whether every plan with a stays valid with b in its place, and loses nothing that a's price counted towards."""
    taken, terms = b.line.offer.part.condition, problem.terms[b.line.offer.supplier]
    position = problem.family.design[a.line.offer.part.fills[0]].position
    if taken not in problem.family.position[position].conditions:
        return False
    if together:
        return not a.conditional or b.minor >= a.minor
    if a.conditional or b.minor < terms.order_minimum_minor:
        return False
    return problem.job.limits.max_suppliers is None or b.line.offer.supplier == a.line.offer.supplier
