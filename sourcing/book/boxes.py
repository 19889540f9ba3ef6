"""A table's rows as boxes that exclude each other: what it admits, and what it refuses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sourcing.book.rules import Row, Table


def admitted(table: Table, domains: Mapping[str, Sequence[str]]) -> tuple[Row, ...]:
    """Boxes that exclude each other and together hold just what a table admits of some domains."""
    return tuple(row for row, admits in _split(table, domains) if admits)


def refused(table: Table, domains: Mapping[str, Sequence[str]]) -> tuple[Row, ...]:
    """Boxes that exclude each other and together hold just what a table refuses of some domains."""
    return tuple(row for row, admits in _split(table, domains) if not admits)


def turned(table: Table, domains: Mapping[str, Sequence[str]]) -> Table:
    """The table that admits what this one refuses."""
    return Table(table.code, table.says, table.source, table.positions, refused(table, domains))


def _split(table: Table, domains: Mapping[str, Sequence[str]]) -> Iterator[tuple[Row, bool]]:
    """Every box of the domains over a table's positions, and whether the table admits it.

    Position by position, values that the same rows hold stay together; a box is whole as soon as no row is left, or one
    row holds all that follows.
    """
    held = [tuple(domains[position]) for position in table.positions]
    if not all(held):
        return
    supports: list[dict[str, int]] = []
    for place, values in enumerate(held):
        support = dict.fromkeys(values, 0)
        for bit, row in enumerate(table.rows):
            for value in row[place]:
                if value in support:
                    support[value] |= 1 << bit
        supports.append(support)
    whole = _rows_that_hold_the_rest(supports)
    rest = [tuple(frozenset(values) for values in held[place:]) for place in range(len(held) + 1)]
    waiting: list[tuple[Row, int]] = [((), (1 << len(table.rows)) - 1)]
    while waiting:
        prefix, alive = waiting.pop()
        place = len(prefix)
        if not alive or alive & whole[place]:
            yield (*prefix, *rest[place]), bool(alive)
            continue
        alike: dict[int, set[str]] = {}
        for value, bits in supports[place].items():
            alike.setdefault(alive & bits, set()).add(value)
        waiting += [((*prefix, frozenset(values)), rows) for rows, values in reversed(alike.items())]


def _rows_that_hold_the_rest(supports: Sequence[Mapping[str, int]]) -> list[int]:
    """For each place, the rows that hold every value from there on; past the last place, all of them."""
    rows = -1
    whole = [rows]
    for support in reversed(supports):
        for bits in support.values():
            rows &= bits
        whole.append(rows)
    return whole[::-1]
