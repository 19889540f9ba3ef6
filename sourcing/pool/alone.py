"""What the jobs of a pool would cost bought one after another, each from what the earlier ones left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from sourcing.plan import Plan, to_the_shelf
from sourcing.pool.lots import Lot, Pool, Wanted
from sourcing.problem import Problem, Wish

Answer = Callable[[Problem], Plan]


@dataclass
class _Left:
    """What earlier jobs took: pieces of each part, and pieces that reached the shelf."""

    taken: Counter[int]
    shelved: Counter[Wanted]


def one_after_another(
    pool: Pool, answer: Answer, told: Callable[[int, int], None] = lambda done, of: None
) -> dict[str, int | None]:
    """What each job costs by itself when its turn comes, by number, in cents; None where nothing is left for it.

    Jobs take their turns in the order of their numbers; stock and what the shelf wants shrink as they go. A plan made for one
    job of a lot serves the next one as long as what it buys is still there: less to choose from cannot make another plan
    cheaper, unless the plan also filled the shelf.
    """
    left = _Left(Counter(), Counter())
    turns = sorted(((job.job.number, n) for n, lot in enumerate(pool.lots) for job in lot.jobs))
    last: dict[int, Plan] = {}
    costs: dict[str, int | None] = {}
    for turn, (number, n) in enumerate(turns):
        told(turn, len(turns))
        plan = last.get(n)
        if plan is None or not _still_there(pool, plan, left):
            plan = last[n] = answer(_with_what_is_left(pool.lots[n], pool, left))
        costs[number] = None if plan.choice is None else plan.cost
        _take(pool, pool.lots[n], plan, left)
    told(len(turns), len(turns))
    return costs


def _still_there(pool: Pool, plan: Plan, left: _Left) -> bool:
    """Whether a plan made before can be had again, and is as good as it was."""
    if plan.choice is None:
        return True
    bought: Counter[int] = Counter()
    for purchase in plan.choice.purchases:
        bought[purchase.line.offer.id] += purchase.quantity
    for number, quantity in bought.items():
        stock = pool.offer[number].stock
        if stock is not None and quantity > stock - left.taken[number]:
            return False
    return plan.totals.shelf == 0


def _with_what_is_left(lot: Lot, pool: Pool, left: _Left) -> Problem:
    lines = []
    for line in lot.problem.lines:
        offer = line.offer
        if offer.stock is not None and left.taken[offer.id]:
            offer = replace(offer, stock=offer.stock - left.taken[offer.id])
        if offer.stock is None or offer.stock >= offer.smallest:
            lines.append(line if offer is line.offer else replace(line, offer=offer))
    return replace(lot.problem, lines=tuple(lines), wishes=_still_wanted(lot, left.shelved))


def _still_wanted(lot: Lot, shelved: Mapping[Wanted, int]) -> dict[str, Wish]:
    wanted = {}
    for design, wish in lot.problem.wishes.items():
        pieces = wish.pieces - shelved[lot.family, design]
        if pieces > 0:
            wanted[design] = replace(wish, pieces=pieces)
    return wanted


def _take(pool: Pool, lot: Lot, plan: Plan, left: _Left) -> None:
    if plan.choice is None:
        return
    for purchase in plan.choice.purchases:
        left.taken[purchase.line.offer.id] += purchase.quantity
    for design, pieces in to_the_shelf(plan.problem, plan.choice).items():
        if pieces > 0 and (lot.family, design) in pool.wishes:
            left.shelved[lot.family, design] += pieces
