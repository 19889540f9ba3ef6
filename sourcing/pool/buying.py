"""Jobs bought together, from their sealed problems to who pays what; or why they cannot be."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from sourcing.book.fitting import Reason
from sourcing.plan import Status
from sourcing.pool.alone import Answer, one_after_another
from sourcing.pool.apart import standing_apart
from sourcing.pool.lots import Pool, pool_of
from sourcing.pool.plan import PoolPlan
from sourcing.pool.shares import shares_of
from sourcing.problem import Problem

# So many ways in which open facts of all jobs may turn out are planned; beyond, the facts must be given.
MOST_WAYS_OPEN = 16


@dataclass(frozen=True)
class Bought:
    """A pool's plan and what it saved.

    `alone` is what each job costs bought in its turn, by number, in cents (None: no plan when its turn came); `shares` add up to
    the plan's cost; `rule` says how they were found; `eras` the eras that each job's unit may be of.
    """

    plan: PoolPlan
    alone: Mapping[str, int | None]
    shares: Mapping[str, int]
    rule: str
    eras: Mapping[str, tuple[str, ...]]

    @property
    def alone_total(self) -> int | None:
        known = [cents for cents in self.alone.values() if cents is not None]
        return sum(known) if known and len(known) == len(self.alone) else None

    @property
    def saved(self) -> int | None:
        return None if self.alone_total is None else self.alone_total - self.plan.cost


def buy(
    problems: Sequence[Sequence[Problem]],
    answer: Answer,
    together: Callable[[Pool], PoolPlan],
    told: Callable[[str, int, int], None] = lambda step, done, of: None,
) -> Bought:
    """Plan jobs together, each given by a problem for every setting that it leaves open.

    Parameters
    ----------
    answer : the plan of a job by itself; `together` that of a pool
    told : hears of each step, how much of it is done and of how much

    Raises
    ------
    BadInput
        where the jobs cannot stand in one order (see `pool_of`)
    """
    eras = {of_job[0].job.job.number: tuple(dict.fromkeys(p.setting.era for p in of_job)) for of_job in problems}
    questions = [_questions(of_job) for of_job in problems]
    ways = 1
    for asked in questions:
        ways *= len(asked)
        if ways > MOST_WAYS_OPEN:
            break
    if ways > MOST_WAYS_OPEN:
        pool = pool_of([asked[0] for asked in questions])
        plan = PoolPlan(pool, Status.OPEN, reasons=tuple(r for asked in questions for r in _to_ask(asked)))
        return Bought(plan, {}, {}, "", eras)
    plans = []
    for n, way in enumerate(product(*questions)):
        told("planning", n, ways)
        plans.append(together(pool_of(way)))
    plan = plans[0]
    if any(_content(other) != _content(plan) for other in plans):
        open_plan = PoolPlan(plan.pool, Status.OPEN, reasons=tuple(r for asked in questions for r in _to_ask(asked)))
        return Bought(open_plan, {}, {}, "", eras)
    unproven = next((other.status for other in plans if other.status != Status.PROVEN), plan.status)
    plan = replace(plan, status=unproven)
    if not plan.gets:
        if plan.status == Status.IMPOSSIBLE and not plan.reasons:
            plan = replace(plan, reasons=_why_not(problems, answer, together))
        return Bought(plan, {}, {}, "", eras)
    alone = one_after_another(plan.pool, answer, lambda done, of: told("one after another", done, of))
    shares, rule = shares_of(plan, alone)
    return Bought(plan, alone, shares, rule, eras)


def _questions(of_job: Sequence[Problem]) -> list[Problem]:
    """One problem for each different question that a job's settings ask."""
    found: dict[Hashable, Problem] = {}
    for problem in of_job if len(of_job) > 1 else ():
        found.setdefault(problem.question, problem)
    return list(found.values()) or list(of_job)


def _why_not(
    problems: Sequence[Sequence[Problem]], answer: Answer, together: Callable[[Pool], PoolPlan]
) -> tuple[Reason, ...]:
    """Jobs without a plan of their own, each with its reasons; or the jobs that stand in each other's way."""
    pool = pool_of([of_job[0] for of_job in problems])
    reasons: list[Reason] = []
    for lot in pool.lots:
        alone = answer(lot.problem)
        if alone.choice is None:
            named = f"job {lot.jobs[0].job.number}"
            reasons += [replace(reason, says=f"{named}: {reason.says}") for reason in alone.reasons] or [
                Reason("limit", f"{named} has no plan by itself: its limits and the orders' minimums leave none", named)
            ]
    apart = standing_apart([of_job[0] for of_job in problems], lambda some: together(pool_of(some)))
    return (*apart, *reasons)


def _content(plan: PoolPlan) -> Hashable:
    return (
        plan.status if not plan.gets else None,
        plan.totals,
        tuple(purchase.key for purchase in plan.purchases),
        tuple(
            (
                one.number,
                tuple(one.choice.combination.items()),
                one.choice.kept,
                one.choice.in_hand,
                one.choice.sent_back,
            )
            for one in plan.gets
        ),
        tuple(tuple(work.code for work in one.works) for one in plan.gets),
    )


def _to_ask(asked: Sequence[Problem]) -> list[Reason]:
    """What to ask of a job whose open settings ask different questions."""
    first = asked[0]
    asks = {"era": "When was the unit built?", "vehicle_era": "When was the vehicle built?"}
    asks |= {code: fact.ask for code, fact in first.family.fact.items()}
    number = first.job.job.number
    return [
        Reason("fact" if key in first.family.fact else "era", f"job {number}: {question}", key)
        for key, question in asks.items()
        if len({problem.setting.value(key) for problem in asked}) > 1
    ]
