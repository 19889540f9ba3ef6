"""`sourcing compare`: routes side by side, where the choice turns, cost against the day."""

from __future__ import annotations

import json
from decimal import Decimal, InvalidOperation
from pathlib import Path

import typer

from sourcing.book.family import Family
from sourcing.cli import Exit
from sourcing.cli.study import told_study
from sourcing.decision.break_even import BreakEven, around, break_even
from sourcing.decision.others import with_design, with_part
from sourcing.decision.possibilities import answer_all
from sourcing.decision.study import study
from sourcing.faults import BadInput, BadValue, UnknownName
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.money import to_minor
from sourcing.partnumber import PartNumber
from sourcing.plan import Plan, Status
from sourcing.prices.cache import Cache
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.quote.comparison import study_record
from sourcing.quote.record import record

COUNTED: list[int] = []  # programs solved, question by question, for -v
CODES = {Status.PROVEN: Exit.PROVEN, Status.IMPOSSIBLE: Exit.IMPOSSIBLE}


def compare_job(
    job: Path,
    catalogs: Path,
    part: str | None,
    low: str | None,
    high: str | None,
    why_not: str | None,
    wanted: int,
    by_source: bool,
    as_json: bool,
    verbose: bool,
) -> Exit:
    """Compare the routes of one job."""
    COUNTED.clear()
    folder = Folder(catalogs, Cache())
    answered = answer_all(folder.problems(job), _settled)
    plan = answered.plan
    if plan.status == Status.OPEN:
        typer.echo(json.dumps(record(answered)) if as_json else "\n".join(r.says for r in plan.reasons))
        return Exit.UNPROVEN
    problem = plan.problem
    turns = tuple(_turns(problem, plan, part, low, high))
    instead = _instead(problem, why_not) if why_not else None

    def seal(changed: Job, family: Family) -> Problem:
        return folder.sealed(changed, family, problem.setting)

    seen = study(plan, turns, instead, wanted, by_source, seal, _settled, _cost_only)
    if as_json:
        typer.echo(json.dumps(study_record(seen), ensure_ascii=False))
    else:
        typer.echo("\n".join(told_study(seen)))
    if verbose:
        for found in turns:
            pieces = f"{len(found.pieces)} pieces of {found.offer.supplier} {found.offer.part.number}"
            typer.echo(f"Break-even: {pieces} from {found.solves} solves", err=True)
        typer.echo(f"Solved: {len(COUNTED)} questions, {sum(COUNTED)} programs", err=True)
    return CODES.get(plan.status, Exit.UNPROVEN)


def _instead(problem: Problem, asked: str) -> Plan:
    """The best plan with what --why-not names: a design, or SUPPLIER/PART_NUMBER."""
    if asked in problem.family.design:
        return with_design(problem, asked, _settled)
    return with_part(problem, _offer(problem, asked, "--why-not").id, _settled)


def _offer(problem: Problem, asked: str, option: str) -> Offer:
    supplier, _, number = asked.partition("/")
    for offer in problem.offers:
        if offer.supplier == supplier and offer.part.number == PartNumber(number):
            return offer
    known = ", ".join(f"{o.supplier}/{o.part.number}" for o in problem.offers)
    barred = [r.says for r in problem.refusals if supplier in r.says and PartNumber(r.code) == PartNumber(number)]
    found = f'"{asked}"' + (f" ({barred[0]})" if barred else "")
    raise BadInput([UnknownName(place=option, found=found, expected=f"a part that can be bought: {known}")])


def _settled(problem: Problem) -> Plan:
    return _counted(answer(problem))


def _cost_only(problem: Problem) -> Plan:
    return _counted(answer(problem, ties=False))


def _counted(plan: Plan) -> Plan:
    COUNTED.append(plan.proof.solves)
    return plan


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
    if problem.first_price_counts(offer) is None:
        expected = "a part of which fewer pieces may be bought"
        remedy = "Put fewer pieces of it on the list of [[wanted]], or study another part."
        raise BadInput([BadValue(place="--part", found=f'"{part}"', expected=expected, remedy=remedy)])
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
