"""The report's sections on other plans: the next best ones, and the best one with what somebody asked for."""

from __future__ import annotations

from sourcing.decision.study import Study
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.quote.sections.parts import bought, combination, section, table
from sourcing.quote.tags import Inside, Markup, join, tag
from sourcing.quote.words import told_causes


def best_section(study: Study) -> Markup | None:
    """The best plans in order."""
    if not study.best:
        return None
    rows: list[list[Inside]] = [
        [place, text(plan.cost), combination(plan), bought(plan)] for place, plan in enumerate(study.best, 1)
    ]
    caption = f"The best plans in order, amounts in {study.plan.problem.shop.currency}"
    return section("Next best plans", table(caption, ("Place", "Cost", "Combination", "Bought"), rows, "-nww"))


def instead_section(study: Study) -> Markup | None:
    """The best plan with what was asked for, and what it costs more."""
    if study.instead is None:
        return None
    return section("Instead", tag("p", _told(study.instead, study.plan)))


def _told(instead: Plan, plan: Plan) -> Markup:
    if instead.choice is None or plan.choice is None:
        return Markup("There is no valid plan with it.")
    more = instead.cost - plan.cost
    told = f"{text(more)} dearer: {told_causes(instead, plan)}." if more else "as the plan that was chosen."
    return join(
        ("The best plan with it: ", combination(instead), f"; {bought(instead)}. It costs {text(instead.cost)}, ", told)
    )
