"""The report's section on what an earlier day, fewer comebacks or less cash cost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal

from sourcing.decision.study import Study
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.quote.pictures import TITLES, frontier_picture
from sourcing.quote.sections.parts import bought, figure, section, table
from sourcing.quote.tags import Inside, Markup, name

COLUMNS = {"day": "All here on", "comebacks": "Expected comebacks", "cash": "Cash now"}


def frontiers_section(study: Study) -> Markup:
    """Cost against the day, against expected comebacks and against cash."""
    return section(
        "What a day, a comeback or cash costs",
        _frontier(study.plan, "day", study.by_day),
        _frontier(study.plan, "comebacks", [(plan.last_arrival, plan) for plan in study.by_comebacks]),
        _frontier(study.plan, "cash", [(plan.last_arrival, plan) for plan in study.by_cash]),
    )


def _frontier(
    plan: Plan, kind: Literal["day", "comebacks", "cash"], points: Sequence[tuple[date | None, Plan]]
) -> Markup:
    problem = plan.problem
    least = min((one.cost for _, one in points), default=0)
    rows: list[list[Inside]] = []
    for day, one in points:
        assert one.choice is not None
        place = _day(plan, day) if kind == "day" else text(one.totals.of(kind))
        design = one.choice.combination[problem.family.lead.code]
        rows.append([place, text(one.cost), text(one.cost - least), name(design), bought(one)])
    head = (COLUMNS[kind], "Cost", "Dearer by", problem.family.lead.name, "Bought")
    caption = f"The points of the line against {TITLES[kind]}, amounts in {problem.shop.currency}"
    return figure(frontier_picture(problem, kind, points), f"frontier-{kind}", table(caption, head, rows, "nnnkw"))


def _day(plan: Plan, day: date | None) -> str:
    return day.isoformat() if day else f"{plan.problem.job.job.date.isoformat()} (nothing is bought)"
