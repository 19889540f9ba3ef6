"""The sheet of a pool's orders: each line with its price, where that stands, and the jobs that get of it."""

from __future__ import annotations

from sourcing.plan import Order, Purchase
from sourcing.pool.plan import LineKey, PoolPlan, line_key, unused
from sourcing.quote.pooled import designs_named, header_of, numbers_of, pieces_named, stands_in
from sourcing.quote.sheets.cells import Cell, Cents, Code, Formula
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import sentence

NAME = "Orders and sources"
WIDTHS = (21, 9, 14, 30, 9, 7, 10, 12, 10, 11, 8, 26, 32, 11, 16)


def draw_orders(page: Page, plan: PoolPlan, stamp: str) -> None:
    """Draw the whole sheet."""
    title, _ = header_of(plan)
    shop = plan.pool.shop
    page.heading(f"{title}: orders and sources")
    page.paragraph(f"For the shop only. {sentence(stamp)}. Amounts in {shop.currency}; what each supplier is asked, in its own"
                   " currency, stands in its order.")  # fmt: skip
    head = page.headings(["Supplier", "Sent by", "Part number", "Fills", "Condition", "Pieces", "Price each", "Total",
                          "Core each", "Cores", "Unused", "For", "Price stands in", "Dated", "Stock"],
                         range(5, 11))  # fmt: skip
    first, left = page.row, unused(plan)
    for order in plan.orders:
        for purchase in order.lines:
            page.line(_row(page, plan, order, purchase, left), "row")
    last = page.row - 1
    if last < first:
        page.line(["nothing is bought"])
    page.sheet.freeze_panes(head + 1, 3)
    if last >= first:
        page.sheet.autofilter(head, 0, last, len(WIDTHS) - 1)
    parts = sum(p.line.offer.cents(p.quantity) for p in plan.purchases)
    cores = sum(p.quantity * p.line.offer.core_cents for p in plan.purchases)
    page.labelled(0, 6, "Bought in all", [Formula(page.sum(7, first, last), Cents(parts)), None,
                                          Formula(page.sum(9, first, last), Cents(cores))], "sum")  # fmt: skip
    for order in plan.orders:
        name = f"Freight: {plan.pool.terms[order.supplier].name}, {order.mode}, here {order.arrives.isoformat()}"
        page.labelled(0, 6, name, [Cents(order.freight_cents)])
    print_wide(page, f"{title}, orders, {stamp}", shop.letter, head)
    page.protect(filters=True)


def _row(page: Page, plan: PoolPlan, order: Order, purchase: Purchase, left: dict[LineKey, int]) -> list[Cell]:
    offer, quantity, row = purchase.line.offer, purchase.quantity, page.row + 1
    each: Cell = Cents(offer.step(quantity).cents)
    total: Cell = Formula(f"ROUND(F{row}*G{row},2)", Cents(offer.cents(quantity)))
    if offer.incremental:
        each, total = "by steps", Cents(offer.cents(quantity))
    need_by = any(one.problem.job.job.need_by for one in plan.gets if numbers_of(purchase, plan).get(one.number))
    confirm = "not stated: confirm before promising" if need_by else "not stated: confirm"
    return [
        plan.pool.terms[order.supplier].name, order.mode, Code(str(offer.part.number)), designs_named(plan, purchase),
        offer.part.condition, quantity, each, total, Cents(offer.core_cents),
        Formula(f"F{row}*I{row}", Cents(quantity * offer.core_cents)), left[line_key(purchase)],
        pieces_named(numbers_of(purchase, plan), quantity), stands_in(offer.source),
        offer.source.day, confirm if offer.stock is None else offer.stock,
    ]  # fmt: skip
