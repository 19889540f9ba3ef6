"""The set of papers of a pool, each as a file's name and bytes. Equal plans give equal bytes: nothing asks the clock."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import partial

from xlsxwriter.workbook import Workbook

from sourcing.decision.receiving import receiving_together
from sourcing.money import text
from sourcing.pool.buying import Bought
from sourcing.quote.bound import OPTIONS, Sheets, book_of, describe_as
from sourcing.quote.cautions import cautions
from sourcing.quote.orders import in_a_name, order_csv, orders_of_pool
from sourcing.quote.poolcharge import job_plans
from sourcing.quote.pooled import Alike, alike, designs_named, header_of, jobs_named, plan_of, stamp_of
from sourcing.quote.poolrecord import noted
from sourcing.quote.revisions import Facts
from sourcing.quote.sheets import bench, order, poolcores, pooljobs, poolorders, poolrules, poolsummary, sorting
from sourcing.quote.sheets.page import Page, Styles
from sourcing.quote.workbook import customer_bytes

POOL = "pool.xlsx"
# Up to so many jobs each customer's quote is written; up to so many kinds of unit each release checklist.
MOST_QUOTES = 40
MOST_RELEASES = 40
Papers = dict[str, bytes]


def pool_papers(bought: Bought, name: str, revision: int = 1) -> Papers:
    """The workbook, an order and its CSV for each supplier and way of sending, cores, bench papers, customers' quotes.

    Parameters
    ----------
    name : what the orders are called by

    Raises
    ------
    ValueError
        The plan meets no job.
    """
    plan, stamp = bought.plan, stamp_of(bought.plan, revision)
    if not plan.gets:
        raise ValueError(f"no plan to write papers of: {plan.status}")
    title, families = header_of(plan)
    first, shop = plan.pool.first, plan.pool.shop
    papers = {POOL: _workbook(bought, title, families, stamp)}
    for one in orders_of_pool(plan, name):
        papers[f"{one.stem}.xlsx"] = book_of(first, families, f"Order, {name}", {
            (order.NAME, order.WIDTHS): partial(order.draw_order, order=one, shop=shop, stamp=stamp)})  # fmt: skip
        papers[f"{one.stem}.csv"] = order_csv(one)
    papers["sorting.csv"] = sorting.sorting_csv(plan)
    papers["cores.xlsx"] = book_of(first, families, f"Cores, {name}", {
        (poolcores.NAME, poolcores.WIDTHS): lambda page: poolcores.draw_cores(page, plan, stamp)})  # fmt: skip
    papers["bench-papers.xlsx"] = _bench(bought, title, families, stamp)
    return {**papers, **_quotes(bought, revision)}


def _workbook(bought: Bought, title: str, families: str, stamp: str) -> bytes:
    plan, stream = bought.plan, io.BytesIO()
    with Workbook(stream, OPTIONS) as book:
        describe_as(book, plan.pool.first, families, title)
        styles = Styles(book)
        summary = Page(book, styles, poolsummary.NAME, poolsummary.WIDTHS)
        shares = pooljobs.draw_jobs(Page(book, styles, pooljobs.NAME, pooljobs.widths_of(bought)), bought, stamp)
        poolsummary.draw_summary(summary, bought, stamp, shares)
        poolorders.draw_orders(Page(book, styles, poolorders.NAME, poolorders.WIDTHS), plan, stamp)
        poolcores.draw_cores(Page(book, styles, poolcores.NAME, poolcores.WIDTHS), plan, stamp)
        poolrules.draw_rules(Page(book, styles, poolrules.NAME, poolrules.WIDTHS), plan, noted(plan), stamp)
        summary.sheet.activate()
    return stream.getvalue()


def _bench(bought: Bought, title: str, families: str, stamp: str) -> bytes:
    """The receiving card, the list to sort by, and a release checklist for each kind of unit."""
    plan, kinds = bought.plan, alike(bought.plan)
    received, letter = receiving_together(plan), plan.pool.shop.letter
    sheets: Sheets = {
        (bench.RECEIVING, bench.RECEIVING_WIDTHS): (
            lambda page: bench.draw_receiving_together(page, title, received, letter, stamp)
        ),
        (sorting.NAME, sorting.WIDTHS): lambda page: sorting.draw_sorting(page, plan, stamp),
    }
    for number, kind in enumerate(kinds[:MOST_RELEASES], 1):
        name = "Release checklist" if len(kinds) == 1 else f"Release {number}"
        sheets[name, bench.RELEASE_WIDTHS] = partial(_release, kind, stamp)
    if len(kinds) > MOST_RELEASES:
        sheets["Further checklists", bench.RELEASE_WIDTHS] = partial(_further, kinds[MOST_RELEASES:])
    return book_of(plan.pool.first, families, f"Bench papers, {title}", sheets)


def _release(kind: Alike, stamp: str, page: Page) -> None:
    plan = plan_of(kind.one)
    bench.draw_release(page, plan, cautions(plan), stamp, jobs_named(kind.numbers) if len(kind.gets) > 1 else "")


def _further(kinds: Sequence[Alike], page: Page) -> None:
    """What is said of the kinds of unit that have no checklist here."""
    page.heading("Further checklists")
    page.paragraph("`sourcing quote` writes the release checklist of each of these jobs by itself. The cautions of all of them"
                   " stand in pool.xlsx.", "")  # fmt: skip
    for kind in kinds:
        page.paragraph(jobs_named(kind.numbers), "")


def _quotes(bought: Bought, revision: int) -> Papers:
    """What each customer pays, where the jobs are few enough to be handed out one by one."""
    if len(bought.plan.gets) > MOST_QUOTES:
        return {}
    plans = job_plans(bought.plan)
    return {
        f"quote-customer-{in_a_name(number)}.xlsx": customer_bytes(plan, (), revision) for number, plan in plans.items()
    }


def pool_facts(bought: Bought) -> Facts:
    """What a pool's papers come to, for the next revision to be compared with."""
    plan = bought.plan
    lines = [
        f"{purchase.quantity} x {purchase.line.offer.supplier}/{purchase.line.offer.part.number}"
        f" ({designs_named(plan, purchase)}) by {purchase.line.mode.mode}"
        for purchase in plan.purchases
    ]
    total = f"{text(plan.cost)} {plan.pool.shop.currency} for {plan.pool.jobs} jobs"
    here = max((order.arrives for order in plan.orders), default=None)
    return Facts(plan.pool.first.job.job.date.isoformat(), total, tuple(lines), here.isoformat() if here else "now")
