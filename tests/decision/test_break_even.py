"""The pieces of a break-even agree with asking again at each price, thresholds and minimums included."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from decision.jobs import cost_only, possible_problems
from sourcing.decision.break_even import break_even, cost_at


@pytest.mark.parametrize("seed", range(300, 316))
def test_pieces_agree_with_a_plan_made_at_each_price(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)
    for problem in possible_problems(seed, tmp_path):
        filling = [o for o in problem.offers if any(problem.may_fill(o, p) for p in problem.positions)]
        if not filling:
            continue
        offer = chance.choice(filling)
        now = offer.steps[0].minor
        low, high = max(1, now // 2), 2 * now
        found = break_even(problem, offer.id, low, high, cost_only)
        ends = {end for piece in found.pieces for end in (piece.low, piece.high)}
        for price in sorted({low, high, *ends, *(chance.randint(low, high) for _ in range(8))}):
            again = cost_only(problem.priced(offer.id, price))
            here = [piece for piece in found.pieces if piece.low <= price <= piece.high]
            if again.choice is None:
                assert not here
            else:
                assert len(here) == 1
                assert cost_at(problem, here[0], offer.id, price) == again.cost


@pytest.mark.parametrize("seed", range(320, 326))
def test_pieces_cover_the_range_without_a_gap(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        for offer in problem.offers[:2]:
            now = offer.steps[0].minor
            found = break_even(problem, offer.id, max(1, now // 2), 2 * now, cost_only)
            assert found.pieces[0].low == found.low
            assert found.pieces[-1].high == found.high
            for one, after in zip(found.pieces, found.pieces[1:], strict=False):
                assert after.low == one.high + 1
