"""A valid combination found where going through them in order takes too long.

Branch where the fewest designs are left for the weight of the tables that failed there, and begin anew, with what was
learnt, after a growing number of failures. (Weighted degrees: Boussemart, Hemery, Lecoutre and Sais, "Boosting systematic
search by weighting constraints", ECAI 2004; restarts that grow: Walsh, "Search in a small world", IJCAI 1999.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

Domains = dict[str, tuple[str, ...]]
FIRST_RUN = 50
GROWTH = 1.5


class Tables(Protocol):
    """What a search asks of a fitting."""

    @property
    def touching(self) -> Mapping[str, Sequence[int]]:
        """The tables over each position, by number."""
        ...

    def narrow(self, domains: Domains, touched: str | None) -> int | None:
        """Propagate in place; the table that leaves nothing, or None where something is left."""
        ...


def sought(tables: Tables, domains: Domains, group: Sequence[str], weights: dict[int, float]) -> dict[str, str] | None:
    """A combination of a group of positions within propagated domains, or None where there is none.

    `weights` of the tables are learnt as it goes. Every run that ends by itself has looked at all there is.
    """
    limit = float(FIRST_RUN)
    while True:
        found, whole = _run(tables, domains, group, weights, int(limit))
        if found is not None or whole:
            return found
        limit *= GROWTH


def _run(
    tables: Tables, start: Domains, group: Sequence[str], weights: dict[int, float], limit: int
) -> tuple[dict[str, str] | None, bool]:
    """One run: what it found, and whether it looked at all there is."""
    failures = 0
    stack: list[tuple[Domains, str, list[str]]] = []
    here = start
    while True:
        branch = _branch(tables, here, group, weights)
        if branch is None:
            return {position: here[position][0] for position in group}, True
        stack.append((here, branch, list(reversed(here[branch]))))
        while True:
            if not stack:
                return None, True
            before, position, left = stack[-1]
            if not left:
                stack.pop()
                continue
            tried: Domains = {**before, position: (left.pop(),)}
            failed = tables.narrow(tried, position)
            if failed is None:
                here = tried
                break
            weights[failed] = weights.get(failed, 1.0) + 1
            failures += 1
            if failures > limit:
                return None, False


def _branch(tables: Tables, here: Domains, group: Sequence[str], weights: Mapping[int, float]) -> str | None:
    best, least = None, float("inf")
    for position in group:
        left = len(here[position])
        if left > 1:
            share = left / (1 + sum(weights.get(table, 1.0) for table in tables.touching[position]))
            if share < least:
                best, least = position, share
    return best
