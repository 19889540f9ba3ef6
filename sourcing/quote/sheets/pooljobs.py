"""The sheet of jobs: a row a job, what it gets position by position, its arrival, its share; to be filtered."""

from __future__ import annotations

from sourcing.book.family import NONE
from sourcing.pool.buying import Bought
from sourcing.pool.plan import Got
from sourcing.quote.pooled import families_of, header_of, how_filled, in_hand_told
from sourcing.quote.sheets.cells import Cell, Cents, Code
from sourcing.quote.sheets.page import Page, print_wide

NAME = "Jobs"
BEFORE = (13, 20, 18, 18, 22)
AFTER = (26, 20, 12, 12, 12, 12)
POSITION = 30


def positions_of(bought: Bought) -> dict[str, str]:
    """Every position that some unit has, by its name: a column each."""
    books = families_of(bought.plan)
    return {code: position.name for _, book in sorted(books.items()) for code, position in book.position.items()}


def widths_of(bought: Bought) -> tuple[float, ...]:
    return (*BEFORE, *[POSITION] * len(positions_of(bought)), *AFTER)


def draw_jobs(page: Page, bought: Bought, stamp: str) -> str:
    """Draw the whole sheet; the span of the shares, for other sheets, "" where there are none."""
    plan, places = bought.plan, positions_of(bought)
    title, _ = header_of(plan)
    page.heading(f"{title}: what each gets")
    page.paragraph(f"For the shop only. {stamp.capitalize()}. Amounts in {plan.pool.shop.currency}. {bought.rule.capitalize()}"
                   f"{'.' if bought.rule else ''}")  # fmt: skip
    names = ["Job", "Customer", "Tag", "Family", "Unit of", *places.values(), "In hand", "Tasks", "All here", "In its turn",
             "Share", "Less"]  # fmt: skip
    last = len(names) - 1
    head = page.headings(names, range(last - 2, last + 1))
    first = page.row
    for one in plan.gets:
        page.line(_row(one, bought, list(places)), "row")
    page.sheet.freeze_panes(head + 1, 1)
    if page.row > first:
        page.sheet.autofilter(head, 0, page.row - 1, last)
    print_wide(page, f"{title}, jobs, {stamp}", plan.pool.shop.letter, head)
    page.sheet.protect("", {"format_columns": True, "format_rows": True, "autofilter": True, "sort": True})
    return page.span(last - 1, first, page.row - 1, far=True) if bought.shares and page.row > first else ""


def _row(one: Got, bought: Bought, places: list[str]) -> list[Cell]:
    problem, family = one.problem, one.problem.family
    job, eras = problem.job, bought.eras.get(one.number, (problem.setting.era,))
    alone, share = bought.alone.get(one.number), bought.shares.get(one.number)
    return [
        Code(one.number), job.job.customer, job.unit.tag, family.family.name, " or ".join(family.era[era].name for era in eras),
        *(_at(one, place) for place in places),
        "; ".join(in_hand_told(one)), "; ".join(work.name for work in one.works), one.last_arrival or "now",
        "no plan left" if alone is None else Cents(alone), None if share is None else Cents(share),
        None if share is None or alone is None else Cents(alone - share),
    ]  # fmt: skip


def _at(one: Got, place: str) -> str:
    """What stands at a position and where it comes from; nothing where this family has no such position."""
    design = one.choice.combination.get(place)
    if design is None:
        return ""
    return f"{'nothing' if design == NONE else one.problem.family.name_of(design)} - {how_filled(one, place)}"
