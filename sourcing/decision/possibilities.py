"""A job with something left open: where every possibility gives the same answer that is the answer."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from sourcing.book.fitting import Reason
from sourcing.book.rules import Setting
from sourcing.decision import Answer
from sourcing.plan import Plan, Status
from sourcing.problem import Problem


@dataclass(frozen=True)
class Answered:
    """The answer to a job, with every possibility that was looked at.

    `plan` carries the status of the whole; where that is open, it has no choice.
    """

    plan: Plan
    eras: tuple[str, ...]
    possibilities: tuple[tuple[Setting, Plan], ...]


def answer_all(problems: Sequence[Problem], answer: Answer) -> Answered:
    """Answer every possible setting of a job; those that ask the same question are answered once."""
    known: dict[Hashable, Plan] = {}
    answered: list[tuple[Setting, Plan]] = []
    for problem in problems:
        key = problem.question
        if key not in known:
            known[key] = answer(problem)
        answered.append((problem.setting, known[key]))
    eras = tuple(dict.fromkeys(setting.era for setting, _ in answered))
    plans = [plan for _, plan in answered]
    first = plans[0]
    if all(_content(plan) == _content(first) for plan in plans):
        unproven = next((plan for plan in plans if plan.status != Status.PROVEN), first)
        status = first.status if first.choice is None else unproven.status
        return Answered(replace(first, status=status), eras, tuple(answered))
    plan = Plan(problems[0], Status.OPEN, reasons=tuple(_to_ask(problems[0], answered)))
    return Answered(plan, eras, tuple(answered))


def _content(plan: Plan) -> Hashable:
    if plan.choice is None:
        return plan.status
    choice = plan.choice
    return (
        tuple(choice.combination.items()),
        choice.kept,
        choice.in_hand,
        choice.sent_back,
        tuple(purchase.key for purchase in choice.purchases),
        tuple((item.position, item.design, plan.problem.offer[item.offer].part.number) for item in choice.returns),
        tuple(work.code for work in plan.works),
        plan.totals,
    )


def _to_ask(problem: Problem, answered: Sequence[tuple[Setting, Plan]]) -> list[Reason]:
    """What to ask: each key on which some answer hangs while everything else stays the same."""
    asks = []
    family = problem.family
    for key in ("era", "vehicle_era", *family.fact):
        others: dict[Hashable, set[Hashable]] = {}
        values: dict[str, str] = {}
        for setting, plan in answered:
            value = str(setting.value(key))
            rest = tuple(setting.value(k) for k in ("era", "vehicle_era", *family.fact) if not _moves_with(k, key))
            others.setdefault(rest, set()).add(_content(plan))
            values.setdefault(value, _told(plan))
        if len(values) > 1 and any(len(contents) > 1 for contents in others.values()):
            outcome = "; ".join(f"{value}: {told}" for value, told in values.items())
            asks.append(
                Reason("fact" if key in family.fact else "era", f"{_question_for(problem, key)} ({outcome})", key)
            )
    return asks or [Reason("fact", "several facts together decide: give them all")]


def _moves_with(key: str, asked: str) -> bool:
    return key == asked or {key, asked} == {"era", "vehicle_era"}


def _question_for(problem: Problem, key: str) -> str:
    if key == "era":
        return "When was the unit built?"
    if key == "vehicle_era":
        return "When was the vehicle built?"
    return problem.family.fact[key].ask


def _told(plan: Plan) -> str:
    if plan.choice is None:
        return plan.status.value.replace("_", " ")
    return plan.problem.family.name_of(plan.choice.combination[plan.problem.family.lead.code])
