"""The sheet of jobs: a row a job, what it gets position by position, its arrival, its share; to be filtered."""

from __future__ import annotations

from sourcing.book.family import NONE
from sourcing.pool.buying import Bought
from sourcing.pool.plan import Got
from sourcing.quote.pooled import families_of, header_of, how_filled, in_hand_told
from sourcing.quote.sheets.cells import Cell, Cents, Code
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import sentence

NAME = "Jobs"
BEFORE = (13, 12, 12, 11, 12, 18, 16)
UNIT, POSITION, HAND, TASKS = 20, 26, 24, 60


def positions_of(bought: Bought) -> dict[str, str]:
    """Every position that some unit has, by its name: a column each."""
    books = families_of(bought.plan)
    return {code: position.name for _, book in sorted(books.items()) for code, position in book.position.items()}


def _any_in_hand(bought: Bought) -> bool:
    return any(lot.problem.in_hand for lot in bought.plan.pool.lots)


def widths_of(bought: Bought) -> tuple[float, ...]:
    hand = [HAND] if _any_in_hand(bought) else []
    return (*BEFORE, UNIT, *[POSITION] * len(positions_of(bought)), *hand, TASKS)


def draw_jobs(page: Page, bought: Bought, stamp: str) -> str:
    """Draw the whole sheet; the span of the shares, for other sheets, "" where there are none."""
    plan, places, in_hand = bought.plan, positions_of(bought), _any_in_hand(bought)
    title, _ = header_of(plan)
    page.heading(f"{title}: what each gets")
    rule = f" Shares: {bought.rule}." if bought.rule else ""
    page.paragraph(f"For the shop only. {sentence(stamp)}. Amounts in {plan.pool.shop.currency}.{rule}")
    names = ["Job", "Share", "In its turn", "Less", "All here", "Customer", "Tag", "Unit of", *places.values()]
    names += [*(["In hand, unused"] if in_hand else []), "Tasks"]
    head = page.headings(names, range(1, 4))
    first, several = page.row, len(families_of(plan)) > 1
    for one in plan.gets:
        page.line(_row(one, bought, list(places), in_hand, several), "row")
    page.sheet.freeze_panes(head + 1, 1)
    if page.row > first:
        page.sheet.autofilter(head, 0, page.row - 1, len(names) - 1)
    print_wide(page, f"{title}, jobs, {stamp}", plan.pool.shop.letter, head)
    page.sheet.fit_to_pages(2, 0)
    page.sheet.repeat_columns(0)
    page.protect(filters=True)
    return page.span(1, first, page.row - 1, far=True) if bought.shares and page.row > first else ""


def _row(one: Got, bought: Bought, places: list[str], in_hand: bool, several: bool) -> list[Cell]:
    problem, family = one.problem, one.problem.family
    job, eras = problem.job, bought.eras.get(one.number, (problem.setting.era,))
    alone, share = bought.alone.get(one.number), bought.shares.get(one.number)
    unit = " or ".join(family.era[era].name for era in eras)
    return [
        Code(one.number), None if share is None else Cents(share), "no plan left" if alone is None else Cents(alone),
        None if share is None or alone is None else Cents(alone - share), one.last_arrival or "now", job.job.customer,
        job.unit.tag, f"{family.family.name}: {unit}" if several else unit, *(_at(one, place) for place in places),
        *(["; ".join(in_hand_told(one))] if in_hand else []), "; ".join(work.name for work in one.works),
    ]  # fmt: skip


def _at(one: Got, place: str) -> str:
    """What stands at a position and where it comes from; nothing where this family has no such position."""
    design = one.choice.combination.get(place)
    if design is None:
        return ""
    return f"{'nothing' if design == NONE else one.problem.family.name_of(design)} - {how_filled(one, place)}"
