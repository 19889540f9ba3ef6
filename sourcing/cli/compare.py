"""`sourcing compare`: routes side by side, where the choice turns, cost against the day."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path

import typer

from sourcing.cli import Exit
from sourcing.cli.screen import told_causes
from sourcing.decision.break_even import BreakEven, around, break_even
from sourcing.decision.frontier import by_ready_day
from sourcing.decision.possibilities import answer_all
from sourcing.decision.routes import Comparison, causes, compare
from sourcing.faults import BadInput, BadValue, MissingFile, UnknownName, shown
from sourcing.folder import Folder
from sourcing.money import text, to_minor
from sourcing.partnumber import PartNumber
from sourcing.plan import Plan, Status
from sourcing.prices.cache import Cache
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.quote.comparison import break_even_record, comparison_record
from sourcing.quote.record import record

CODES = {Status.PROVEN: Exit.PROVEN, Status.IMPOSSIBLE: Exit.IMPOSSIBLE}


def compare_job(
    job: Path, catalogs: Path, part: str | None, low: str | None, high: str | None, as_json: bool
) -> Exit:
    """Compare the routes of one job."""
    if not job.is_file():
        raise BadInput([MissingFile(file=shown(job), expected="a job file", remedy="Correct the name.")])
    problems = Folder(catalogs, Cache()).problems(job)
    answered = answer_all(problems, answer)
    plan = answered.plan
    if plan.status == Status.OPEN:
        typer.echo(json.dumps(record(answered)) if as_json else "\n".join(r.says for r in plan.reasons))
        return Exit.UNPROVEN
    problem = plan.problem
    comparison = compare(problem, answer)
    frontier = by_ready_day(problem, _cost_only)
    turns = _turns(problem, plan, part, low, high)
    if as_json:
        typer.echo(json.dumps(comparison_record(comparison, turns, frontier), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(comparison, turns, frontier)))
    return CODES.get(plan.status, Exit.UNPROVEN)


def _cost_only(problem: Problem) -> Plan:
    return answer(problem, ties=False)


def _turns(problem: Problem, plan: Plan, part: str | None, low: str | None, high: str | None) -> list[BreakEven]:
    if part is None:
        found = around(problem, plan, _cost_only)
        return [found] if found else []
    supplier, _, number = part.partition("/")
    offer = next(
        (o for o in problem.offers if o.supplier == supplier and o.part.number == PartNumber(number)), None
    )
    if offer is None:
        known = ", ".join(f"{o.supplier}/{o.part.number}" for o in problem.offers)
        raise BadInput([UnknownName(place="--part", found=f'"{part}"', expected=f"a part that can be bought: {known}")])
    currency = problem.terms[supplier].currency
    now = offer.steps[0].minor
    first = _minor("--from", low, currency, max(1, now // 2))
    last = _minor("--to", high, currency, now * 2)
    if first > last or first < 0:
        raise BadInput([BadValue(place="--from", found=f"{low} to {high}", expected="a range of prices, the lower first")])
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


def _told(
    comparison: Comparison, turns: Sequence[BreakEven], frontier: Sequence[tuple[date | None, Plan]]
) -> Iterator[str]:
    family = comparison.problem.family
    job = comparison.problem.job
    yield f"Job {job.number}, {family.family.name}: routes by {family.lead.name.lower()}, cheapest first"
    cheapest = comparison.cheapest
    for route in comparison.routes:
        kind = "exact" if route.exact else "substitute"
        yield ""
        if route.plan.choice is None or cheapest is None:
            yield f"  {family.name_of(route.design)} ({kind}): no plan"
            yield from (f"    - {reason.says}" for reason in route.reasons[:4])
            continue
        advice = "   <- recommended" if route.design == comparison.recommended else ""
        yield f"  {family.name_of(route.design)} ({kind}): {text(route.plan.cost)}{advice}"
        if route is not cheapest:
            told = told_causes(causes(route.plan, cheapest.plan))
            yield f"    {text(route.plan.cost - cheapest.plan.cost)} dearer: {told}"
        here = route.plan.last_arrival.isoformat() if route.plan.last_arrival else "nothing to wait for"
        yield f"    all here {here}; cash now {text(route.plan.totals.cash)}; " + (
            f"expected comebacks {text(route.plan.totals.comebacks)}"
        )
        yield f"    {', '.join(f'{p} {d}' for p, d in route.plan.choice.combination.items())}"
    for found in turns:
        yield ""
        yield from _told_turns(found, family.lead.code)
    yield ""
    yield "Cost against the day on which everything is here"
    for day, plan in frontier:
        yield f"  {day.isoformat() if day else 'nothing bought':<14}{text(plan.cost):>12}"


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
