"""Which cores go back against which of the pieces that are there: a small program of its own.

Whatever a job minimises, the returns are those with the greatest credit less what returning costs, of equal ones the
fewest; those of a job by itself then the first by code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

import pulp

from sourcing.faults import OurFault
from sourcing.plan import Choice, Purchase, Return, pieces_of
from sourcing.pool.lots import Pool, Wanted
from sourcing.pool.plan import Got, core_room
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.program.grouped import grouped
from sourcing.program.solver import Effort, Solved, solve, value_of
from sourcing.terms import Terms

T = TypeVar("T")
# Told of a Ctrl-C while cores are given up: that is finished, and the run ends after it. Nobody told, the run ends at once.
Heard: TypeAlias = Callable[[], None] | None


@dataclass(frozen=True, order=True, slots=True)
class _Way:
    """Cores of a design, by family, against the pieces of an offer: at most `most`, each for so much credit. Sorts by code."""

    core: Wanted
    supplier: str
    number: str
    offer: int
    credit_cents: int
    most: int


@dataclass(frozen=True)
class _Transport:
    """The program of some ways: how many cores take each."""

    model: pulp.LpProblem
    ways: Sequence[_Way]
    back: Sequence[pulp.LpVariable]
    sends: Mapping[str, pulp.LpVariable]
    heard: Heard

    def _solved(self) -> Solved:
        """What the solver says, asked once more where Ctrl-C cut it short: it takes milliseconds."""
        solved = solve(self.model, Effort())
        if solved.interrupted:
            if self.heard is None:
                raise KeyboardInterrupt
            self.heard()
            solved = solve(self.model, Effort())
            if solved.interrupted:
                raise KeyboardInterrupt
        return solved

    def counts(self) -> list[int] | None:
        """The cores that take each way in the best of what is left; None where nothing is left."""
        values = self._solved().values
        return None if values is None else [round(values[var.name]) for var in self.back]

    def keep_to(self, counts: Sequence[int]) -> None:
        """Narrow the program to what is as good as these."""
        paid = {way.supplier for way, count in zip(self.ways, counts, strict=True) if count}
        values = {var.name: count for var, count in zip(self.back, counts, strict=True)}
        values |= {var.name: int(supplier in paid) for supplier, var in self.sends.items()}
        self.model.addConstraint(self.model.objective <= value_of(self.model.objective, values))


def best_returns(problem: Problem, choice: Choice, heard: Heard = None) -> tuple[Return, ...]:
    """The returns of a choice's purchases, sorted by design, supplier and part number.

    Parameters
    ----------
    heard : told of a Ctrl-C, after which the returns are found all the same

    Raises
    ------
    KeyboardInterrupt
        on Ctrl-C where nobody is told, or on a second one
    """
    family = problem.family.code
    cores = {(family, d): [p] for p, d in problem.cores.items() if p not in choice.kept}
    pieces = pieces_of(problem, choice)
    known = {offer: {family: problem.offer[offer]} for offer in pieces}
    transport = _transport(cores, pieces, known, problem.terms, heard)
    return tuple(Return(p, way.core[1], way.offer) for p, way in _given_up(cores, transport, _first_by_code))


def with_returns(
    pool: Pool, gets: tuple[Got, ...], purchases: tuple[Purchase, ...], heard: Heard = None
) -> tuple[Got, ...]:
    """The same with the cores that go back, any job's against any piece that takes it.

    Parameters
    ----------
    heard : told of a Ctrl-C, after which the returns are found all the same

    Raises
    ------
    KeyboardInterrupt
        on Ctrl-C where nobody is told, or on a second one
    """
    cores = grouped(
        ((one.problem.family.code, design), (one, position))
        for one in gets
        for position, design in one.problem.cores.items()
        if position not in one.choice.kept
    )
    transport = _transport(cores, core_room(pool, gets, purchases), pool.as_known_to, pool.terms, heard)
    given = grouped(
        (one.number, Return(position, way.core[1], way.offer))
        for (one, position), way in _given_up(cores, transport, lambda transport, counts: counts)
    )
    return tuple(
        replace(one, choice=replace(one.choice, returns=tuple(given[one.number]))) if one.number in given else one
        for one in gets
    )


def _transport(
    cores: Mapping[Wanted, Sequence[object]],
    room: Mapping[int, int],
    known: Mapping[int, Mapping[str, Offer]],
    terms: Mapping[str, Terms],
    heard: Heard,
) -> _Transport:
    """The program of all ways in which cores may go back.

    max sum c_o r_do - sum_s g_s z_s,   sum_o r_do <= n_d,   sum_d r_do <= q_o,   r_do <= min(n_d, q_o) z_s(o)
    r_do cores of design d against part o, n_d cores there are, q_o pieces bought or in hand, c_o credit of one [cents],
    z_s 1 if supplier s gets any, g_s what returning to s costs [cents]

    Fewest among equals: one return weighs less than a cent as long as all of them together do.
    """
    ways = sorted(_ways(cores, room, known, terms))
    model = pulp.LpProblem("cores", pulp.LpMinimize)
    back = [model.add_variable(f"back_{i}", 0, way.most, pulp.LpInteger) for i, way in enumerate(ways)]
    suppliers = sorted({way.supplier for way in ways})
    sends = {s: model.add_variable(f"sends_{n}", 0, 1, pulp.LpInteger) for n, s in enumerate(suppliers)}
    of_core = grouped((way.core, var) for way, var in zip(ways, back, strict=True))
    for core in (core for core in cores if core in of_core):
        model += pulp.lpSum(of_core[core]) <= len(cores[core])
    against = grouped((way.offer, var) for way, var in zip(ways, back, strict=True))
    for offer in (offer for offer in room if offer in against):
        model += pulp.lpSum(against[offer]) <= room[offer]
    for way, var in zip(ways, back, strict=True):
        model += var - way.most * sends[way.supplier] <= 0
    cent = sum(way.most for way in ways) + 1
    credits = [(var, 1 - cent * way.credit_cents) for way, var in zip(ways, back, strict=True)]
    fees = [(var, cent * terms[s].core_return_cents) for s, var in sends.items()]
    model.setObjective(pulp.LpAffineExpression([*credits, *fees]))
    return _Transport(model, ways, back, sends, heard)


def _ways(
    cores: Mapping[Wanted, Sequence[object]],
    room: Mapping[int, int],
    known: Mapping[int, Mapping[str, Offer]],
    terms: Mapping[str, Terms],
) -> Iterator[_Way]:
    for (family, design), there in cores.items():
        for number, pieces in room.items():
            offer = known[number].get(family)
            if not pieces or offer is None or design not in offer.part.core_accepts:
                continue
            credit = terms[offer.supplier].core_credit(offer.core_cents)
            if credit:
                spelt, most = offer.part.number.spelt, min(len(there), pieces)
                yield _Way((family, design), offer.supplier, spelt, number, credit, most)


def _given_up(
    cores: Mapping[Wanted, Iterable[T]],
    transport: _Transport,
    settled: Callable[[_Transport, list[int]], list[int]],
) -> Iterator[tuple[T, _Way]]:
    """The cores that go back, each with its way; like cores in their order."""
    if not transport.ways:
        return
    counts = transport.counts()
    if counts is None:
        raise OurFault("no way to give up cores was found, though giving up none is one")
    left = {core: iter(there) for core, there in cores.items()}
    for way, count in zip(transport.ways, settled(transport, counts), strict=True):
        for _ in range(count):
            yield next(left[way.core]), way


def _first_by_code(transport: _Transport, counts: list[int]) -> list[int]:
    """Among equal returns of single cores the first by code: equal ones are equally many, so each next way is tried in turn."""
    model, back = transport.model, transport.back
    taken = [var for var, count in zip(back, counts, strict=True) if count]
    if not taken or len(taken) == len(back):
        return counts
    transport.keep_to(counts)
    model += pulp.lpSum(taken) <= len(taken) - 1, "another"
    if transport.counts() is None:
        return counts
    del model.constraints["another"]
    fixed: list[int] = []
    for i, var in enumerate(back):
        if sum(fixed) == len(taken):
            break
        model += var >= 1, f"try_{i}"
        fixed.append(int(transport.counts() is not None))
        if not fixed[-1]:
            del model.constraints[f"try_{i}"]
            model += var <= 0
    return fixed + [0] * (len(back) - len(fixed))
