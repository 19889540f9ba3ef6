"""`sourcing compare`: routes side by side, where the choice turns, cost against the day."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

import typer

from sourcing.cli.ending import Exit
from sourcing.cli.study import told_study
from sourcing.counter import Answers, moments_of, studied
from sourcing.decision import Answer
from sourcing.decision.break_even import BreakEven, break_even
from sourcing.decision.others import with_design, with_part
from sourcing.decision.possibilities import answer_all
from sourcing.faults import BadInput, BadValue, UnknownName, shown
from sourcing.folder import Folder
from sourcing.money import to_minor
from sourcing.partnumber import PartNumber
from sourcing.plan import Plan, Status
from sourcing.prices.cache import Cache
from sourcing.prices.offers import Offer
from sourcing.problem import Problem
from sourcing.program.answer import answer
from sourcing.quote.comparison import study_record
from sourcing.quote.record import record
from sourcing.quote.report import write_report

CODES = {Status.PROVEN: Exit.PROVEN, Status.IMPOSSIBLE: Exit.IMPOSSIBLE}


@dataclass(slots=True)
class Desk:
    """Answers questions about one job, and counts them for -v."""

    questions: int = 0
    programs: int = 0

    def settled(self, problem: Problem) -> Plan:
        """The answer, always the same one among equals."""
        return self._counted(answer(problem))

    def cost_only(self, problem: Problem) -> Plan:
        """An answer that is as cheap, where only the cost is shown."""
        return self._counted(answer(problem, ties=False))

    def _counted(self, plan: Plan) -> Plan:
        self.questions += 1
        self.programs += plan.proof.solves
        return plan


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
    out: Path | None,
    verbose: bool,
) -> Exit:
    """Compare the routes of one job."""
    desk = Desk()
    folder = Folder(catalogs, Cache())
    answered = answer_all(folder.problems(job), desk.settled)
    plan = answered.plan
    if plan.status == Status.OPEN:
        typer.echo(json.dumps(record(answered)) if as_json else "\n".join(r.says for r in plan.reasons))
        if part or why_not or wanted:
            typer.echo("--part, --why-not and --best wait until that is said.", err=True)
        return Exit.UNPROVEN
    problem = plan.problem
    by = Answers(desk.settled, desk.cost_only)
    turns = _turns(plan, part, low, high, desk.cost_only) if part is not None else None
    instead = _instead(problem, why_not, desk.settled) if why_not else None
    seen = studied(folder, plan, by, turns, instead, wanted, by_source)
    if as_json:
        typer.echo(json.dumps(study_record(seen), ensure_ascii=False))
    else:
        typer.echo("\n".join(told_study(seen)))
    if out is not None:
        page = out / job.stem / "decision.html"
        write_report(seen, moments_of(folder, problem.job, shown(job), by), page)
        typer.echo(f"\nReport: {shown(page)}", err=as_json)
    if verbose:
        for found in seen.turns:
            pieces = f"{len(found.pieces)} pieces of {found.offer.supplier} {found.offer.part.number}"
            typer.echo(f"Break-even: {pieces} from {found.solves} solves", err=True)
        typer.echo(f"Solved: {desk.questions} questions, {desk.programs} programs", err=True)
    return CODES.get(plan.status, Exit.UNPROVEN)


def _instead(problem: Problem, asked: str, solved: Answer) -> Plan:
    """The best plan with what --why-not names: a design, or SUPPLIER/PART_NUMBER."""
    if asked in problem.family.design:
        return with_design(problem, asked, solved)
    return with_part(problem, _offer(problem, asked, "--why-not").id, solved)


def _offer(problem: Problem, asked: str, option: str) -> Offer:
    supplier, _, number = asked.partition("/")
    for offer in problem.offers:
        if offer.supplier == supplier and offer.part.number == PartNumber(number):
            return offer
    known = ", ".join(f"{o.supplier}/{o.part.number}" for o in problem.offers)
    barred = [r.says for r in problem.refusals if supplier in r.says and PartNumber(r.code) == PartNumber(number)]
    found = f'"{asked}"' + (f" ({barred[0]})" if barred else "")
    raise BadInput([UnknownName(place=option, found=found, expected=f"a part that can be bought: {known}")])


def _turns(plan: Plan, part: str, low: str | None, high: str | None, cost_only: Answer) -> list[BreakEven]:
    problem = plan.problem
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
    return [break_even(problem, offer.id, first, last, cost_only)]


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
