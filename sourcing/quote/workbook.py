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
from sourcing.labels import labels_of
from sourcing.plan import Plan
from sourcing.quote.bound import OPTIONS, describe, one_book
from sourcing.quote.cautions import cautions
from sourcing.quote.charging import charge
from sourcing.quote.placed import put_in_place
from sourcing.quote.sheets import customer, decision, rules, shop
from sourcing.quote.sheets.bill import draw_bill
from sourcing.quote.sheets.choices import Choice
from sourcing.quote.sheets.page import Page, Styles
from sourcing.quote.words import not_studied


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


def quote_bytes(
    plan: Plan,
    decided: Decided | None = None,
    moments: Sequence[Moment] | None = None,
    choices: Sequence[Choice] = (),
    revision: int = 1,
) -> bytes:
    """The workbook of a plan. Equal plans give equal bytes. `choices` stand on the customer's sheet, the first is the plan."""
    charged, say = charge(plan), labels_of(plan.problem.shop.letterhead.language)
    stream, stamp = io.BytesIO(), say("revision", number=revision)
    with Workbook(stream, OPTIONS) as book:
        describe(book, plan, say("quote_of", number=plan.problem.job.number))
        styles = Styles(book)
        first = Page(book, styles, say("quote"), customer.WIDTHS)
        second = Page(book, styles, shop.NAME, shop.WIDTHS)
        if decided is not None:
            third = Page(book, styles, decision.NAME, decision.WIDTHS)
            decision.draw_decision(third, decided, moments)
            third.protect()
        elif said := not_studied(plan):
            third = Page(book, styles, decision.NAME, decision.WIDTHS)
            decision.draw_not_studied(third, plan, said)
            third.protect()
        last = Page(book, styles, rules.NAME, rules.WIDTHS)
        sources = shop.draw_buying(second, plan)
        sheet = customer.CustomersSheet(first, plan, charged, say)
        ends = second.span(7, *sources.ends, far=True) if sources.ends[1] >= sources.ends[0] else ""
        pieces = sheet.begin(stamp, ends, choices)
        bill = draw_bill(second, plan, charged, sources, pieces, say)
        quoted = sheet.finish(cautions(plan, say), bill, choices, stamp)
        shop.draw_reckoning(second, plan, charged, sources, quoted)
        rules.draw_rules(last, plan, cautions(plan))
        last.protect()
        first.sheet.activate()
    return stream.getvalue()


def customer_bytes(plan: Plan, choices: Sequence[Choice] = (), revision: int = 1) -> bytes:
    """The customer's sheet alone, in a file that holds nothing else: no purchase cost, no supplier, no margin, hidden or not."""
    charged, say = charge(plan), labels_of(plan.problem.shop.letterhead.language)
    stamp = say("revision", number=revision)

    def draw(page: Page) -> None:
        sheet = customer.CustomersSheet(page, plan, charged, say, live=False)
        sheet.begin(stamp, "", choices)
        sheet.finish(cautions(plan, say), None, choices, stamp)

    return one_book(plan, say("quote_of", number=plan.problem.job.number), {(say("quote"), customer.WIDTHS): draw})
