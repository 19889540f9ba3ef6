"""The compatibility chart as a workbook: a sheet for each era."""

from __future__ import annotations

import io
import re
from datetime import datetime

from xlsxwriter.workbook import Workbook

from sourcing.book.chart import Chart, EraChart, Why
from sourcing.book.family import NONE
from sourcing.quote.sheets.page import Page, Styles, print_wide
from sourcing.quote.sheets.texts import clean
from sourcing.quote.wallpage import MARKS, SAFETY

FIRST, OTHER, NOTES = 34, 13, 60


def wall_sheet(chart: Chart) -> bytes:
    """The workbook; equal charts give equal bytes."""
    stream = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with Workbook(stream, options) as book:
        book.set_properties({"title": clean(chart.family.family.name)[:200], "created": datetime(2000, 1, 1)})
        styles = Styles(book)
        for number, era in enumerate(chart.eras, 1):
            _draw(Page(book, styles, _sheet_name(number, era), _widths(era)), chart, era)
    return stream.getvalue()


def _sheet_name(number: int, era: EraChart) -> str:
    """A name that a sheet may have, each its own."""
    return f"{number} {re.sub(r'[^A-Za-z0-9 _.-]', '-', era.era.code)}"[:31]


def _widths(era: EraChart) -> list[float]:
    columns = sum(len(held) for _, held in era.columns)
    return [FIRST, *[OTHER] * max(columns, round(NOTES / OTHER))]


def _draw(page: Page, chart: Chart, era: EraChart) -> None:
    family = chart.family
    page.heading(f"{family.family.name}: what goes with which {family.lead.name.lower()}")
    page.paragraph(f"{era.era.name} ({era.era.code}), built {era.era.from_} to {era.era.to or 'the end'}", "label")
    page.paragraph(
        "yes: some valid unit of the era holds both. if: not always; the notes say when it does not. no: never."
    )
    page.headings([family.lead.name, *(family.position[p].name for p, held in era.columns for _ in held)])
    page.headings(["", *("nothing" if design == NONE else design for _, held in era.columns for design in held)])
    notes = era.notes
    for row in era.rows:
        how = "the factory's" if row.fitted else "by retrofit"
        barred = f"; not if {_numbers(row.why, notes)}" if row.why else ""
        cells = [f"{MARKS[cell.goes]} {_numbers(cell.why, notes)}".strip() for cell in row.cells]
        page.line([f"{row.design}: {family.name_of(row.design)} ({how}{barred})", *cells], "row")
    page.part("Notes")
    for number, why in enumerate(notes, 1):
        when = f"Not with {why.when}. " if why.when else ""
        source = f" ({why.reason.code}, {why.reason.source})" if why.reason.source else ""
        page.paragraph(f"{number}. {when}{why.reason.says}{source}")
    if chart.left_out:
        page.paragraph(f"Left out, as no rule names them together with the {family.lead.name.lower()}: "
                       f"{', '.join(chart.left_out)}")  # fmt: skip
    page.part("Cautions")
    page.paragraph(SAFETY)
    for rule in chart.cautions:
        page.paragraph(f"{rule.caution} ({rule.code}, {rule.source})")
    print_wide(page, f"{family.family.name}, {era.era.code}", letter=False)


def _numbers(whys: tuple[Why, ...], notes: tuple[Why, ...]) -> str:
    return ", ".join(str(notes.index(why) + 1) for why in whys)
