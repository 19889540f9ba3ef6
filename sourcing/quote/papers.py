"""The set of papers of a plan, each as a file's name and bytes. Equal plans give equal bytes: nothing asks the clock."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.decision.study import Decided
from sourcing.decision.trend import Moment
from sourcing.plan import Plan
from sourcing.quote.bound import one_book
from sourcing.quote.orders import SupplierOrder, order_csv, orders_for_suppliers
from sourcing.quote.sheets import cores, order
from sourcing.quote.workbook import quote_bytes

QUOTE = "quote.xlsx"
Papers = dict[str, bytes]


def papers_of(
    plan: Plan, decided: Decided | None = None, moments: Sequence[Moment] | None = None, revision: int = 1
) -> Papers:
    """The quote workbook, an order and its CSV for each supplier and way of sending, and the list of cores.

    Raises
    ------
    ValueError
        The plan holds no choice.
    """
    stamp = f"revision {revision}"
    papers = {QUOTE: quote_bytes(plan, decided, moments)}
    for one in orders_for_suppliers(plan):
        papers[f"{one.stem}.xlsx"] = _order(plan, one, stamp)
        papers[f"{one.stem}.csv"] = order_csv(one)
    papers["cores.xlsx"] = one_book(plan, f"Cores, job {plan.problem.job.number}", {
        (cores.NAME, cores.WIDTHS): lambda page: cores.draw_cores(page, plan, stamp)})  # fmt: skip
    return papers


def _order(plan: Plan, one: SupplierOrder, stamp: str) -> bytes:
    shop = plan.problem.shop
    return one_book(plan, f"Order, job {one.job}", {
        (order.NAME, order.WIDTHS): lambda page: order.draw_order(page, one, shop, stamp)})  # fmt: skip
