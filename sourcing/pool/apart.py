"""Jobs that cannot be met together: which ones stand in each other's way, and what they compete for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from sourcing.book.family import NONE
from sourcing.book.fitting import Reason
from sourcing.plan import Status
from sourcing.pool.lots import pool_of
from sourcing.pool.plan import PoolPlan
from sourcing.problem import Problem

MOST_NAMED = 12
Together = Callable[[Sequence[Problem]], PoolPlan]


def standing_apart(problems: Sequence[Problem], together: Together) -> list[Reason]:
    """Why jobs that each fit their book have no plan together: a smallest set that cannot be met, and what is short for it.

    The set is smallest in the sense that without any one of its jobs there is a plan (Junker, "QuickXPlain", AAAI 2004), as far
    as fewer jobs are easier to meet.
    """

    def impossible(some: Sequence[Problem]) -> bool:
        return bool(some) and together(some).status == Status.IMPOSSIBLE

    def needed(base: list[Problem], added: bool, rest: list[Problem]) -> list[Problem]:
        if added and impossible(base):
            return []
        if len(rest) == 1:
            return rest
        half = len(rest) // 2
        first, second = rest[:half], rest[half:]
        of_second = needed([*base, *first], bool(first), second)
        of_first = needed([*base, *of_second], bool(of_second), first)
        return [*of_first, *of_second]

    ordered = sorted(problems, key=lambda problem: problem.job.job.number)
    if not impossible(ordered):
        return []
    short = needed([], False, ordered)
    numbers = [problem.job.job.number for problem in short]
    if len(numbers) == 1:
        return [
            Reason("limit", f"job {numbers[0]} has no plan, alone or with the others: quote it by itself", numbers[0])
        ]
    named = numbers[:MOST_NAMED]
    listed = ", ".join(named) if len(named) < len(numbers) else f"{', '.join(named[:-1])} and {named[-1]}"
    listed += f" and {len(numbers) - len(named)} more" if len(named) < len(numbers) else ""
    # An order minimum may need many jobs: then fewer are no easier to meet, and that is not said.
    easier = all(not impossible([other for other in short if other is not one]) for one in short[:MOST_NAMED])
    says = f"jobs {listed} cannot be met together" + ("; without any one of them the others can" if easier else "")
    return [Reason("limit", says, numbers[0]), *_what_is_short(short)]


def _what_is_short(problems: Sequence[Problem]) -> Iterator[Reason]:
    """Positions for which fewer pieces are in stock, over all suppliers, than these jobs need."""
    pool = pool_of(problems)
    for family in {lot.family: lot.problem.family for lot in pool.lots}.values():
        for position in family.position:
            jobs, stocks = 0, dict[int, int | None]()
            for lot in pool.lots:
                problem = lot.problem
                if problem.family.code != family.code or _can_do_without(problem, position):
                    continue
                jobs += lot.count
                stocks |= {o.id: o.stock for o in problem.offers if problem.may_fill(o, position)}
            there = [stock for stock in stocks.values() if stock is not None]
            if len(there) == len(stocks) and sum(there) < jobs:
                says = f"{family.position[position].name}: {sum(there)} in stock that fit, {jobs} jobs need one"
                yield Reason("part", says, position, positions=(position,))


def _can_do_without(problem: Problem, position: str) -> bool:
    """Whether a position may be filled by the found part, by one in hand, or left empty."""
    return position in problem.keepable or problem.can_use(position) or NONE in problem.domains[position]
