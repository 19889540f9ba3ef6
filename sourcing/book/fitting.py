"""The one engine over a book's tables: propagate, search, explain.

Rows of a table are bits of one whole number: a value's support is the set of rows that hold it, and the rows still
alive are the common ones of all positions (compact tables: Demeulenaere et al., "Compact-Table", CP 2016).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sourcing.book.family import NONE, Family
from sourcing.book.rules import Left, Row, Setting, Table, named, obeyed, tables
from sourcing.book.seeking import sought

Domains = dict[str, tuple[str, ...]]
# Failures on the way to the first combination in order, beyond which any will do.
PATIENCE = 200


class _TooOften(Exception):
    """The search in order fails too often to be gone on with."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something does or does not go: `kind` is rule, limit, part, era or fact; `code` names the rule or part."""

    kind: str
    says: str
    code: str = ""
    source: str = ""
    positions: tuple[str, ...] = ()
    designs: tuple[str, ...] = ()


def supports_of(rows: Sequence[Row], place: int) -> dict[str, int]:
    """For each value of a column of cells the rows that hold it, as bits."""
    held: dict[str, list[int]] = {}
    for bit, row in enumerate(rows):
        for value in row[place]:
            held.setdefault(value, []).append(bit)
    return {value: bits_of(places, len(rows)) for value, places in held.items()}


