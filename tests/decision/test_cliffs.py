"""Edges: what lies above a threshold, and what the rest pays when a line is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from decision.jobs import cost_only, possible_problems
from sourcing.decision.cliffs import cliffs


@pytest.mark.parametrize("seed", range(600, 612))
def test_a_lost_line_costs_the_freight_that_was_waived(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path):
        plan = cost_only(problem)
        for cliff in cliffs(plan):
            if cliff.kind != "free_freight":
                continue
            over = cliff.order.lines[0].line.mode.free_over_minor
            assert over is not None
            assert cliff.distance == cliff.order.subtotal_minor - over
            assert (cliff.distance >= 0) == (cliff.order.freight_cents == 0) or not cliff.order.lines[
                0
            ].line.mode.flat_cents
            for loss in cliff.losses:
                rest = [p for p in cliff.order.lines if p is not loss.purchase]
                assert sum(p.line.offer.minor(p.quantity) for p in rest) < over
                assert loss.more_cents is not None and loss.more_cents >= 0
