"""The list by which a box is sorted on arrival: each line's pieces, job by job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sourcing.plan import Order, Purchase
from sourcing.pool.plan import Got, PoolPlan, line_key
from sourcing.prices.export import as_csv
from sourcing.quote.pooled import designs_named, header_of, numbers_of
from sourcing.quote.sheets.cells import Code
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import clean, sentence

NAME = "Sorting"
WIDTHS = (24, 11, 12, 16, 36, 9, 16, 22, 30, 9)
HEADERS = ("supplier", "mode", "arrives", "part_number", "fills", "pieces", "job", "tag", "goes_to")


@dataclass(frozen=True, slots=True)
class Sorted:
    """Pieces of a line for one job (None: for nobody) and the positions that they fill there."""

    order: Order
    purchase: Purchase
    pieces: int
    one: Got | None
    positions: tuple[str, ...]


def sorted_out(plan: PoolPlan) -> Iterator[Sorted]:
    """Every line's pieces, job by job, in the order of orders, lines and jobs; last what no job gets."""
    gets = {one.number: one for one in plan.gets}
    for order in plan.orders:
        for purchase in order.lines:
            key, left = line_key(purchase), purchase.quantity
            for number, count in numbers_of(purchase, plan).items():
                one = gets[number]
                places = tuple(place for place, drawn in one.draws.items() if drawn == key)
                if count:
                    left -= count
                    yield Sorted(order, purchase, count, one, places)
            if left > 0:
                yield Sorted(order, purchase, left, None, ())


def _told(plan: PoolPlan, one: Sorted) -> list[str]:
    """Job, tag, and where the pieces go."""
    if one.one is None:
        return ["", "", "the shelf: no job needs it"]
    names = one.one.problem.family.position
    return [one.one.number, one.one.problem.job.unit.tag, ", ".join(names[place].name for place in one.positions)]


def draw_sorting(page: Page, plan: PoolPlan, stamp: str) -> None:
    """Draw the whole sheet."""
    title, _ = header_of(plan)
    page.heading("Sorting on arrival")
    page.paragraph(f"{title}. {sentence(stamp)}. One row for each job's pieces of each line. Where a kit is parted between"
                   " jobs, each of them stands with the piece that it gets something of.")  # fmt: skip
    head = page.headings(["Supplier", "Sent by", "Arrives", "Part number", "Part", "Pieces", "Job", "Tag", "Goes to", "Initial"],
                         [5])  # fmt: skip
    first = page.row
    named = {line_key(purchase): designs_named(plan, purchase) for purchase in plan.purchases}
    for one in sorted_out(plan):
        number, tag, goes = _told(plan, one)
        page.line([
            plan.pool.terms[one.order.supplier].name, one.order.mode, one.order.arrives,
            Code(str(one.purchase.line.offer.part.number)), named[line_key(one.purchase)], one.pieces, Code(number), tag, goes, "",
        ], "row")  # fmt: skip
    page.sheet.freeze_panes(head + 1, 0)
    if page.row > first:
        page.sheet.autofilter(head, 0, page.row - 1, len(WIDTHS) - 1)
    else:
        page.line(["nothing is bought"])
    print_wide(page, f"{title}, sorting, {stamp}", plan.pool.shop.letter, head)
    page.protect(filters=True)


def sorting_csv(plan: PoolPlan) -> bytes:
    """The same as CSV for another program: UTF-8 with its mark, and no cell that a spreadsheet program would run."""
    named = {line_key(purchase): designs_named(plan, purchase) for purchase in plan.purchases}
    rows = [
        [
            plan.pool.terms[one.order.supplier].name, one.order.mode, one.order.arrives.isoformat(),
            str(one.purchase.line.offer.part.number), named[line_key(one.purchase)], str(one.pieces), *_told(plan, one),
        ]
        for one in sorted_out(plan)
    ]  # fmt: skip
    return as_csv([HEADERS, *([clean(cell).strip() for cell in row] for row in rows)]).encode("utf-8-sig")
