"""The fewest marks that tell one design from others: what to look at when a box is opened."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sourcing.book.family import Family, Mark
from sourcing.book.marks import same


@dataclass(frozen=True, slots=True)
class Telling:
    """Marks that tell a design from its look-alikes together; `untold` are those that no mark of the book tells from it.

    A look-alike is told where the book gives both a reading of the same mark, and the readings differ.
    """

    design: str
    marks: tuple[str, ...]
    untold: tuple[str, ...]


def fewest_marks(family: Family, design: str, others: Sequence[str]) -> Telling:
    """The smallest set of marks that tells `design` from each of `others`.

    It is exact: a smallest hitting set by branching on the look-alike that the fewest marks tell, sizes tried from the
    least on (iterative deepening). Of equally small sets it is one with the fewest marks for which something must come off,
    and always the same one.
    """
    marks = [mark for mark in family.marks if mark.code in family.design[design].marks]
    tells = {mark.code: _told(family, design, others, mark) for mark in marks}
    every = frozenset().union(*tells.values()) if tells else frozenset[str]()
    rank = {mark.code: (bool(mark.needs), place) for place, mark in enumerate(marks)}
    useful = _undominated(tells, rank)
    for size in range(len(useful) + 1):
        sets = set(_covers(every, {code: tells[code] for code in useful}, size))
        if sets:
            best = min(
                sets, key=lambda chosen: (sum(rank[code][0] for code in chosen), sorted(rank[c] for c in chosen))
            )
            ordered = tuple(mark.code for mark in marks if mark.code in best)
            return Telling(design, ordered, tuple(other for other in others if other not in every))
    raise AssertionError("all useful marks together tell whatever any of them tells")


def _told(family: Family, design: str, others: Iterable[str], mark: Mark) -> frozenset[str]:
    right = family.design[design].marks[mark.code]
    readings = {other: family.design[other].marks for other in others}
    return frozenset(o for o, marks in readings.items() if mark.code in marks and not same(marks[mark.code], right))


def _undominated(tells: dict[str, frozenset[str]], rank: dict[str, tuple[bool, int]]) -> list[str]:
    """Marks without those that tell nothing more than another one that is no harder to see."""
    kept: list[str] = []
    for code in sorted(tells, key=lambda code: (-len(tells[code]), rank[code])):
        easier = (other for other in kept if rank[other][0] <= rank[code][0])
        if tells[code] and not any(tells[code] <= tells[other] for other in easier):
            kept.append(code)
    return kept


def _covers(left: frozenset[str], tells: dict[str, frozenset[str]], size: int) -> Iterator[frozenset[str]]:
    """Every set of at most `size` marks that branching finds to tell all of `left`."""
    if not left:
        yield frozenset()
        return
    if size == 0:
        return
    by = {other: [code for code, told in tells.items() if other in told] for other in left}
    hardest = min(sorted(left), key=lambda other: len(by[other]))
    for code in by[hardest]:
        for rest in _covers(left - tells[code], tells, size - 1):
            yield rest | {code}
