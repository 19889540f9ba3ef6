"""The report's first sections: the answer in two sentences, the decision in three lines, the routes side by side."""

from __future__ import annotations

from collections.abc import Iterator

from sourcing.decision.routes import Comparison, Route
from sourcing.decision.study import Decided
from sourcing.money import text
from sourcing.quote.charging import charge
from sourcing.quote.pictures import MINIMISED
from sourcing.quote.sections.parts import bullets, section, table
from sourcing.quote.tags import Inside, Markup, join, name, tag
from sourcing.quote.words import WORDS, in_short, kind_of, told_causes

HEAD = ("Design", "Kind", "Cost", "Dearer by", "All here on", "Cash now", "Expected comebacks", "Price to the customer",
        "Margin", "Why it is dearer")  # fmt: skip


def answer_sentences(decided: Decided) -> tuple[str, str]:
    """What to do and how sure that is; then what else it could be, or why there is nothing."""
    comparison, problem = decided.comparison, decided.comparison.problem
    able, lead = _possible(comparison), problem.family.lead.name.lower()
    if not able:
        reasons = [*decided.plan.reasons, *(reason for route in comparison.routes for reason in route.reasons)]
        why = reasons[0].says if reasons else "no route has a plan"
        return f"{WORDS[decided.plan.status].capitalize()}.", f"{why[:1].upper()}{why[1:]}."
    best = able[0]
    first = (
        f"The cheapest route is {_named(best)} at {text(best.plan.cost)} {problem.shop.currency},"
        f" {MINIMISED[problem.minimise]}; {WORDS[best.plan.status]}."
    )
    chosen = next((route for route in able if route.design == comparison.recommended), best)
    if chosen is not best:
        more = text(chosen.plan.cost - best.plan.cost)
        return first, (
            f"Recommended is {_named(chosen)} at {text(chosen.plan.cost)}, {more} dearer: the shop changes the {lead} only"
            f" where that saves more than {problem.shop.worth_changing}."
        )
    if len(able) == 1:
        return first, f"No other {lead} has a valid plan."
    behind = able[1].plan.cost - best.plan.cost
    dearer = f"{text(behind)} dearer" if behind else "the same"
    return first, f"Next comes {_named(able[1])} at {text(able[1].plan.cost)}, {dearer}."


def _possible(comparison: Comparison) -> list[Route]:
    return [route for route in comparison.routes if route.plan.choice is not None]


def _named(route: Route) -> str:
    return f"{route.plan.problem.family.name_of(route.design)} ({kind_of(route)})"


def answer_section(decided: Decided) -> Markup:
    """The answer and the decision in short."""
    first, second = answer_sentences(decided)
    return section("The answer", tag("p", f"{first} {second}", class_="answer"), bullets(in_short(decided)))


def routes_section(comparison: Comparison) -> Markup:
    """Every design of the lead position: what its best plan comes to, or why it has none."""
    problem = comparison.problem
    caption = f"Best plan for each {problem.family.lead.name.lower()}, amounts in {problem.shop.currency}"
    rows = [list(_row(comparison, route)) for route in _possible(comparison)]
    without = [route for route in comparison.routes if route.plan.choice is None]
    return section(
        "Routes side by side",
        table(caption, HEAD, rows, "--nnnnnnnw") if rows else None,
        *(_none(route) for route in without),
    )


def _row(comparison: Comparison, route: Route) -> Iterator[Inside]:
    cheapest = comparison.cheapest
    assert cheapest is not None
    words = [word for word, holds in (("cheapest", route is cheapest),
                                      ("recommended", route.design == comparison.recommended)) if holds]  # fmt: skip
    marks = join((" ", tag("strong", ", ".join(words)))) if words else None
    more, charged = route.plan.cost - cheapest.plan.cost, charge(route.plan)
    here = route.plan.last_arrival
    yield join((name(route.plan.problem.family.name_of(route.design)), f" ({route.design})", marks))
    yield kind_of(route)
    yield text(route.plan.cost)
    yield text(more)
    yield here.isoformat() if here else "nothing to wait for"
    yield text(route.plan.totals.cash)
    yield text(route.plan.totals.comebacks)
    yield text(charged.total_cents)
    yield text(charged.margin_cents)
    yield told_causes(route.plan, cheapest.plan) if more else "nothing is cheaper"


def _none(route: Route) -> Markup:
    head = join(
        (name(route.plan.problem.family.name_of(route.design)), f" ({route.design}, {kind_of(route)}): no plan")
    )
    why = [reason.says for reason in route.reasons] or [WORDS[route.plan.status]]
    return join((tag("h3", head), bullets(why)))
