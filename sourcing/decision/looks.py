"""What a look at the bench is worth in money.

A plan made now must do with what is known now: a part of which it is not known which design it is can neither go back in
nor be returned as a core. After the look the best plan for the answer is made. The look is worth what the plan made now
costs, less what the plan made after it costs on average over the answers. Only the three most telling looks are priced,
and answers that leave the same designs are solved once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sourcing.book.family import NONE
from sourcing.book.looks import EMPTY, Look
from sourcing.decision import Answer
from sourcing.decision.possibilities import answer_all
from sourcing.job import Job
from sourcing.money import half_up
from sourcing.plan import Status
from sourcing.problem import Problem

MOST_LOOKS = 3
Seal = Callable[[Job], Sequence[Problem]]


@dataclass(frozen=True, slots=True)
class Worth:
    """A look, the cost of the plan made now, and the expected cost of the plan made after the look; in cents."""

    look: Look
    now_cents: int
    after_cents: Fraction

    @property
    def cents(self) -> int:
        """What the look is worth, to the cent."""
        return half_up(self.now_cents - self.after_cents)


def worths(job: Job, looks: Sequence[Look], seal: Seal, answer: Answer) -> tuple[Worth, ...] | None:
    """What the most telling looks are worth; None where no plan can be made and proven now."""
    now = _cost(job, seal, answer)
    if now is None:
        return None
    priced = (_worth(job, look, now, seal, answer) for look in looks[:MOST_LOOKS])
    return tuple(worth for worth in priced if worth is not None)


def _worth(job: Job, look: Look, now: int, seal: Seal, answer: Answer) -> Worth | None:
    """What one look is worth; None where some answer leaves no plan that is proven."""
    known: dict[tuple[str, ...], int | None] = {}
    expected = Fraction(0)
    for outcome in look.outcomes:
        if outcome.chance:
            if outcome.leaves not in known:
                known[outcome.leaves] = _cost(_after(job, look, outcome.answer), seal, answer)
            cost = known[outcome.leaves]
            if cost is None:
                return None
            expected += outcome.chance * cost
    return Worth(look, now, expected)


def _after(job: Job, look: Look, told: str | int) -> Job:
    """The job as it stands once a look has given its answer."""
    seen = job.found.get(look.mark.position)
    marks = seen if isinstance(seen, dict) else {}
    found = NONE if told == EMPTY else {**marks, look.mark.code: told}
    return job.model_copy(update={"found": {**job.found, look.mark.position: found}})


def _cost(job: Job, seal: Seal, answer: Answer) -> int | None:
    plan = answer_all(seal(job), answer).plan
    return plan.cost if plan.status == Status.PROVEN else None
