"""The quote as a workbook: the customer's sheet, the shop's, the decision's where it was looked at, the rules.

Equal plans give equal bytes: the workbook's date is the job's, nothing asks the clock. It is made in memory and put in
place in one step, so that a run that is cut short leaves an old file as it was.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from xlsxwriter.workbook import Workbook

from sourcing.decision.study import Decided
from sourcing.decision.trend import Moment
from sourcing.plan import Plan
from sourcing.quote.bound import OPTIONS, describe
from sourcing.quote.cautions import cautions
from sourcing.quote.charge import charge
from sourcing.quote.placed import put_in_place
from sourcing.quote.sheets import customer, decision, rules, shop
from sourcing.quote.sheets.page import Page, Styles


def write_quote(
    plan: Plan, path: Path, decided: Decided | None = None, moments: Sequence[Moment] | None = None
) -> None:
    """Write a plan's quote to `path`, making its folder where there is none.

    With `decided` it holds the sheet of the decision, with `moments` the job's trend on it.

    Raises
    ------
    ValueError
        The plan holds no choice.
    OSError
        The file cannot be put there (open in another program, say); an old one is untouched.
    """
    put_in_place(quote_bytes(plan, decided, moments), path)


def quote_bytes(plan: Plan, decided: Decided | None = None, moments: Sequence[Moment] | None = None) -> bytes:
    """The workbook of a plan. Equal plans give equal bytes."""
    charged, warned = charge(plan), cautions(plan)
    stream = io.BytesIO()
    with Workbook(stream, OPTIONS) as book:
        describe(book, plan, f"Quote {plan.problem.job.number}")
        styles = Styles(book)
        first = Page(book, styles, customer.NAME, customer.WIDTHS)
        second = Page(book, styles, shop.NAME, shop.WIDTHS)
        if decided is not None:
            decision.draw_decision(Page(book, styles, decision.NAME, decision.WIDTHS), decided, moments)
        last = Page(book, styles, rules.NAME, rules.WIDTHS)
        sources, bill = shop.draw_buying(second, plan, charged)
        quoted = customer.draw_customer(first, plan, charged, warned, bill)
        shop.draw_reckoning(second, plan, charged, sources, quoted)
        rules.draw_rules(last, plan, warned)
        first.sheet.activate()
    return stream.getvalue()
