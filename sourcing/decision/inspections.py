"""What an inspection that was failed, or never made, costs: by two answers, with the found part kept and without."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sourcing.book.family import Family
from sourcing.book.rules import Setting
from sourcing.decision import Answer
from sourcing.decision.possibilities import Answered
from sourcing.job import Job
from sourcing.money import text
from sourcing.plan import Plan, Status
from sourcing.problem import Problem
from sourcing.sealing import unpassed, untested

Seal = Callable[[Job, Family, Setting], Problem]


def with_inspections(answered: Answered, seal: Seal, answer: Answer) -> Answered:
    """The answer with a note for each position of `keep` whose part has not passed: what keeping it would have saved."""
    plan = answered.plan
    if plan.choice is None or plan.status != Status.PROVEN or plan.proof.interrupted:
        return answered
    notes = [_alternative(plan, position, seal, answer) for position in untested(plan.problem.job, plan.problem.family)]
    if not notes:
        return answered
    old = plan.problem
    rest = old.notes[len(old.bench) :]
    problem = replace(old, notes=(*old.bench, *notes, *rest), bench=(*old.bench, *notes))
    return replace(answered, plan=replace(plan, problem=problem))


def _alternative(plan: Plan, position: str, seal: Seal, answer: Answer) -> str:
    """What the same job costs where every inspection of one position is passed, against what it costs now."""
    problem = plan.problem
    name = problem.family.position[position].name
    failing = unpassed(problem.job, problem.family, position)
    failed = any(inspection.code in problem.job.readings for inspection, _ in failing)
    passing = {inspection.code: inspection.accept[0] for inspection, _ in failing}
    passed = problem.job.model_copy(update={"readings": {**problem.job.readings, **passing}})
    other = answer(seal(passed, problem.family, problem.setting))
    if other.status != Status.PROVEN:
        return f"what keeping the found {name} would have saved cannot be told: no plan with it is proven"
    saved = plan.cost - other.cost
    if saved <= 0:
        return f"keeping the found {name} would have saved nothing: another plan without it costs as little"
    if failed:
        return f"keeping the found {name} would have saved {text(saved)}: that is what its failed inspection costs here"
    return f"measuring the found {name} can save {text(saved)}: that is what keeping it saves if it passes"
