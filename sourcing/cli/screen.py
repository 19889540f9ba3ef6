"""A plan as the person at the counter reads it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from textwrap import shorten, wrap

from sourcing.cli.laid import at_most, orders_laid, totals_laid
from sourcing.cli.lines import WIDTH, bullet
from sourcing.decision.easing import Freed
from sourcing.decision.possibilities import Answered
from sourcing.decision.study import Decided
from sourcing.faults import shown
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.cautions import cautions
from sourcing.quote.revisions import QUOTE, Revision
from sourcing.quote.told import (
    cores_told,
    easings_told,
    in_hand_told,
    order_told,
    places_told,
    purchase_told,
    source_told,
    stands_told,
    totals_told,
    unit_told,
    why_told,
)
from sourcing.quote.words import WORDS, in_short, not_studied

MOST_REASONS = 12


def told(answered: Answered, decided: Decided | None, papers: str) -> str:
    """The whole answer to a job as text, with the decision behind it where that was looked at, and what was written."""
    plan = answered.plan
    job = plan.problem.job
    head = f"Job {job.number}, {plan.problem.family.family.name}, {job.job.date.isoformat()}"
    lines = [head, "=" * len(head), WORDS[plan.status], unit_told(answered)]
    if not plan.proof.settled:
        lines.append("stopped before ties were settled: another plan may cost exactly the same")
    if plan.choice is not None:
        lines += ["", "The combination", *_combination(plan), "", "Bought from", *_orders(plan)]
        lines += [
            *(f"  {line}" for line in (*in_hand_told(plan), *cores_told(plan))),
            "",
            "What it costs",
            *totals_laid(totals_told(plan), 12),
        ]
        if decided is not None:
            lines += ["", "The decision", *map(bullet, in_short(decided)), "", "Why", *map(bullet, why_told(decided))]
        elif said := not_studied(plan):
            lines += ["", "The decision", bullet(said)]
        lines += ["", "Check before the vehicle moves", *(bullet(caution.says) for caution in cautions(plan))]
    else:
        lines += ["", "Why", *at_most([reason.says for reason in plan.reasons], MOST_REASONS)]
    if plan.problem.notes:
        lines += ["", "Noted", *_noted(plan.problem)]
    if papers:
        lines += ["", papers]
    return "\n".join(lines) + "\n"


def told_papers(folder: Path, filed: Revision, main: str = QUOTE) -> str:
    """Where the papers of a job are, which revision they are, and what it changes; `main` is the workbook among them."""
    others = [name for name in filed.papers if name != main]
    new = "" if filed.written else ", unchanged: nothing was written"
    lines = [f"Workbook: {shown(folder / main)}", f"Revision {filed.number}{new}. Beside it:"]
    lines += wrap(", ".join(others), WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False)
    if filed.changes:
        lines += [f"What changed since revision {filed.number - 1}", *map(bullet, filed.changes)]
    if filed.aside:
        lines.append(
            bullet(
                f"changed by hand before, and kept in revisions/found-before-{filed.number}: {', '.join(filed.aside)}"
            )
        )
    if filed.edited:
        lines.append(bullet(f"changed by hand since, and left so: {', '.join(filed.edited)}"))
    return "\n".join(lines)


def _noted(problem: Problem) -> Iterator[str]:
    """What was noted: of the bench in full, the rest in a line each (--json tells all of it)."""
    for note in problem.notes:
        yield bullet(note if note in problem.bench else shorten(note, WIDTH - 4, placeholder=" ..."))


def _orders(plan: Plan) -> Iterator[str]:
    return orders_laid(
        plan.orders,
        lambda order: order_told(plan, order),
        lambda purchase: (purchase_told(plan, purchase), source_told(purchase)),
    )


def _combination(plan: Plan) -> Iterator[str]:
    width = max(len(position.name) for position in plan.problem.family.positions)
    for place in places_told(plan):
        yield f"  {place.position:<{width}}  {place.design} - {place.how}" + (f"  ({place.was})" if place.was else "")


def told_easings(freed: Freed, problem: Problem) -> str:
    """An impossible job: what stands in the way together, and what it would cost with the least of its limits eased."""
    lines = ["What stands in the way together (without any one of these it would not)"]
    lines += map(bullet, stands_told(freed, problem))
    if freed.easings:
        lines += ["", "What would free it, cheapest first (rules of fitment are never eased)"]
        lines += map(bullet, easings_told(freed))
    return "\n".join(lines)
