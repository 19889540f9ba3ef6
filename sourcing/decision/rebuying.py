"""Which open jobs would be bought differently after prices changed: each quoted before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from sourcing.decision import Answer
from sourcing.decision.possibilities import Answered, answer_all
from sourcing.job import Job
from sourcing.plan import Plan, Status
from sourcing.prices.offers import Source
from sourcing.problem import Problem

Outcome = Literal["untouched", "same", "repriced", "differs"]


@dataclass(frozen=True)
class Rebought:
    """A job before and after.

    `outcome`: untouched, no offer to it has changed; same, the plan and its cost stay; repriced, the same purchases at another
    cost; differs, something else is bought, kept or left out, or it can be quoted only before or only now.
    """

    job: Job
    before: Answered | None
    after: Answered | None
    outcome: Outcome

    @property
    def interrupted(self) -> bool:
        """Whether a person stopped one of the two."""
        return any(answered.plan.proof.interrupted for answered in (self.before, self.after) if answered)


def rebought(job: Job, before: Sequence[Problem], after: Sequence[Problem], answer: Answer) -> Rebought:
    """A job quoted from two records of prices: `before` and `after` are its problems, one for each setting.

    `before` is empty where nothing could be quoted before.
    """
    if not before:
        return Rebought(job, None, answer_all(after, answer), "differs")
    if [_market(problem) for problem in before] == [_market(problem) for problem in after]:
        return Rebought(job, None, None, "untouched")
    old, new = answer_all(before, answer), answer_all(after, answer)
    if _bought(old.plan) != _bought(new.plan):
        return Rebought(job, old, new, "differs")
    cost = [answered.plan.cost if answered.plan.choice else None for answered in (old, new)]
    return Rebought(job, old, new, "same" if cost[0] == cost[1] else "repriced")


def _market(problem: Problem) -> list[object]:
    """What a job can buy, whatever sheet and row it stands in."""
    nowhere = Source("", "", 0, problem.job.job.date)
    return [replace(offer, id=0, description="", source=nowhere) for offer in problem.offers]


def _bought(plan: Plan) -> object:
    """What is done about a job, apart from what it costs."""
    if plan.choice is None:
        return "open" if plan.status == Status.OPEN else "no plan"
    return (
        tuple(plan.choice.combination.items()),
        plan.choice.kept,
        plan.choice.in_hand,
        plan.choice.sent_back,
        tuple(purchase.key for purchase in plan.choice.purchases),
    )


def supplied(plan: Plan) -> list[str]:
    """What a plan buys, as supplier and part number, in order."""
    if plan.choice is None:
        return []
    return sorted({f"{p.line.offer.supplier} {p.line.offer.part.number}" for p in plan.choice.purchases})
