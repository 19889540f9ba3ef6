"""Other plans than the cheapest, against every plan that there is and against every price of a part."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from oracle.every import TooMany, by_price

from decision.jobs import cost_only, tried_jobs
from sourcing.decision.others import asks, best

MOST_TOLD = 6


@pytest.mark.parametrize("seed", range(400, 420))
def test_the_next_best_plans_come_in_order_and_none_is_left_out(seed: int, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=seed % 2 == 0):
        least: dict[tuple[str, ...], int] = {}
        for plan in it.plans:
            combination = plan.filling.combination
            least[combination] = min(it.cost(plan), least.get(combination, it.cost(plan)))
        told = list(islice(best(it.problem, cost_only), MOST_TOLD))
        assert [plan.cost for plan in told] == sorted(least.values())[:MOST_TOLD]
        combinations = [tuple(plan.choice.combination.values()) for plan in told if plan.choice is not None]
        assert len(set(combinations)) == len(told)
        assert [least[combination] for combination in combinations] == [plan.cost for plan in told]


@pytest.mark.parametrize("seed", [10, 13, 16, 22, 24, 30, *range(1000, 1004)])
def test_a_part_wins_at_its_ask_by_a_cent_and_not_a_coin_above(seed: int, tmp_path: Path) -> None:
    """The first shops have parts that are also bought for the shelf, and kits that fill another position."""
    for it in tried_jobs(seed, tmp_path, edges=True):
        if it.plan.choice is None:
            continue
        lead = it.problem.family.lead.code
        found = asks(it.problem, it.plan, cost_only)
        losing = {o.id for o in it.problem.offers if it.problem.may_fill(o, lead)} - {*it.plan.choice.fills.values()}
        assert {ask.offer.id for ask in found} == losing
        for ask in found:
            now = ask.offer.steps[0].minor
            try:
                costs = by_price(it.folder, it.job, ask.offer.supplier, ask.offer.part.number.spelt, 1, now)
            except TooMany:
                continue
            wins = np.flatnonzero(costs.filling < costs.without)  # [0] is a price of one coin
            assert ask.wins_at_minor == (int(wins[-1]) + 1 if len(wins) else None), (
                f"{it.job.stem} {ask.offer.part.number}"
            )
