"""The pieces of a break-even agree with brute force at every coin, on jobs whose price itself crosses edges."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from oracle.every import NEVER, Cents, TooMany, by_price

from decision.edges import jobs_near_edges
from decision.jobs import cost_only, possible_problems
from sourcing.breaches import breaches
from sourcing.decision.break_even import BreakEven, around, break_even, cost_at
from sourcing.plan import Choice, price
from sourcing.problem import Problem

SHOPS = 15
CROSSING = 4  # of the jobs of so many shops, at least; it is 11 on average
BATCHES = range(3000, 3225, SHOPS)
WITHOUT_BREAKS = (3000, 3075, 3090, 3165)  # in these no price decides whether a break is reached


def costs(found: BreakEven) -> Cents:
    """What the pieces say at each coin of the range; NEVER at a price in no piece."""
    said = np.full(found.high - found.low + 1, NEVER, dtype=np.int64)
    over, under = found.problem.terms[found.offer.supplier].rate.as_integer_ratio()
    for piece in found.pieces:
        coins = np.arange(piece.low, piece.high + 1)
        assert (said[coins - found.low] == NEVER).all(), "no price lies in two pieces"
        said[coins - found.low] = piece.rest + piece.pieces * ((2 * coins * over + under) // (2 * under))
    return said


def at_its_price(choice: Choice, problem: Problem) -> Choice:
    """A choice with the lines of a problem in which a part has another price."""
    lines = {line.key: line for line in problem.lines}
    return replace(choice, purchases=tuple(replace(p, line=lines[p.line.key]) for p in choice.purchases))


def check_plans(found: BreakEven) -> None:
    """At both ends of a piece its plan is valid, and priced by itself it costs what the piece says."""
    for piece in found.pieces:
        for end in (piece.low, piece.high):
            there = found.problem.priced(found.offer.id, end)
            assert piece.plan.choice is not None
            choice = at_its_price(piece.plan.choice, there)
            assert breaches(there, choice) == []
            totals, _, _ = price(there, choice)
            assert totals.of(there.minimise) == cost_at(found.problem, piece, found.offer.id, end)


@pytest.mark.parametrize("first", BATCHES)
def test_every_coin_costs_what_brute_force_finds(first: int, tmp_path: Path) -> None:
    """Free freight, minimums and breaks that the price itself crosses included; the breaks' own prices stay."""
    crossed: list[frozenset[str]] = []
    for seed in range(first, first + SHOPS):
        for it in jobs_near_edges(seed, tmp_path / str(seed)):
            try:
                number = it.offer.part.number.spelt
                expected = by_price(it.catalogs, it.job, it.offer.supplier, number, it.low, it.high)
            except TooMany:
                continue
            found = break_even(it.problem, it.offer.id, it.low, it.high, cost_only)
            differ = np.flatnonzero(costs(found) != expected.cheapest)
            assert not len(differ), f"{it.job.stem}, {number} at {it.low + differ[0]}"
            check_plans(found)
            for one, after in pairwise(found.pieces):
                assert (one.pieces, one.rest) != (after.pieces, after.rest), "a piece goes on as long as its line"
            crossed.append(expected.crossed)
    assert sum(map(bool, crossed)) >= CROSSING, "these jobs hardly cross an edge, so that they prove little"
    kinds = {"free freight", "minimum", "break"} - ({"break"} if first in WITHOUT_BREAKS else set())
    assert frozenset().union(*crossed) >= kinds


@pytest.mark.parametrize("seed", range(300, 303))
def test_shops_of_every_size_agree_with_a_plan_made_anew_at_each_end(seed: int, tmp_path: Path) -> None:
    """The pieces on both sides of a turn, on shops too large to try everything in."""
    for problem in possible_problems(seed, tmp_path):
        offer = next((o for o in problem.offers if problem.may_fill(o, problem.family.lead.code)), None)
        if offer is None:
            continue
        now = offer.steps[0].minor
        found = break_even(problem, offer.id, max(1, now // 2), 2 * now, cost_only)
        for piece in found.pieces:
            for end in {piece.low, piece.high}:
                assert cost_only(problem.priced(offer.id, end)).cost == cost_at(problem, piece, offer.id, end)


@pytest.mark.parametrize("seed", range(3000, 3008))
def test_what_is_looked_at_unasked_is_the_block_that_was_chosen(seed: int, tmp_path: Path) -> None:
    """From half its price to double, or further out where nothing turns there."""
    for it in jobs_near_edges(seed, tmp_path):
        found = around(it.problem, it.plan, cost_only)
        assert it.plan.choice is not None
        chosen = it.plan.choice.fills.get(it.problem.family.lead.code)
        assert (found is None) == (chosen is None)
        if found is None:
            continue
        now = found.offer.steps[0].minor
        assert found.offer.id == chosen
        here = [piece for piece in found.pieces if piece.low <= now <= piece.high]
        assert [cost_at(it.problem, piece, found.offer.id, now) for piece in here] == [it.plan.cost]
        near = (max(1, now // 2), 2 * now)
        if (found.low, found.high) == near:
            assert found.turns
        else:
            assert (found.low, found.high) == (1, 10 * now)
            assert not [turn for turn in found.turns if near[0] < turn <= near[1]]
