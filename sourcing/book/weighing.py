"""Combinations weighed without listing them: how many are valid, and how their weight spreads over each position.

Each combination weighs the product of its designs' weights. The sum over all valid ones is built by eliminating one
position after another from sparse tables, and every position's share by the way back through the same buckets (bucket
elimination: Dechter, Artificial Intelligence 113, 1999; division on the way back: Jensen, Lauritzen and Olesen, 1990).
All numbers are whole, so every sum is exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from sourcing.book.boxes import admitted
from sourcing.book.fitting import Domains, Fitting
from sourcing.book.rules import Table

Cells = dict[tuple[str, ...], int]
MOST_CELLS = 2_000_000  # of one joined table: some seconds and some hundred MB
WRITTEN_OUT = 30_000  # cells of a rule that is written out; a larger one gets a place of its own for "which row"


class TooTangled(Exception):
    """So many positions hang together that combinations cannot be weighed exactly in good time."""


@dataclass(frozen=True, slots=True)
class _Factor:
    """Weights over some places; what is not in `cells` weighs nothing."""

    places: tuple[str, ...]
    cells: Cells


Written = dict[tuple[int, tuple[tuple[str, ...], ...]], list[_Factor]]


class Weighing:
    """The weight of all valid combinations, and each position's share of it.

    Parameters
    ----------
    fitting : what may stand together
    weights : for each position the weight of each of its values, whole and not negative; left out: 1
    spread : whether shares are asked for besides the total
    either : places of which it only counts that some value fits (facts left open, say), not how many do

    written : tables written out by an earlier weighing of the same tables, to be used again

    Raises
    ------
    TooTangled
        where a joined table would pass two million cells
    """

    def __init__(
        self,
        fitting: Fitting,
        weights: Mapping[str, Mapping[str, int]] | None = None,
        spread: bool = True,
        either: Sequence[str] = (),
        written: Written | None = None,
    ) -> None:
        self._written: Written = {} if written is None else written
        self._spread = spread and not either
        self._shares: dict[str, dict[str, int]] = {}
        self.total = 1
        domains = fitting.propagated()
        if domains is None:
            self.total = 0
            return
        for group in fitting.groups:
            inside = set(group)
            held = [table for table in fitting.tables if table.positions[0] in inside]
            self.total *= self._weigh(
                {p: domains[p] for p in group}, held, weights or {}, [p for p in either if p in inside]
            )

    def shares(self, position: str) -> dict[str, int]:
        """The weight of each value of a position, in units that are its group's own; {} where nothing has weight."""
        return self._shares.get(position, {})

    def _weigh(
        self,
        domains: Domains,
        tables: Iterable[Table],
        weights: Mapping[str, Mapping[str, int]],
        either: Sequence[str],
    ) -> int:
        """Weigh one group; its total."""
        factors = []
        named: set[str] = set()
        for number, table in enumerate(tables):
            named.update(table.positions)
            key = (id(table), tuple(domains[position] for position in table.positions))
            if key not in self._written:
                self._written[key] = _factors_of(table, domains, f"row {number}")
            factors += self._written[key]
        for place, values in domains.items():
            if place in weights or place not in named:
                told = weights.get(place, {})
                factors.append(_Factor((place,), {(v,): w for v in values if (w := told.get(v, 1))}))
        buckets: list[tuple[str, _Factor, tuple[str, ...], Cells]] = []
        waiting = dict(enumerate(factors))
        left = {place for factor in factors for place in factor.places}
        first = [place for place in either if place in left]
        total = 1
        while left:
            place = first.pop(0) if first else _next_place(waiting.values(), left)
            mine = [number for number, factor in waiting.items() if place in factor.places]
            joined = _joined([waiting.pop(number) for number in mine])
            rest = tuple(other for other in joined.places if other != place)
            sent = _spread(joined, rest)
            if place in either:
                sent = dict.fromkeys(sent, 1)
            buckets.append((place, joined, rest, sent))
            left.discard(place)
            if rest:
                waiting[len(factors) + len(buckets)] = _Factor(rest, sent)
            else:
                total *= sent.get((), 0)
        if self._spread:
            self._shares |= {p: shares for p, shares in _shares_of(buckets).items() if p in domains}
        return total


