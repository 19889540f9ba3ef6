"""A job's answer, as `sourcing quote` and `sourcing compare` tell it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.decision.possibilities import Answered
from sourcing.labels import labels_of
from sourcing.page.asked import Shop
from sourcing.page.drawn import page
from sourcing.page.step import head_of
from sourcing.plan import Plan
from sourcing.quote import told
from sourcing.quote.cautions import Caution, cautions, for_all_work
from sourcing.quote.report import sections_of
from sourcing.quote.sections.trend import trend_section
from sourcing.quote.words import WORDS, in_short, not_studied

router = APIRouter(include_in_schema=False)


def warned(plan: Plan) -> tuple[Caution, ...]:
    """What must be watched; without a plan, who decides."""
    return cautions(plan) or for_all_work(labels_of("en"))[-1:]


@router.get("/jobs/{name}/answer")
def answer(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """What to buy and why, to the cent as `sourcing quote` prints it."""
    file = desk.file(name)
    seen = desk.quoted(file)
    plan = seen.answered.plan
    return page(
        request, "answer.html", name=name, step="answer", seen=seen, plan=plan, problem=plan.problem,
        family=plan.problem.family,
        head=head_of(plan), told=told, words=WORDS[plan.status], cautions=warned(plan),
        short=in_short(seen.decided) if seen.decided else list(filter(None, [not_studied(seen.answered.plan)])),
        note="Saved." if saved else "",
    )  # fmt: skip


@router.get("/jobs/{name}/compare")
def compare(request: Request, name: str, desk: Shop) -> Response:
    """Routes side by side, the price at which the choice turns, what a day costs: all that `sourcing compare` tells."""
    study = desk.studied(desk.file(name))
    if isinstance(study, Answered):
        plan = study.plan
        return page(request, "open.html", name=name, step="compare", plan=plan, family=plan.problem.family,
        head=head_of(plan),
                    words=WORDS[plan.status])  # fmt: skip
    plan = study.plan
    return page(
        request, "compare.html", name=name, step="compare", plan=plan, family=plan.problem.family,
        head=head_of(plan), study=study, told=told,
        words=WORDS[plan.status], sections=list(sections_of(study, None)), cautions=warned(plan),
    )  # fmt: skip


@router.get("/jobs/{name}/trend")
def trend(request: Request, name: str, desk: Shop) -> Response:
    """The job at every date on which prices changed, as `sourcing trend` tells it."""
    file = desk.file(name)
    plan, moments = desk.answered(file).plan, desk.moments(file)
    if isinstance(moments, Answered):
        return page(request, "open.html", name=name, step="compare", plan=plan, family=plan.problem.family,
                    head=head_of(plan), words=WORDS[plan.status])  # fmt: skip
    return page(
        request, "trend.html", name=name, step="compare", plan=plan, family=plan.problem.family, head=head_of(plan),
        section=trend_section(moments) if moments else None,
    )  # fmt: skip
