"""A workbook made in memory, with its properties: texts stay texts, and its date is the job's."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import datetime, time

from xlsxwriter.workbook import Workbook

from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.sheets.page import Page, Styles
from sourcing.quote.sheets.texts import clean

Sheets = dict[tuple[str, Sequence[float]], Callable[[Page], None]]
OPTIONS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def one_book(plan: Plan, title: str, sheets: Sheets) -> bytes:
    """A workbook of some sheets; its date is the job's."""
    return book_of(plan.problem, plan.problem.family.family.name, title, sheets)


def book_of(problem: Problem, subject: str, title: str, sheets: Sheets) -> bytes:
    """The same for what is no single plan; `problem` gives the day and the shop."""
    stream = io.BytesIO()
    with Workbook(stream, OPTIONS) as book:
        describe_as(book, problem, subject, title)
        styles = Styles(book)
        for (name, widths), draw in sheets.items():
            draw(Page(book, styles, name, widths))
    return stream.getvalue()


def describe(book: Workbook, plan: Plan, title: str) -> None:
    """The document's properties."""
    describe_as(book, plan.problem, plan.problem.family.family.name, title)


def describe_as(book: Workbook, problem: Problem, subject: str, title: str) -> None:
    """The same for what is no single plan."""
    job, shop = problem.job.job, problem.shop
    book.set_properties({
        "title": clean(title)[:200],
        "subject": clean(subject)[:200],
        "author": clean(shop.letterhead.name)[:200],
        "company": clean(shop.letterhead.name)[:200],
        "comments": f"Prices of {job.date.isoformat()}",
        "created": datetime.combine(job.date, time()),
    })  # fmt: skip
    book.set_calc_mode("auto")
