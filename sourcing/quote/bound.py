"""A workbook made in memory, with its properties: texts stay texts, and its date is the job's."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import datetime, time

from xlsxwriter.workbook import Workbook

from sourcing.plan import Plan
from sourcing.quote.sheets.page import Page, Styles
from sourcing.quote.sheets.texts import clean

OPTIONS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def one_book(plan: Plan, title: str, sheets: dict[tuple[str, Sequence[float]], Callable[[Page], None]]) -> bytes:
    """A workbook of some sheets; its date is the job's."""
    stream = io.BytesIO()
    with Workbook(stream, OPTIONS) as book:
        describe(book, plan, title)
        styles = Styles(book)
        for (name, widths), draw in sheets.items():
            draw(Page(book, styles, name, widths))
    return stream.getvalue()


def describe(book: Workbook, plan: Plan, title: str) -> None:
    """The document's properties."""
    job, shop = plan.problem.job.job, plan.problem.shop
    book.set_properties({
        "title": clean(title)[:200],
        "subject": clean(plan.problem.family.family.name)[:200],
        "author": clean(shop.letterhead.name)[:200],
        "company": clean(shop.letterhead.name)[:200],
        "comments": f"Prices of {job.date.isoformat()}",
        "created": datetime.combine(job.date, time()),
    })  # fmt: skip
    book.set_calc_mode("auto")
