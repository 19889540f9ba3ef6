"""Edges, reckoned again from the files: how far each order is from one, and what losing a line would cost."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from oracle.brute import Line
from oracle.every import EveryPlan

from decision.jobs import cost_only, tried_jobs
from sourcing.decision.cliffs import cliffs

Edge = tuple[Any, ...]


def edges(buyer: EveryPlan, lines: list[Line]) -> Counter[Edge]:
    """Every edge of a plan's orders: kind, supplier, mode, distance, and the losses by number or the number itself."""
    found: Counter[Edge] = Counter()
    for supplier, mode in sorted({(s, m) for s, _, m, _ in lines}):
        terms = buyer.problem.suppliers[supplier]
        at = [m.mode for m in terms.modes].index(mode)
        sold = {o.number: o for o in buyer.offers if o.supplier == supplier}
        order = [(sold[number], q) for s, number, m, q in lines if (s, m) == (supplier, mode)]
        own = {offer.number: offer.line(q, terms.incremental)[0] for offer, q in order}
        subtotal, over, minimum = sum(own.values()), terms.modes[at].free_over, terms.order_minimum
        lost = []  # number, what is left of the subtotal, freight of what is left
        for offer, _ in order:
            rest = [(other, q) for other, q in order if other is not offer]
            left = subtotal - own[offer.number]
            if rest:
                lost.append((offer.number, left, buyer.freight(terms, at, left, rest) - terms.order_fee))
        if over is not None:
            losses = {(number, more) for number, left, more in lost if left < over <= subtotal}
            found["free_freight", supplier, mode, subtotal - over, frozenset(losses)] += 1
        if minimum:
            losses = {(number, None) for number, left, _ in lost if left < minimum}
            found["order_minimum", supplier, mode, subtotal - minimum, frozenset(losses)] += 1
        for offer, q in order:
            nexts = [step[0] for step in offer.steps if step[0] > q]
            if nexts:
                found["break", supplier, mode, min(nexts) - q, offer.number] += 1
            reached = max(step[0] for step in offer.steps if step[0] <= q)
            if reached > min(step[0] for step in offer.steps):
                found["break_reached", supplier, mode, q - reached, offer.number] += 1
    return found


@pytest.mark.parametrize("seed", range(600, 640))
def test_every_edge_is_as_far_off_as_the_files_say(seed: int, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=True):
        bought = it.plan.choice.purchases if it.plan.choice else ()
        lines = [(p.line.offer.supplier, p.line.offer.part.number.spelt, p.line.mode.mode, p.quantity) for p in bought]
        told: Counter[Edge] = Counter()
        for cliff in cliffs(it.plan):
            losses = frozenset((loss.purchase.line.offer.part.number.spelt, loss.more_cents) for loss in cliff.losses)
            about = cliff.purchase.line.offer.part.number.spelt if cliff.purchase else losses
            told[cliff.kind, cliff.order.supplier, cliff.order.mode, cliff.distance, about] += 1
        assert told == edges(it.buyer, lines), it.job.stem


def test_the_jobs_lose_lines_over_every_kind_of_edge(tmp_path: Path) -> None:
    kinds: Counter[str] = Counter()
    for seed in range(600, 612):
        for it in tried_jobs(seed, tmp_path / str(seed), edges=True):
            kinds.update(cliff.kind for cliff in cliffs(it.plan) if cliff.losses or cliff.kind == "break")
    assert min(kinds[kind] for kind in ("free_freight", "order_minimum", "break")) >= 2


@pytest.mark.parametrize("seed", range(640, 652))
def test_a_line_more_up_to_the_break_is_paid_at_it(seed: int, tmp_path: Path) -> None:
    """So many more pieces, and the next price is reached; one fewer, and it is not."""
    for it in tried_jobs(seed, tmp_path, edges=True):
        for cliff in cliffs(cost_only(it.problem)):
            if cliff.purchase is not None:
                offer, held = cliff.purchase.line.offer, cliff.purchase.quantity
                if cliff.kind == "break":
                    assert offer.step(held + cliff.distance) != offer.step(held)
                    assert offer.step(held + cliff.distance - 1) == offer.step(held)
                else:
                    assert offer.step(held - cliff.distance) == offer.step(held)
                    assert offer.step(held - cliff.distance - 1) != offer.step(held)