def _factors_of(table: Table, domains: Domains, name: str) -> list[_Factor]:
    """A table as weights of 1: written out, or, where that is large, by a place that says which of its boxes holds."""
    boxes = admitted(table, domains)
    if sum(prod(map(len, box)) for box in boxes) <= WRITTEN_OUT:
        cells: Cells = {}
        for box in boxes:
            written: list[tuple[str, ...]] = [()]
            for cell in box:
                written = [(*begun, value) for begun in written for value in cell]
            cells |= dict.fromkeys(written, 1)
        return [_Factor(table.positions, cells)]
    return [
        _Factor((position, name), {(value, str(row)): 1 for row, box in enumerate(boxes) for value in box[place]})
        for place, position in enumerate(table.positions)
    ]


def _next_place(factors: Iterable[_Factor], left: Iterable[str]) -> str:
    """The place whose elimination joins the fewest others; of equal ones the one with the smallest tables."""
    around: dict[str, set[str]] = {place: set() for place in left}
    size: dict[str, int] = dict.fromkeys(left, 0)
    for factor in factors:
        for place in factor.places:
            around[place].update(factor.places)
            size[place] += len(factor.cells)
    return min(left, key=lambda place: (len(around[place]), size[place], place))


def _joined(factors: Sequence[_Factor]) -> _Factor:
    ordered = sorted(factors, key=lambda factor: (len(factor.cells), factor.places))
    joined = ordered[0]
    for factor in ordered[1:]:
        joined = _join(joined, factor)
    return joined


def _join(one: _Factor, other: _Factor) -> _Factor:
    shared = [place for place in one.places if place in other.places]
    more = [place for place in other.places if place not in one.places]
    key, rest = ([other.places.index(place) for place in places] for places in (shared, more))
    found: dict[tuple[str, ...], list[tuple[tuple[str, ...], int]]] = {}
    for cell, weight in other.cells.items():
        found.setdefault(tuple(cell[n] for n in key), []).append((tuple(cell[n] for n in rest), weight))
    here = [one.places.index(place) for place in shared]
    cells: Cells = {}
    for cell, weight in one.cells.items():
        for tail, times in found.get(tuple(cell[n] for n in here), ()):
            cells[cell + tail] = weight * times
        if len(cells) > MOST_CELLS:
            raise TooTangled
    return _Factor((*one.places, *more), cells)


def _spread(factor: _Factor, onto: Sequence[str]) -> Cells:
    """The weights added up over everything but some places."""
    kept = [factor.places.index(place) for place in onto]
    cells: Cells = {}
    for cell, weight in factor.cells.items():
        key = tuple(cell[n] for n in kept)
        cells[key] = cells.get(key, 0) + weight
    return cells


def _shares_of(buckets: Sequence[tuple[str, _Factor, tuple[str, ...], Cells]]) -> dict[str, dict[str, int]]:
    """Each place's weights: from the last bucket back to the first, what the rest says divided by what was sent."""
    believed: list[_Factor | None] = [None] * len(buckets)
    at = {place: number for number, (place, *_) in enumerate(buckets)}
    shares: dict[str, dict[str, int]] = {}
    for number in reversed(range(len(buckets))):
        place, joined, rest, sent = buckets[number]
        belief = joined
        if rest:
            above = believed[min(at[other] for other in rest)]
            assert above is not None
            told = _spread(above, rest)
            times = {key: told[key] // weight for key, weight in sent.items() if weight and key in told}
            kept = [joined.places.index(other) for other in rest]
            cells = {cell: weight * times.get(tuple(cell[n] for n in kept), 0) for cell, weight in joined.cells.items()}
            belief = _Factor(joined.places, {cell: weight for cell, weight in cells.items() if weight})
        believed[number] = belief
        shares[place] = {cell[0]: weight for cell, weight in _spread(belief, (place,)).items() if weight}
    return shares
