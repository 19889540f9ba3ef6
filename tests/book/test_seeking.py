"""A combination found in a book that is too tight to go through in order; a rule judged by its own words."""

from __future__ import annotations

from random import Random

import pytest
from benchmarks.scale import sealed

from sourcing.book import fitting as engine
from sourcing.book.fitting import Fitting, bits_of
from sourcing.book.rules import Table


def tight(seed: int) -> Fitting:
    """Six positions of four designs, tables of three positions with few rows: about half of such books hold nothing."""
    random = Random(seed)
    domains = {f"p{n}": tuple(f"{n}-{k}" for k in range(4)) for n in range(6)}
    tables = []
    for n in range(6):
        named = sorted(random.sample(sorted(domains), 3))
        rows = tuple(tuple(frozenset([random.choice(domains[p])]) for p in named) for _ in range(24))
        tables.append(Table(f"t{n}", "", "", tuple(named), rows))
    return Fitting(domains, tables)


@pytest.mark.parametrize("seed", range(40))
def test_a_search_that_learns_finds_one_where_there_is_one(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    book = tight(seed)
    every = list(book.combinations())
    assert book.first() == (every[0] if every else None)
    monkeypatch.setattr(engine, "PATIENCE", 0)
    monkeypatch.setattr("sourcing.book.seeking.FIRST_RUN", 1)
    found = book.first()
    assert found in every if every else found is None


def test_the_tight_books_go_both_ways() -> None:
    found = [next(tight(seed).combinations(), None) is None for seed in range(40)]
    assert 5 < sum(found) < 35


def test_bits_are_set_where_they_are_named() -> None:
    for length in (1, 7, 8, 9, 64, 1000):
        places = Random(length).sample(range(length), (length + 1) // 2)
        assert bits_of(places, length) == sum(1 << place for place in places)


def test_a_large_book_is_sealed_although_its_search_in_order_would_not_end() -> None:
    problem = sealed(positions=60, tables=75, rows=1500, seed=5, reach=10, spread=(0.3, 0.5))
    assert problem.blocked == ()
