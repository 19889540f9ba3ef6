"""The set of papers of a plan, each as a file's name and bytes. Equal plans give equal bytes: nothing asks the clock."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.decision.receiving import receiving
from sourcing.decision.study import Decided
from sourcing.decision.trend import Moment
from sourcing.money import text
from sourcing.plan import Plan
from sourcing.quote.bound import one_book
from sourcing.quote.cautions import cautions
from sourcing.quote.charging import charge
from sourcing.quote.orders import SupplierOrder, order_csv, orders_for_suppliers
from sourcing.quote.revisions import QUOTE, Facts
from sourcing.quote.sheets import bench, cores, order
from sourcing.quote.sheets.choices import Choice
from sourcing.quote.workbook import quote_bytes

CUSTOMER = "quote-customer.xlsx"
Papers = dict[str, bytes]


def papers_of(
    plan: Plan,
    decided: Decided | None = None,
    moments: Sequence[Moment] | None = None,
    choices: Sequence[Choice] = (),
    revision: int = 1,
) -> Papers:
    """The quote workbook, an order and its CSV for each supplier and way of sending, the list of cores, the bench papers.

    Raises
    ------
    ValueError
        The plan holds no choice.
    """
    stamp = f"revision {revision}"
    papers = {QUOTE: quote_bytes(plan, decided, moments, choices, revision)}
    for one in orders_for_suppliers(plan):
        papers[f"{one.stem}.xlsx"] = _order(plan, one, stamp)
        papers[f"{one.stem}.csv"] = order_csv(one)
    papers["cores.xlsx"] = one_book(plan, f"Cores, job {plan.problem.job.number}", {
        (cores.NAME, cores.WIDTHS): lambda page: cores.draw_cores(page, plan, stamp)})  # fmt: skip
    received, warned = receiving(plan), cautions(plan)
    papers["bench-papers.xlsx"] = one_book(plan, f"Bench papers, job {plan.problem.job.number}", {
        (bench.RECEIVING, bench.RECEIVING_WIDTHS): lambda page: bench.draw_receiving(page, plan, received, stamp),
        (bench.RELEASE, bench.RELEASE_WIDTHS): lambda page: bench.draw_release(page, plan, warned, stamp)})  # fmt: skip
    return papers


def _order(plan: Plan, one: SupplierOrder, stamp: str) -> bytes:
    shop = plan.problem.shop
    return one_book(plan, f"Order, job {one.job}", {
        (order.NAME, order.WIDTHS): lambda page: order.draw_order(page, one, shop, stamp)})  # fmt: skip


def facts_of(plan: Plan) -> Facts:
    """What a plan's papers come to, for the next revision to be compared with."""
    job, family = plan.problem.job.job, plan.problem.family
    bought = [
        f"{purchase.quantity} x {purchase.line.offer.supplier}/{purchase.line.offer.part.number}"
        f" ({' + '.join(map(family.name_of, purchase.line.offer.part.fills))}) by {order.mode}"
        for order in plan.orders
        for purchase in order.lines
    ]
    here = plan.last_arrival
    total = f"{text(charge(plan).total_cents)} {plan.problem.shop.currency}"
    return Facts(job.date.isoformat(), total, tuple(bought), here.isoformat() if here else "now")
