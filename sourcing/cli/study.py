"""A study of a job as the person at the counter reads it."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from sourcing.cli.lines import WIDTH, bullet
from sourcing.cli.plot import plot
from sourcing.cli.screen import told_easings
from sourcing.decision.break_even import BreakEven
from sourcing.decision.cliffs import cliffs
from sourcing.decision.others import Ask
from sourcing.decision.routes import Comparison, Route
from sourcing.decision.study import Study
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.charging import charge
from sourcing.quote.comparison import break_even_record
from sourcing.quote.pictures import break_even_picture, frontier_picture
from sourcing.quote.words import assumption_told, edge_told, in_short, kind_of, loss_told, own, told_causes

MOST_REASONS = 4


def wrapped(words: str) -> list[str]:
    """A sentence under a route, wrapped."""
    return wrap(words, WIDTH, initial_indent=" " * 4, subsequent_indent=" " * 6, break_long_words=False)


def told_study(seen: Study) -> Iterator[str]:
    """Everything that a study found, line by line."""
    comparison = seen.comparison
    problem = comparison.problem
    family = problem.family
    yield f"Job {problem.job.number}, {family.family.name}: routes by {family.lead.name.lower()}, cheapest first"
    yield from map(bullet, in_short(seen))
    for route in comparison.routes:
        yield ""
        yield from _told_route(comparison, route)
    for found in seen.turns:
        yield ""
        yield from _told_turns(found, family.lead.code)
        yield ""
        yield from plot(break_even_picture(found))
    if seen.instead is not None:
        yield ""
        yield from wrap(f"Instead: {_told_instead(seen.instead, seen.plan)}", WIDTH, subsequent_indent="  ")
    if seen.best:
        yield ""
        yield "The best plans in order"
        for plan in seen.best:
            yield f"  {text(plan.cost):>12}  {_parts(plan)}"
            yield f"{'':>14}  {_bought(plan)}"
    if seen.asks:
        yield ""
        yield f"To telephone from: the price at which each other {family.lead.name.lower()} would win this job"
        yield from (_told_ask(problem, ask) for ask in seen.asks)
    if seen.freed is not None:
        yield ""
        yield told_easings(seen.freed, problem)
    edges = list(_told_cliffs(seen.plan))
    if edges:
        yield ""
        yield "Near an edge"
        yield from edges
    if seen.plan.choice is None:
        return
    yield ""
    yield from plot(frontier_picture(problem, "day", seen.by_day))
    yield ""
    yield "Cost against the day on which everything is here"
    for day, plan in seen.by_day:
        yield f"  {day.isoformat() if day else 'nothing bought':<14}{text(plan.cost):>12}"
    for total, points in (("comebacks", seen.by_comebacks), ("cash", seen.by_cash)):
        yield f"Cost against {'expected comebacks' if total == 'comebacks' else 'cash now'}"
        for plan in points:
            yield f"  {text(plan.totals.of(total)):>14}{text(plan.cost):>12}"
    if seen.assumptions:
        yield ""
        yield "What the decision hangs on, one number at a time"
        yield from (bullet(assumption_told(carried, problem)) for carried in seen.assumptions)


def _told_ask(problem: Problem, ask: Ask) -> str:
    currency = problem.terms[ask.offer.supplier].currency
    wins = "loses at any price" if ask.wins_at_minor is None else f"wins at {own(ask.wins_at_minor, currency)}"
    now = own(ask.offer.steps[0].minor, currency)
    return f"  {ask.offer.supplier} {ask.offer.part.number}: now {now} {currency}, {wins}"


def _told_cliffs(plan: Plan) -> Iterator[str]:
    for cliff in cliffs(plan):
        terms = plan.problem.terms[cliff.order.supplier]
        order = f"{terms.name}, {cliff.order.mode}"
        yield f"  {order}: {edge_told(plan, cliff)}"
        yield from (f"    {loss_told(loss)}" for loss in cliff.losses)


def _parts(plan: Plan) -> str:
    return ", ".join(f"{p} {d}" for p, d in plan.choice.combination.items()) if plan.choice else "no plan"


def _bought(plan: Plan) -> str:
    """What a plan buys, by supplier and number."""
    lines = plan.choice.purchases if plan.choice else ()
    bought = ", ".join(f"{p.quantity} x {p.line.offer.supplier} {p.line.offer.part.number}" for p in lines)
    return bought or "nothing is bought"


def _told_instead(instead: Plan, plan: Plan) -> str:
    if instead.choice is None:
        return "there is no plan with it. " + "; ".join(reason.says for reason in instead.reasons)
    if plan.choice is None:
        return f"{text(instead.cost)} ({_parts(instead)})"
    more = instead.cost - plan.cost
    if not more:
        return f"{text(instead.cost)}, as the plan that was chosen ({_parts(instead)})"
    return f"{text(instead.cost)} ({_parts(instead)}; {_bought(instead)}): {told_causes(instead, plan)}: {text(more)} dearer"


def _told_route(comparison: Comparison, route: Route) -> Iterator[str]:
    name = comparison.problem.family.name_of(route.design)
    kind = kind_of(route)
    cheapest = comparison.cheapest
    if route.plan.choice is None or cheapest is None:
        yield f"  {name} ({kind}): no plan"
        for reason in route.reasons[:MOST_REASONS]:
            yield from wrapped(f"- {reason.says}")
        if len(route.reasons) > MOST_REASONS:
            yield f"    and {len(route.reasons) - MOST_REASONS} more (--json lists all)"
        return
    marks = [word for word, holds in (("cheapest", route is cheapest),
                                      ("recommended", route.design == comparison.recommended)) if holds]  # fmt: skip
    yield f"  {name} ({kind}): {text(route.plan.cost)}" + (f"   <- {', '.join(marks)}" if marks else "")
    if route.plan.cost > cheapest.plan.cost:
        told = told_causes(route.plan, cheapest.plan)
        yield from wrapped(f"{text(route.plan.cost - cheapest.plan.cost)} dearer: {told}")
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
