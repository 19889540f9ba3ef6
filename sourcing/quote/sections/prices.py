"""The report's sections on prices: where the choice turns, what to telephone from, which edges are near."""

from __future__ import annotations

from collections.abc import Iterator

from sourcing.decision.break_even import BreakEven
from sourcing.decision.cliffs import Cliff, cliffs
from sourcing.decision.others import Ask
from sourcing.decision.study import Study
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.quote.pictures import break_even_picture, gaps, present, stretches
from sourcing.quote.sections.parts import figure, section, table
from sourcing.quote.tags import Inside, Markup, join, name, tag
from sourcing.quote.words import edge_told, loss_told, signed


def turns_section(study: Study) -> Markup:
    """The break-even of each part that was looked at: its picture, its pieces."""
    lead = study.plan.problem.family.lead.name.lower()
    if not study.turns:
        return section("At which price the choice turns", tag("p", f"No {lead} is bought whose price could turn it."))
    shown = (figure(break_even_picture(found), f"turn-{n}", _pieces(found)) for n, found in enumerate(study.turns, 1))
    return section("At which price the choice turns", *shown)


def _pieces(found: BreakEven) -> Markup:
    """The pieces as rows, the present price as the last one."""
    part, currency = found.offer.part, found.problem.terms[found.offer.supplier].currency
    rows: list[list[Inside]] = []
    for stretch in stretches(found):
        turned = tag("strong", " turns here") if stretch.turns else None
        rows.append([
            stretch.number, signed(stretch.piece.low, currency), signed(stretch.piece.high, currency),
            join((name(stretch.name), turned)), text(stretch.cost_low), text(stretch.cost_high),
        ])  # fmt: skip
    now, cost, here = present(found)
    if here is not None and cost is not None:
        price = signed(now, currency)
        rows.append(["now", price, price, name(here.name), text(cost), text(cost)])
    rows += [["none", signed(low, currency), signed(high, currency), "no plan is possible", "", ""]
             for low, high in gaps(found)]  # fmt: skip
    caption = (
        f"Pieces of the line. It: {part.supplier} {part.number.spelt}, prices in {currency}; costs in"
        f" {found.problem.shop.currency}"
    )
    return table(caption, ("Piece", "From", "To", "Cheapest plan", "Cost at from", "Cost at to"), rows, "knn-nn")


def asks_section(study: Study) -> Markup | None:
    """For each part that loses the lead position: the price at which it would win."""
    problem = study.plan.problem
    if not study.asks:
        return None
    lead = problem.family.lead.name.lower()
    rows = [list(_ask(study.plan, ask)) for ask in study.asks]
    head = ("Part", "Supplier", "Fills", "Currency", "Price now", "Wins this job at")
    return section("To telephone from", table(f"The price at which each other {lead} would win", head, rows, "k-kknn"))


def _ask(plan: Plan, ask: Ask) -> Iterator[Inside]:
    terms = plan.problem.terms[ask.offer.supplier]
    yield name(ask.offer.part.number.spelt)
    yield name(terms.name)
    yield ", ".join(ask.offer.part.fills)
    yield terms.currency
    yield signed(ask.offer.steps[0].minor, terms.currency)
    yield "loses at any price" if ask.wins_at_minor is None else signed(ask.wins_at_minor, terms.currency)


def cliffs_section(study: Study) -> Markup | None:
    """How far each order is from an edge, and what losing a line would then cost."""
    rows = [list(_cliff(study.plan, cliff)) for cliff in cliffs(study.plan)]
    if not rows:
        return None
    return section(
        "Near an edge",
        table("Edges near the orders of the plan", ("Order", "Edge", "If a line is lost"), rows, "-ww"),
    )


def _cliff(plan: Plan, cliff: Cliff) -> Iterator[Inside]:
    terms = plan.problem.terms[cliff.order.supplier]
    yield join((name(terms.name), f", {cliff.order.mode}"))
    yield edge_told(plan, cliff)
    told = [] if cliff.losses or cliff.purchase is not None or cliff.distance < 0 else ["no single line carries it"]
    told += [loss_told(loss) for loss in cliff.losses]
    yield "; ".join(told) or ("" if cliff.kind == "break_reached" else "not reached")
