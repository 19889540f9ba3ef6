"""Which row is the header: declared, or the row or pair of rows whose words and contents say most."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from sourcing.prices.fields import header_at
from sourcing.prices.grid import Grid
from sourcing.prices.header import Header, titles_of
from sourcing.prices.layout import Layout
from sourcing.prices.words import break_quantity, currency_named, folded, meaning

HEADER_WITHIN = 50  # rows that hold something, from the top


def find_header(grid: Grid, layout: Layout, start: int = 0) -> Header | None:
    """The first best header from `start` on: declared, or the one whose words and contents say most."""
    if layout.header_row is not None and start == 0:
        chosen = [at for at, number in enumerate(grid.numbers) if number == layout.header_row]
        return _single_or_pair(grid, chosen[0], layout) if chosen else None
    best: tuple[int, int, int] | None = None
    for at in range(start, min(start + HEADER_WITHIN, len(grid.cells))):
        score = _score(titles_of(grid.cells[at]), layout)
        if score and (best is None or score > best[:2]):
            best = (*score, at)
    if best is None:
        return next(_pairs(grid, layout, range(start, min(start + HEADER_WITHIN, len(grid.cells)))), None)
    return _single_or_pair(grid, best[2], layout)


def _single_or_pair(grid: Grid, at: int, layout: Layout) -> Header:
    """A row as the header, or together with the row above or below it where only both are whole."""
    single = header_at(grid, at, layout)
    if single.whole and _goes_on(grid, at, single):
        titles = _two_rows(titles_of(grid.cells[at]), titles_of(grid.cells[at + 1]))
        return replace(header_at(grid, at + 1, layout, titles), row=grid.numbers[at], rows=2) if titles else single
    if single.whole or single.changed:
        return single
    return next(_pairs(grid, layout, (at, at - 1)), single)


def _goes_on(grid: Grid, at: int, header: Header) -> bool:
    """Whether the row below a header belongs to it: it names no part, and says in words which prices stand below."""
    if at + 1 >= len(grid.cells) or grid.numbers[at] + 1 != grid.numbers[at + 1]:
        return False
    below = titles_of(grid.cells[at + 1])
    number = header.columns["part_number"]
    priced = [header.columns["price"]] if "price" in header.columns else list(header.breaks.values())
    words = [column for column in priced if column < len(below) and _qualifies_price(below[column])]
    return bool(words) and (number >= len(below) or not below[number]) and sum(map(bool, below)) > 1


def _qualifies_price(title: str) -> bool:
    """Whether a text names a kind of price or its currency: List, Net, EUR."""
    return meaning(title)[0] == "price" or (len(title) <= 4 and currency_named(title) != "")


def _pairs(grid: Grid, layout: Layout, tops: Sequence[int]) -> Iterator[Header]:
    """Headers of two rows that are whole."""
    for top in tops:
        if 0 <= top < len(grid.cells) - 1 and grid.numbers[top] + 1 == grid.numbers[top + 1]:
            titles = _two_rows(titles_of(grid.cells[top]), titles_of(grid.cells[top + 1]))
            if titles and _score(titles, layout):
                header = header_at(grid, top + 1, layout, titles)
                if header.whole:
                    yield replace(header, row=grid.numbers[top], rows=2)


def _two_rows(upper: Sequence[str], lower: Sequence[str]) -> tuple[str, ...]:
    """Two rows of titles as one; an upper title goes on to the right over the blanks that a merged cell leaves.

    Nothing where one of them is no row of titles: a lone title, or amounts among them.
    """
    if sum(map(bool, upper)) < 2 or sum(map(bool, lower)) < 2:
        return ()
    if any(re.fullmatch(r"[^\w]*\d+[.,]\d+[^\w]*", title) for title in (*upper, *lower)):
        return ()
    titles, over = [], ""
    for column in range(max(len(upper), len(lower))):
        above = upper[column] if column < len(upper) else ""
        below = lower[column] if column < len(lower) else ""
        over = above or (over if below else "")
        titles.append(f"{over} {below}".strip())
    return tuple(titles)


def _score(titles: Sequence[str], layout: Layout) -> tuple[int, int] | None:
    """How much a row looks like a header: fields named, and how surely. None where it is none."""
    filled = [title for title in titles if title]
    wanted = {folded(title) for title in layout.columns.values() if title}
    declared = sum(folded(title) in wanted for title in filled) if wanted else 0
    named = [meaning(title) for title in filled if len(title) <= 60]
    fields = {name for name, _ in named if name}
    breaks = any(break_quantity(title) for title in filled)
    if declared < 2 and (len(fields) + breaks < 2 or not fields & {"part_number", "price", "description"}):
        return None
    essential = ("part_number" in fields) + ("price" in fields or breaks)
    return 10 * declared + 4 * essential + len(fields), sum(sure for _, sure in named)