def bits_of(places: Iterable[int], length: int) -> int:
    """A whole number with these of its `length` bits set, in one pass."""
    packed = bytearray(length // 8 + 1)
    for place in places:
        packed[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(packed, "little")


class _Indexed:
    """A table with each value's support as a bit set of rows."""

    __slots__ = ("supports", "table")

    def __init__(self, table: Table) -> None:
        self.table = table
        self.supports = [supports_of(table.rows, place) for place in range(len(table.positions))]

    def alive(self, domains: Domains) -> int:
        """The rows that hold some value at every position, as bits."""
        alive = -1 if self.table.rows else 0
        for position, support in zip(self.table.positions, self.supports, strict=True):
            union = 0
            for value in domains[position]:
                union |= support.get(value, 0)
            alive &= union
        return alive

    def prune(self, domains: Domains) -> list[str] | None:
        """Drop values without a living row, in place; the positions that changed, or None where none is left."""
        alive = self.alive(domains)
        changed = []
        for position, support in zip(self.table.positions, self.supports, strict=True):
            kept = tuple(value for value in domains[position] if support.get(value, 0) & alive)
            if not kept:
                return None
            if len(kept) < len(domains[position]):
                domains[position] = kept
                changed.append(position)
        return changed


class Fitting:
    """What may stand together in a unit: each position's designs, and the tables over them.

    Parameters
    ----------
    domains : what each position may hold, in order of preference
    tables : the rules in force
    """

    def __init__(
        self,
        domains: Mapping[str, Sequence[str]],
        in_force: Sequence[Table],
        indexed: Sequence[_Indexed] | None = None,
    ) -> None:
        self.domains: Domains = {position: tuple(values) for position, values in domains.items()}
        self.tables = tuple(in_force)
        self._indexed = [_Indexed(table) for table in self.tables] if indexed is None else list(indexed)
        self.touching: Mapping[str, list[int]] = {position: [] for position in self.domains}
        for index, table in enumerate(self.tables):
            for position in table.positions:
                self.touching[position].append(index)

    def propagated(self, domains: Domains | None = None, touched: str | None = None) -> Domains | None:
        """The domains without what no living row supports, at a fixed point; None where a position is left empty."""
        here = dict(self.domains if domains is None else domains)
        return here if all(here.values()) and self.narrow(here, touched) is None else None

    def narrow(self, here: Domains, touched: str | None = None) -> int | None:
        """Propagate in place; the number of the table that leaves nothing, or None where something is left."""
        queue = deque(range(len(self.tables)) if touched is None else self.touching[touched])
        waiting = set(queue)
        while queue:
            index = queue.popleft()
            waiting.discard(index)
            changed = self._indexed[index].prune(here)
            if changed is None:
                return index
            for position in changed:
                for other in self.touching[position]:
                    if other not in waiting and other != index:
                        waiting.add(other)
                        queue.append(other)
        return None

    def combinations(self) -> Iterator[dict[str, str]]:
        """Every valid combination, in the order of the domains."""
        start = self.propagated()
        if start is not None:
            yield from self._search(start, list(start))

    @cached_property
    def groups(self) -> tuple[tuple[str, ...], ...]:
        """Positions that tables tie together, directly or over others; what stands in one group asks nothing of another."""
        return tuple(tuple(group) for group in joined(self.domains, [table.positions for table in self.tables]))

    def first(self, domains: Domains | None = None, touched: str | None = None) -> dict[str, str] | None:
        """A valid combination within some domains, or None where there is none; group by group, so that it stays quick.

        `touched` names the one position in which propagated domains were cut down further.
        """
        start = self.propagated(domains, touched)
        if start is None:
            return None
        found: dict[str, str] = {}
        weights: dict[int, float] = {}
        for group in self.groups:
            made = self._first_of(start, group, weights)
            if made is None:
                return None
            found |= made
        return {position: found[position] for position in start}

    def _first_of(self, domains: Domains, group: Sequence[str], weights: dict[int, float]) -> dict[str, str] | None:
        """The first combination of a group in order; any, where failing too often on the way to it."""
        try:
            return next(self._search({position: domains[position] for position in group}, group, [PATIENCE]), None)
        except _TooOften:
            return sought(self, domains, group, weights)

    def _search(
        self, domains: Domains, order: Sequence[str], patience: list[int] | None = None
    ) -> Iterator[dict[str, str]]:
        """Every combination in order; `patience` counts down the failures that are borne."""
        branch = next((position for position in order if len(domains[position]) > 1), None)
        if branch is None:
            yield {position: values[0] for position, values in domains.items()}
            return
        for value in domains[branch]:
            tried = self.propagated({**domains, branch: (value,)}, branch)
            if tried is not None:
                yield from self._search(tried, order, patience)
            elif patience is not None:
                patience[0] -= 1
                if patience[0] < 0:
                    raise _TooOften

    def conflict(self) -> tuple[Table, ...]:
        """Where nothing fits: tables that together leave nothing, none of which could be spared.

        Deletion filter: a table without which nothing fits all the same is dropped for good (Chinneck, "Feasibility
        and Infeasibility in Optimization", Springer 2008, ch. 6). Whole runs of tables are tried first, halved where they
        cannot go: what goes together would also have gone one by one.
        """
        left = set(self._first_failing())
        waiting = [sorted(left)]
        while waiting:
            run = waiting.pop()
            if not run:
                continue
            fewer = left - set(run)
            if self.only(fewer).first() is None:
                left = fewer
            elif len(run) > 1:
                half = len(run) // 2
                waiting += [run[half:], run[:half]]
        return tuple(self.tables[index] for index in sorted(left))

    def _first_failing(self) -> list[int]:
        """The tables of the first group in which nothing fits."""
        for group in self.groups:
            if self.part(group).first() is None:
                return self._of(group)
        return []

    def _of(self, group: Sequence[str]) -> list[int]:
        inside = set(group)
        return [n for n, table in enumerate(self.tables) if table.positions[0] in inside]

    def part(self, group: Sequence[str]) -> Fitting:
        """The same question for one of the groups alone."""
        return self.only(self._of(group), {place: self.domains[place] for place in group})

    def broken_at(self, position: str, combination: Mapping[str, str]) -> Table | None:
        """The first table over a position that a combination breaks."""
        held: Domains = {place: (value,) for place, value in combination.items()}
        broken = (n for n in self.touching[position] if not self._indexed[n].alive(held))
        return next((self.tables[n] for n in broken), None)

    def refusing(self, domains: Domains) -> list[Table]:
        """The tables that admit nothing of some domains, each by itself."""
        return [table for table, one in zip(self.tables, self._indexed, strict=True) if not one.alive(domains)]

    def only(self, kept: Iterable[int], domains: Domains | None = None) -> Fitting:
        """The same question under some of the tables only, named by their place among them."""
        chosen = sorted(kept)
        held = self.domains if domains is None else domains
        return Fitting(held, [self.tables[n] for n in chosen], [self._indexed[n] for n in chosen])

    def plus(self, table: Table) -> Fitting:
        """The same question under one more table."""
        return Fitting(self.domains, [*self.tables, table], [*self._indexed, _Indexed(table)])

    def within(self, domains: Domains) -> Fitting:
        """The same tables over other domains."""
        return Fitting(domains, self.tables, self._indexed)

    def reduced(self) -> Fitting | None:
        """The same question without hopeless designs, dead rows, and rules of which one row holds all that is left.

        Keeps every valid combination: propagation only drops values that stand in no living row, and a table is only
        dropped where one row holds all that is left.
        """
        domains = self.propagated()
        if domains is None:
            return None
        cut: dict[str, dict[frozenset[str], frozenset[str]]] = {position: {} for position in domains}
        left = []
        for table in self.tables:
            cells = [cut[position] for position in table.positions]
            held = [frozenset(domains[position]) for position in table.positions]
            rows: dict[Row, None] = {}
            for row in table.rows:
                kept = tuple(map(_cut, cells, held, row))
                if all(kept):
                    rows[kept] = None
            if tuple(held) not in rows:
                left.append(Table(table.code, table.says, table.source, table.positions, tuple(rows)))
        return Fitting(domains, left)


def _cut(known: dict[frozenset[str], frozenset[str]], held: frozenset[str], cell: frozenset[str]) -> frozenset[str]:
    """What a cell holds of a position, each cell reckoned and kept once."""
    kept = known.get(cell)
    if kept is None:
        kept = known[cell] = cell & held
    return kept


def joined(positions: Iterable[str], ties: Iterable[Sequence[str]]) -> list[list[str]]:
    """Positions in groups: those that a tie names belong together, and so does what they tie in turn."""
    head = {position: position for position in positions}

    def root(position: str) -> str:
        while head[position] != position:
            head[position] = head[head[position]]
            position = head[position]
        return position

    for tie in ties:
        for other in tie[1:]:
            head[root(other)] = root(tie[0])
    groups: dict[str, list[str]] = {}
    for position in head:
        groups.setdefault(root(position), []).append(position)
    return list(groups.values())


def fitting_of(family: Family, setting: Setting, left_open: Left | None = None) -> Fitting:
    """What the book lets stand in a unit of this setting; keys left open stand among the positions."""
    domains = {
        position.code: tuple(
            value
            for value in family.holds[position.code]
            if value == NONE or family.design[value].usable_in(setting.era)
        )
        for position in family.positions
    }
    return Fitting({**domains, **(left_open or {})}, tables(family, setting, left_open))


def reasons_against(
    family: Family, setting: Setting, combination: Mapping[str, str], at: str | None = None
) -> list[Reason]:
    """Why a combination is not valid in a unit, rule by rule; empty where it is.

    A combination may leave positions out: only what it names is judged; with `at`, only what that position has to do with.
    """
    against = []
    era = family.era[setting.era]
    for position, value in combination.items() if at is None else ((at, combination[at]),):
        if value == NONE:
            if not family.position[position].optional:
                says = f"the unit does not run without its {family.position[position].name}"
                against.append(Reason("rule", says, positions=(position,)))
        elif not family.design[value].usable_in(setting.era):
            says = (
                f"{family.name_of(value)} does not belong in a unit of {era.name}: "
                "the factory did not fit it there, and the book does not let it go back in"
            )
            against.append(Reason("era", says, value, positions=(position,)))
    for rule in family.rules if at is None else family.rules_at.get(at, ()):
        if not obeyed(rule, setting, combination):
            positions = tuple(dict.fromkeys([*(key for key in rule.when if key in family.position), *named(rule)]))
            against.append(Reason("rule", rule.says, rule.code, rule.source, positions))
    return against
