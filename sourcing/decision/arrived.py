"""What to do when the wrong box came or a number cannot be had: each way a plan of its own, costs and days side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from sourcing.book.family import NONE, Family
from sourcing.book.rules import Setting
from sourcing.decision import Answer
from sourcing.decision.possibilities import Answered
from sourcing.job import Job
from sourcing.money import text
from sourcing.plan import Plan, Status
from sourcing.problem import Problem

Seal = Callable[[Job, Family, Setting], Problem]
TOLD = {Status.PROVEN, Status.IMPOSSIBLE}


@dataclass(frozen=True)
class Crossing:
    """A part in hand at a fork: the cheapest plan that uses it, and the cheapest that goes on without it.

    `goes_back`: whether without it it is sent back; else it is left over.
    """

    position: str
    using: Plan
    without: Plan
    goes_back: bool


@dataclass(frozen=True)
class Missing:
    """Numbers that cannot be had now: the plan without them, and the one that would be if they could be had."""

    numbers: tuple[str, ...]
    without: Plan
    had: Plan


def crossings(problem: Problem, answer: Answer) -> Iterator[Crossing]:
    """For each part in hand both ways, everything else (the other parts in hand too) chosen anew."""
    for position, hand in problem.in_hand.items():
        back = hand.restock_cents is not None
        using = answer(problem.handling(position, "use"))
        yield Crossing(position, using, answer(problem.handling(position, "send back" if back else "leave")), back)


def missing(problem: Problem, seal: Seal, answer: Answer) -> Missing | None:
    """What it costs that some numbers cannot be had; None where the job names none."""
    limits = problem.job.limits
    if not limits.unavailable:
        return None
    had = problem.job.model_copy(update={"limits": limits.model_copy(update={"unavailable": []})})
    return Missing(tuple(limits.unavailable), answer(problem), answer(seal(had, problem.family, problem.setting)))


def with_arrived(answered: Answered, seal: Seal, answer: Answer) -> Answered:
    """The answer with a note for each part in hand, and one for what cannot be had; nothing where a person stopped it."""
    plan = answered.plan
    if plan.status not in TOLD or plan.proof.interrupted:
        return answered
    notes = [told_crossing(one) for one in crossings(plan.problem, answer)] if plan.choice else []
    lost = missing(plan.problem, seal, answer)
    notes += [told_missing(lost)] if lost else []
    if not notes:
        return answered
    old = plan.problem
    rest = old.notes[len(old.bench) :]
    problem = replace(old, notes=(*old.bench, *notes, *rest), bench=(*old.bench, *notes))
    return replace(answered, plan=replace(plan, problem=problem))


def told_crossing(one: Crossing) -> str:
    """Both ways in one sentence: "keep it with Plate 4: 412.00, today; ..."."""
    problem = one.using.problem
    hand = problem.in_hand[one.position]
    name = f"{problem.family.position[one.position].name} in hand ({problem.family.name_of(hand.design)})"
    without = "without it"
    if one.goes_back:
        kept = text(hand.restock_cents or 0)
        without = (
            f"send it back, {kept} of its price stays with {problem.terms[hand.supplier].name}, and go on without it"
        )
    unknown = [word for word, plan in (("with", one.using), ("without", one.without)) if plan.status not in TOLD]
    if unknown:
        return f"{name}: the plan {' and the one '.join(unknown)} it is not proven: the two cannot be compared"
    if one.using.choice is None or one.without.choice is None:
        other = one.without if one.using.choice is None else one.using
        only = f"{without}: {_priced(other)}" if one.using.choice is None else f"use it: {_priced(other)}"
        only = only if other.choice is not None else "and there is no plan without it either"
        said = "no valid plan uses it" if one.using.choice is None else "no plan goes on without it"
        return f"{name}: {said}; {only}"
    belongs = _belongs(one)
    using = f"use it{f' with {belongs}' if belongs else ''}: {_priced(one.using)}"
    return f"{name}: {using}; {without}: {_priced(one.without)}. Using it is {_against(one.using, one.without)}"


def told_missing(lost: Missing) -> str:
    """What the numbers that cannot be had cost."""
    names, it = ", ".join(lost.numbers), "it" if len(lost.numbers) == 1 else "them"
    if lost.without.status not in TOLD or lost.had.status not in TOLD:
        return f"{names} cannot be had: what that costs is not proven"
    if lost.had.choice is None:
        return f"{names} cannot be had: with {it} there would be no plan either"
    if lost.without.choice is None:
        return f"{names} cannot be had: without {it} there is no plan; with {it} one comes to {_priced(lost.had)}"
    if lost.without.cost == lost.had.cost:
        return f"{names} cannot be had: that changes nothing, another plan costs as little"
    return (
        f"{names} cannot be had: without {it} {_priced(lost.without)}; with {it} {_priced(lost.had)}. "
        f"Without {it} is {_against(lost.without, lost.had)}"
    )


def _belongs(one: Crossing) -> str:
    """What stands elsewhere in the unit because the part in hand is used."""
    assert one.using.choice and one.without.choice
    names = one.using.problem.family.name_of
    other = one.without.choice.combination
    differs = [
        f"no {one.using.problem.family.position[position].name}" if design == NONE else names(design)
        for position, design in one.using.choice.combination.items()
        if position != one.position and design != other[position]
    ]
    return " and ".join(differs)


def days_of(plan: Plan) -> int:
    """Working days that a plan waits for its last arrival."""
    return max((purchase.line.workdays for purchase in plan.choice.purchases), default=0) if plan.choice else 0


def _priced(plan: Plan) -> str:
    return f"{text(plan.cost)}, {'today' if not days_of(plan) else f'in {_days(days_of(plan))}'}"


def _days(days: int) -> str:
    return f"{days} working {'day' if days == 1 else 'days'}"


def _against(one: Plan, other: Plan) -> str:
    """One plan against another: "12.00 dearer and 3 working days sooner"."""
    cents, days = one.cost - other.cost, days_of(one) - days_of(other)
    cost = f"{text(abs(cents))} {'dearer' if cents > 0 else 'cheaper'}" if cents else "as dear"
    return f"{cost} and {_days(abs(days))} {'later' if days > 0 else 'sooner'}" if days else f"{cost} and as soon"
