"""Jobs of the largest size that the tool promises to prove, made by code: a sealed problem of many tables, and a shop's folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from random import Random
from typing import Any

from program.tiny import sold, tiny

from sourcing.problem import Problem

Row = tuple[str, ...]
# Scopes drawn for a table, of which the one that its rows suit best is taken.
TRIES = 8


def sizes_of(tables: int, rows: int) -> list[int]:
    """Rows of each table, adding up to `rows`: the n-th largest is about an n-th of the largest, none below four."""
    whole = sum(1 / n for n in range(1, tables + 1))
    sizes = [max(4, round(rows / whole / n)) for n in range(1, tables + 1)]
    sizes[0] += rows - sum(sizes)
    return sizes


def scope(random: Random, held: Sequence[Sequence[str]], rows: int, reach: int, open_share: float) -> list[int]:
    """Positions near each other, one of the first few now and then, of which `rows` are about an `open_share` of all rows."""
    centre = random.randrange(len(held))
    near = [n for n in range(centre - reach, centre + reach + 1) if 0 <= n < len(held) and n != centre]
    random.shuffle(near)
    if random.random() < 0.1:
        near.insert(0, random.randrange(min(6, len(held))))
    chosen = [centre]
    for n in dict.fromkeys(near):
        if len(chosen) >= 2 and prod(len(held[i]) for i in chosen) * open_share >= rows:
            break
        if n != centre:
            chosen.append(n)
    return sorted(chosen)


def rows_of(random: Random, values: Sequence[Sequence[str]], planted: Row, rows: int) -> list[Row]:
    """So many different rows of one table, the planted one among them.

    Rows go by one of the positions, as books do: with each of its designs, some designs of every other go, all with each
    other. The last of these groups is cut short where there would be too many rows.
    """
    rows = min(rows, prod(map(len, values)))
    key = random.randrange(len(values))
    share = (rows / prod(map(len, values))) ** (1 / max(1, len(values) - 1))
    made = {planted}
    designs = list(values[key])
    while len(made) < rows:
        random.shuffle(designs)
        for design in designs:
            some = [[value for value in one if random.random() < share] or [random.choice(one)] for one in values]
            some[key] = [design]
            fresh = [row for row in product(*some) if row not in made]
            made.update(fresh[: rows - len(made)])
    return sorted(made)


def book(
    random: Random, positions: int, tables: int, rows: int, reach: int, spread: tuple[float, float]
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Designs of each position, and rules that list rows; one planted combination stands in all of them."""
    held = [[f"p{p}-{n}" for n in range(random.randint(2, 10))] for p in range(positions)]
    planted = [random.choice(values) for values in held]
    rules = []
    left = rows
    sizes = sizes_of(tables, rows)[::-1]  # the largest last: it takes what the others left over
    for n, size in enumerate(sizes):
        share = random.uniform(*spread)
        size = left if n == len(sizes) - 1 else size
        tries = [scope(random, held, size, reach, share) for _ in range(TRIES)]
        named = min(tries, key=lambda one: abs(share * prod(len(held[p]) for p in one) - size))
        values = [held[p] for p in named]
        made = rows_of(
            random, values, tuple(planted[p] for p in named), max(size, round(share * min(100, prod(map(len, values)))))
        )
        left -= len(made)
        rules.append({"allow": {"positions": [f"p{p}" for p in named], "rows": [list(row) for row in made]}})
    return held, rules


def offers(random: Random, held: Sequence[Sequence[str]], suppliers: int) -> Iterator[dict[str, Any]]:
    """Each design from one to three suppliers, at prices of its own."""
    for values in held:
        level = random.choice((4, 12, 40, 150))
        for design in values:
            for n in random.sample(range(suppliers), random.randint(1, min(3, suppliers))):
                price = round(level * random.uniform(0.6, 1.8), 2)
                yield sold(f"s{n}", f"N{design}", design, price, core_charge=random.choice((0, 0, round(level / 3))))


def sealed(
    positions: int,
    tables: int,
    rows: int,
    suppliers: int = 6,
    seed: int = 1,
    reach: int = 8,
    spread: tuple[float, float] = (0.3, 0.6),
) -> Problem:
    """A sealed problem: so many positions and tables, `rows` rows in all, random prices; every third supplier's freight flat."""
    random = Random(seed)
    held, rules = book(random, positions, tables, rows, reach, spread)
    terms: dict[str, dict[str, Any]] = {
        f"s{n}": {"freight": [{"mode": "ground", "days": 3, "flat": 5 + n, "free_over": 300}]} if n % 3 == 0 else {}
        for n in range(suppliers)
    }
    places = [f"p{p}" for p in range(positions)]
    designs = [design for values in held for design in values]
    return tiny(places, designs, list(offers(random, held, suppliers)), rules=rules, suppliers=terms)
