"""The demo's jobs studied from every side, once a process, for the pictures, the report and the sheet of the decision."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from sourcing.decision.break_even import around
from sourcing.decision.frontier import by_ready_day, by_total
from sourcing.decision.others import asks, best, with_design
from sourcing.decision.possibilities import answer_all
from sourcing.decision.routes import compare
from sourcing.decision.study import Study
from sourcing.decision.trend import Moment, trend
from sourcing.folder import Folder
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.program.answer import answer

ROOT = Path(__file__).resolve().parents[2]
JOBS = ("substitute-with-plate", "date-autumn", "used-block-for-cash", "nothing-crosses")


def cost_only(problem: Problem) -> Plan:
    return answer(problem, ties=False)


def study_of(plan: Plan, wanted: int = 0, instead: str | None = None) -> Study:
    """A plan's job from every side, put together field by field."""
    problem, turn = plan.problem, around(plan.problem, plan, cost_only)
    plans = best(problem, cost_only)
    return Study(
        plan=plan,
        comparison=compare(problem, cost_only),
        turns=(turn,) if turn else (),
        by_day=tuple(by_ready_day(problem, cost_only)),
        asks=tuple(asks(problem, plan, cost_only)) if plan.choice else (),
        by_comebacks=tuple(by_total(problem, "comebacks", cost_only)),
        by_cash=tuple(by_total(problem, "cash", cost_only)),
        best=tuple(plan for _, plan in zip(range(wanted), plans, strict=False)),
        instead=with_design(problem, instead, cost_only) if instead else None,
    )


@cache
def studied(job: str) -> Study:
    problems = Folder(ROOT / "catalogs").problems(ROOT / "scenarios" / f"{job}.toml")
    plan = answer_all(problems, cost_only).plan
    return study_of(plan, wanted=3, instead="block-a")


@cache
def moments_of(job: str) -> tuple[Moment, ...]:
    """The job at each date of the demo's record, a promise moved with it."""
    folder, path = Folder(ROOT / "catalogs"), ROOT / "scenarios" / f"{job}.toml"
    read = folder.read_job(path)

    def at(day: date) -> Problem:
        need_by = read.job.need_by and read.job.need_by + (day - read.job.date)
        header = read.job.model_copy(update={"date": day, "need_by": need_by})
        return folder.problems_of(read.model_copy(update={"job": header}), path.name)[0]

    return tuple(trend(((day, at(day)) for day in folder.prices.days()), cost_only))
