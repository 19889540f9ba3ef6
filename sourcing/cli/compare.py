"""`sourcing compare`: routes side by side, where the choice turns, cost against the day."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from pathlib import Path

import typer

from sourcing.cli import Exit
from sourcing.cli.screen import told_causes
from sourcing.decision.break_even import BreakEven, around, break_even
from sourcing.decision.cliffs import cliffs
from sourcing.decision.others import with_design, with_part
from sourcing.decision.possibilities import answer_all
from sourcing.decision.routes import Comparison, Route, causes
from sourcing.decision.study import Study, study
from sourcing.faults import BadInput, BadValue, UnknownName
from sourcing.folder import Folder
from sourcing.money import text, to_minor
from sourcing.partnumber import PartNumber
from sourcing.plan import Plan, Status
from sourcing.prices.cache import Cache
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.quote.charge import charge
from sourcing.quote.comparison import break_even_record, own, study_record
from sourcing.quote.record import record

CODES = {Status.PROVEN: Exit.PROVEN, Status.IMPOSSIBLE: Exit.IMPOSSIBLE}


def compare_job(
    job: Path,
    catalogs: Path,
    part: str | None,
    low: str | None,
    high: str | None,
    why_not: str | None,
    wanted: int,
    as_json: bool,
) -> Exit:
    """Compare the routes of one job."""
    answered = answer_all(Folder(catalogs, Cache()).problems(job), answer)
    plan = answered.plan
    if plan.status == Status.OPEN:
        typer.echo(json.dumps(record(answered)) if as_json else "\n".join(r.says for r in plan.reasons))
        return Exit.UNPROVEN
    problem = plan.problem
    turns = tuple(_turns(problem, plan, part, low, high))
    instead = _instead(problem, why_not) if why_not else None
    seen = study(plan, turns, instead, wanted, answer, _cost_only)
    if as_json:
        typer.echo(json.dumps(study_record(seen), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(seen)))
    return CODES.get(plan.status, Exit.UNPROVEN)


def _instead(problem: Problem, asked: str) -> Plan:
    """The best plan with what --why-not names: a design, or SUPPLIER/PART_NUMBER."""
    if asked in problem.family.design:
        return with_design(problem, asked, answer)
    return with_part(problem, _offer(problem, asked, "--why-not").id, answer)


def _offer(problem: Problem, asked: str, option: str) -> Offer:
    supplier, _, number = asked.partition("/")
    for offer in problem.offers:
        if offer.supplier == supplier and offer.part.number == PartNumber(number):
            return offer
    known = ", ".join(f"{o.supplier}/{o.part.number}" for o in problem.offers)
    barred = [r.says for r in problem.refusals if supplier in r.says and PartNumber(r.code) == PartNumber(number)]
    found = f'"{asked}"' + (f" ({barred[0]})" if barred else "")
    raise BadInput([UnknownName(place=option, found=found, expected=f"a part that can be bought: {known}")])


def _cost_only(problem: Problem) -> Plan:
    return answer(problem, ties=False)


def _turns(problem: Problem, plan: Plan, part: str | None, low: str | None, high: str | None) -> list[BreakEven]:
    if part is None:
        found = around(problem, plan, _cost_only)
        return [found] if found else []
    offer = _offer(problem, part, "--part")
    currency = problem.terms[offer.supplier].currency
    now = offer.steps[0].minor
    first = _minor("--from", low, currency, max(1, now // 2))
    last = _minor("--to", high, currency, now * 2)
    if first > last or first < 0:
        raise BadInput(
            [BadValue(place="--from", found=f"{low} to {high}", expected="a range of prices, the lower first")]
        )
    return [break_even(problem, offer.id, first, last, _cost_only)]


def _minor(option: str, said: str | None, currency: str, otherwise: int) -> int:
    if said is None:
        return otherwise
    try:
        amount = Decimal(said)
        if not 0 <= amount <= 99_999_999:
            raise InvalidOperation
    except InvalidOperation:
        raise BadInput([BadValue(place=option, found=f'"{said}"', expected="an amount such as 412.50")]) from None
    return to_minor(amount, currency)


def _told(seen: Study) -> Iterator[str]:
    comparison = seen.comparison
    problem = comparison.problem
    family = problem.family
    yield f"Job {problem.job.number}, {family.family.name}: routes by {family.lead.name.lower()}, cheapest first"
    for route in comparison.routes:
        yield ""
        yield from _told_route(comparison, route)
    for found in seen.turns:
        yield ""
        yield from _told_turns(found, family.lead.code)
    if seen.instead is not None:
        yield ""
        yield f"Instead: {_told_instead(seen.instead, seen.plan)}"
    if seen.best:
        yield ""
        yield "The best plans, each another combination"
        for plan in seen.best:
            yield f"  {text(plan.cost):>12}  {_parts(plan)}"
    if seen.asks:
        yield ""
        yield f"To telephone from: the price at which each other {family.lead.name.lower()} would win this job"
        for ask in seen.asks:
            currency = problem.terms[ask.offer.supplier].currency
            wins = "loses at any price" if ask.wins_at_minor is None else f"wins at {own(ask.wins_at_minor, currency)}"
            now = own(ask.offer.steps[0].minor, currency)
            yield f"  {ask.offer.supplier} {ask.offer.part.number}: now {now} {currency}, {wins}"
    edges = list(_told_cliffs(seen.plan))
    if edges:
        yield ""
        yield "Near an edge"
        yield from edges
    yield ""
    yield "Cost against the day on which everything is here"
    for day, plan in seen.by_day:
        yield f"  {day.isoformat() if day else 'nothing bought':<14}{text(plan.cost):>12}"
    for total, points in (("comebacks", seen.by_comebacks), ("cash", seen.by_cash)):
        yield f"Cost against {'expected comebacks' if total == 'comebacks' else 'cash now'}"
        for plan in points:
            yield f"  {text(plan.totals.of(total)):>14}{text(plan.cost):>12}"


def _told_cliffs(plan: Plan) -> Iterator[str]:
    for cliff in cliffs(plan):
        terms = plan.problem.terms[cliff.order.supplier]
        order = f"{terms.name}, {cliff.order.mode}"
        if cliff.purchase is not None:
            number = cliff.purchase.line.offer.part.number
            yield f"  {order}: {cliff.distance} more of {number} reach its next break"
            continue
        edge = "free freight" if cliff.kind == "free_freight" else "the order minimum"
        side = "over" if cliff.distance >= 0 else "short of"
        yield f"  {order}: {own(abs(cliff.distance), terms.currency)} {terms.currency} {side} {edge}"
        for loss in cliff.losses:
            number = loss.purchase.line.offer.part.number
            told = (
                "the rest cannot be ordered"
                if loss.more_cents is None
                else f"the rest costs {text(loss.more_cents)} more"
            )
            yield f"    without {number} {told}"


def _parts(plan: Plan) -> str:
    return ", ".join(f"{p} {d}" for p, d in plan.choice.combination.items()) if plan.choice else "no plan"


def _told_instead(instead: Plan, plan: Plan) -> str:
    if instead.choice is None or plan.choice is None:
        return "there is no valid plan with it"
    more = instead.cost - plan.cost
    if not more:
        return f"{text(instead.cost)}, as the plan that was chosen ({_parts(instead)})"
    return f"{text(instead.cost)} ({_parts(instead)}): {told_causes(causes(instead, plan))}: {text(more)} dearer"


def _told_route(comparison: Comparison, route: Route) -> Iterator[str]:
    name = comparison.problem.family.name_of(route.design)
    kind = "exact" if route.exact else "substitute"
    cheapest = comparison.cheapest
    if route.plan.choice is None or cheapest is None:
        yield f"  {name} ({kind}): no plan"
        yield from (f"    - {reason.says}" for reason in route.reasons[:4])
        return
    marks = [word for word, holds in (("cheapest", route is cheapest),
                                      ("recommended", route.design == comparison.recommended)) if holds]  # fmt: skip
    yield f"  {name} ({kind}): {text(route.plan.cost)}" + (f"   <- {', '.join(marks)}" if marks else "")
    if route.plan.cost > cheapest.plan.cost:
        told = told_causes(causes(route.plan, cheapest.plan))
        yield f"    {text(route.plan.cost - cheapest.plan.cost)} dearer: {told}"
    here = route.plan.last_arrival.isoformat() if route.plan.last_arrival else "nothing to wait for"
    comebacks, cash = text(route.plan.totals.comebacks), text(route.plan.totals.cash)
    yield f"    all here {here}; cash now {cash}; expected comebacks {comebacks}"
    paid = charge(route.plan)
    yield f"    to the customer {text(paid.total_cents)}, margin {text(paid.margin_cents)}"
    yield f"    {_parts(route.plan)}"


def _told_turns(found: BreakEven, lead: str) -> Iterator[str]:
    said = break_even_record(found, lead)
    currency = found.problem.terms[found.offer.supplier].currency
    yield (
        f"The price of {said['supplier']} {said['part_number']}, now {said['price']} {currency} "
        f"({said['from']} to {said['to']} looked at)"
    )
    for piece in said["pieces"]:
        use = "with it" if piece["uses_part"] else "without it"
        yield (
            f"  {piece['from']:>10} to {piece['to']:>10}  {piece['design']} {use}, "
            f"{piece['cost_at_from']} to {piece['cost_at_to']}"
        )
