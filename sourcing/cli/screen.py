"""A plan as the person at the counter reads it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from textwrap import shorten, wrap

from sourcing.book.family import NONE
from sourcing.cli.lines import WIDTH, bullet
from sourcing.decision.easing import Freed
from sourcing.decision.possibilities import Answered
from sourcing.decision.study import Decided
from sourcing.faults import shown
from sourcing.money import text
from sourcing.plan import FILLS, SENT_BACK, STAYS, Plan, becomes, credit
from sourcing.problem import Problem
from sourcing.quote.cautions import cautions
from sourcing.quote.revisions import QUOTE, Revision
from sourcing.quote.words import HERE, WORDS, in_short, kind_of, told_causes

MOST_REASONS = 12


def told(answered: Answered, decided: Decided | None, papers: str) -> str:
    """The whole answer to a job as text, with the decision behind it where that was looked at, and what was written."""
    plan = answered.plan
    job = plan.problem.job
    head = f"Job {job.number}, {plan.problem.family.family.name}, {job.job.date.isoformat()}"
    lines = [head, "=" * len(head), WORDS[plan.status], *_unit(answered)]
    if not plan.proof.settled:
        lines.append("stopped before ties were settled: another plan may cost exactly the same")
    if plan.choice is not None:
        lines += ["", "The combination", *_combination(plan), "", "Bought from", *_orders(plan)]
        lines += [*_in_hand(plan), *_cores(plan), "", "What it costs", *_totals(plan)]
        if decided is not None:
            lines += ["", "The decision", *map(bullet, in_short(decided)), "", "Why", *_why(decided)]
        lines += ["", "Check before the vehicle moves", *(bullet(caution.says) for caution in cautions(plan))]
    else:
        lines += ["", "Why", *(bullet(reason.says) for reason in plan.reasons[:MOST_REASONS])]
        if len(plan.reasons) > MOST_REASONS:
            lines.append(f"  and {len(plan.reasons) - MOST_REASONS} more (--json lists all)")
    if plan.problem.notes:
        lines += ["", "Noted", *_noted(plan.problem)]
    if papers:
        lines += ["", papers]
    return "\n".join(lines) + "\n"


def told_papers(folder: Path, filed: Revision, main: str = QUOTE) -> str:
    """Where the papers of a job are, which revision they are, and what it changes; `main` is the workbook among them."""
    others = [name for name in filed.papers if name != main]
    new = "" if filed.written else ", unchanged: nothing was written"
    lines = [f"Workbook: {shown(folder / main)}", f"Revision {filed.number}{new}. Beside it:"]
    lines += wrap(", ".join(others), WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False)
    if filed.changes:
        lines += [f"What changed since revision {filed.number - 1}", *map(bullet, filed.changes)]
    if filed.aside:
        lines.append(
            bullet(
                f"changed by hand before, and kept in revisions/found-before-{filed.number}: {', '.join(filed.aside)}"
            )
        )
    if filed.edited:
        lines.append(bullet(f"changed by hand since, and left so: {', '.join(filed.edited)}"))
    return "\n".join(lines)


def _noted(problem: Problem) -> Iterator[str]:
    """What was noted: of the bench in full, the rest in a line each (--json tells all of it)."""
    for note in problem.notes:
        yield bullet(note if note in problem.bench else shorten(note, WIDTH - 4, placeholder=" ..."))


def _unit(answered: Answered) -> Iterator[str]:
    problem = answered.plan.problem
    names = ", ".join(problem.family.era[era].name for era in answered.eras)
    facts = ", ".join(f"{code} {value}" for code, value in problem.job.facts.items())
    yield f"Unit of {names}" + (f" ({facts})" if facts else "")


def _combination(plan: Plan) -> Iterator[str]:
    assert plan.choice is not None
    family = plan.problem.family
    width = max(len(position.name) for position in family.positions)
    for code, design in plan.choice.combination.items():
        found = plan.problem.found[code]
        if design == NONE:
            how = "left out"
        elif code in plan.choice.kept:
            how = "the found one goes back in"
        elif code in plan.choice.in_hand:
            how = HERE[plan.problem.in_hand[code].source]
        else:
            part = plan.problem.offer[plan.choice.fills[code]].part
            how = f"{part.condition}, {plan.problem.terms[part.supplier].name} {part.number}"
        changed = "" if not found or design in found else f"  (found: {', '.join(map(family.name_of, found))})"
        yield f"  {family.position[code].name:<{width}}  {family.name_of(design)} - {how}{changed}"


def _in_hand(plan: Plan) -> Iterator[str]:
    """What becomes of the parts in hand that fill nothing."""
    for position, hand in plan.problem.in_hand.items():
        how = becomes(plan, position)
        if how == FILLS:
            continue
        told = f"  in hand: the {plan.problem.family.name_of(hand.design)} is {how}" if how != STAYS else (
            f"  in hand: the {plan.problem.family.name_of(hand.design)} {how}")  # fmt: skip
        if how == SENT_BACK:
            told += (
                f", {text(hand.restock_cents or 0)} of its price stays with {plan.problem.terms[hand.supplier].name}"
            )
        yield told


def _orders(plan: Plan) -> Iterator[str]:
    if not plan.orders:
        yield "  nothing is bought"
    for order in plan.orders:
        terms = plan.problem.terms[order.supplier]
        freight = f"freight {text(order.freight_cents)}" if order.freight_cents else "freight free"
        yield f"  {terms.name}, {order.mode}, here {order.arrives.isoformat()}, {freight}"
        for purchase in order.lines:
            offer = purchase.line.offer
            core = f", core charge {text(offer.core_cents)}" if offer.core_cents else ""
            stock = (
                ""
                if offer.stock is not None
                else "; stock not stated" + (": confirm before promising" if plan.problem.job.job.need_by else "")
            )
            source = offer.source
            sheet = f", {source.sheet}" if source.sheet else ""
            yield (
                f"    {purchase.quantity} x {offer.part.number}  {' + '.join(offer.part.fills)}  "
                f"{text(offer.cents(purchase.quantity))}{core}{stock}"
            )
            yield f"      {Path(source.file).name}{sheet}, row {source.row}"


def _cores(plan: Plan) -> Iterator[str]:
    assert plan.choice is not None
    for item in plan.choice.returns:
        offer = plan.problem.offer[item.offer]
        supplier = plan.problem.terms[offer.supplier].name
        back = text(credit(plan.problem, item.offer))
        yield f"  core: the found {plan.problem.family.name_of(item.design)} goes to {supplier}, {back} comes back"


def _totals(plan: Plan) -> Iterator[str]:
    t = plan.totals
    rows = [("parts", t.parts), ("core charges", t.core_charges), ("freight", t.freight), ("cash to lay out", t.cash),
            ("core credit", -t.core_credit), ("returning cores", t.core_return), ("landed", t.landed),
            ("labour", t.labour), ("expected comebacks", t.comebacks), ("waiting", t.waiting),
            ("worth on the shelf", -t.shelf), ("whole", t.whole)]  # fmt: skip
    sums = {"cash to lay out", "landed", "whole"}
    for name, cents in rows:
        if cents or name in sums:
            yield f"  {name:<20}{text(cents):>12}" + (
                "  <- minimised" if name.split()[0] == plan.problem.minimise else ""
            )


def _why(decided: Decided) -> Iterator[str]:
    plan = decided.plan
    family = plan.problem.family
    lead = family.lead
    for route in decided.comparison.routes:
        kind = kind_of(route)
        name = family.name_of(route.design)
        if route.plan.choice is None:
            why = route.reasons[0].says if route.reasons else WORDS[route.plan.status]
            yield bullet(why if name in why else f"{name}: {why}")
        elif route.plan.cost <= plan.cost:
            yield bullet(
                f"{name} ({kind}) is the cheapest {lead.name.lower()} with what belongs to it: {text(route.plan.cost)}"
            )
        else:
            told = told_causes(route.plan, plan)
            more = text(route.plan.cost - plan.cost)
            yield bullet(f"{name} ({kind}) would come to {text(route.plan.cost)}, {more} dearer: {told}")


def told_easings(freed: Freed, problem: Problem) -> str:
    """An impossible job: what stands in the way together, and what it would cost with the least of its limits eased."""
    stands, easings = freed.stands, freed.easings
    rules = {rule.code: rule.says for rule in problem.family.rules}
    lines = ["What stands in the way together (without any one of these it would not)"]
    lines += [f"  - the limit {limit}" for limit in stands.limits]
    lines += [bullet(f"the rule {code}: {rules[code]}") for code in stands.rules]
    if not stands.limits and not stands.rules:
        lines.append("  - what can be had or kept: no limit and no rule of the book needs to stand in the way")
    if easings:
        lines += ["", "What would free it, cheapest first (rules of fitment are never eased)"]
        lines += [bullet(f"{easing.says}: {text(easing.plan.cost)}") for easing in easings]
    return "\n".join(lines)
