"""The sheet of an order: what one supplier is asked to send, at the price that it quoted."""

from __future__ import annotations

from fractions import Fraction

from sourcing.money import minor_digits
from sourcing.quote.orders import CONFIRM, OrderLine, SupplierOrder
from sourcing.quote.sheets.cells import Cell, Code, Coins, Formula
from sourcing.quote.sheets.head import draw_head
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.shop import Shop

NAME = "Order"
WIDTHS = (4, 15, 27, 6, 7, 8, 11, 11, 10, 10, 24, 6, 11, 10)


def draw_order(page: Page, order: SupplierOrder, shop: Shop, stamp: str) -> None:
    """Draw the whole sheet; `stamp` names the paper and its revision."""
    draw_head(page, shop.letterhead, f"Logo of {shop.letterhead.name or 'the shop'}")
    page.heading(f"Order to {order.name}")
    why = "needed here by" if order.promised else "expected here by"
    for label, text in (
        ("Our job", f"{order.job} ({stamp})"),
        ("Date", order.dated.isoformat()),
        ("Send by", order.mode),
        ("Arrival", f"{why} {order.needed_by.isoformat()}"),
        ("Currency", order.currency),
    ):
        page.wide(0, 1, label, "label")
        page.line([text], first=2)
    page.row += 1
    head = page.headings(["", "Your number", "Your description", "Pack", "Packs", "Pieces", "Price each", "Total",
                          "Core each", "Cores", "Price quoted in", "Row", "Dated", "Stock"], [3, 4, 5, 6, 7, 8, 9, 11])  # fmt: skip
    first = page.row
    for number, line in enumerate(order.lines, 1):
        page.line(_cells(page, number, line, order.currency), "row")
    last = page.row - 1
    _sums(page, order, first, last)
    page.row += 1
    if any(line.stock == CONFIRM for line in order.lines):
        page.paragraph(
            "Please confirm the stock of lines marked so before you send: your sheet does not state it.", "label"
        )
    page.paragraph("Please send at the prices quoted, or ask before you send. Core charges come back against old parts as"
                   " your terms say.")  # fmt: skip
    print_wide(page, f"Order {order.job}, {order.name}, {stamp}", shop.letter, head)
    page.protect()


def _cells(page: Page, number: int, line: OrderLine, currency: str) -> list[Cell]:
    row, digits = page.row + 1, minor_digits(currency)
    total: str = f"ROUND(F{row}*G{row},{digits})"
    price: Cell = Coins(int(line.unit_minor), digits)
    if line.steps:
        total = f"ROUND({'+'.join(f'{pieces}*{minor / 10**digits}' for pieces, minor in line.steps)},{digits})"
        price = Formula(f"IF(F{row}=0,0,H{row}/F{row})", Fraction(line.unit_minor, 10**digits))
    return [
        str(number), Code(line.number), line.description, line.pack,
        Formula(f"F{row}/D{row}", line.pieces // line.pack), line.pieces, price,
        Formula(total, Coins(line.total_minor, digits)), Coins(line.core_minor, digits),
        Formula(f"F{row}*I{row}", Coins(line.cores_minor, digits)), line.quoted, line.row, line.dated, line.stock,
    ]  # fmt: skip


def _sums(page: Page, order: SupplierOrder, first: int, last: int) -> None:
    """Parts, cores, freight as the supplier's terms say, and the order's total."""
    digits = minor_digits(order.currency)

    def coins(minor: int) -> Coins:
        return Coins(minor, digits)

    top = page.row + 1
    rows: list[tuple[str, Cell]] = [
        ("Parts", Formula(page.sum(7, first, last), coins(order.parts_minor))),
        ("Core charges", Formula(page.sum(9, first, last), coins(order.cores_minor))),
        ("Freight, by your terms", coins(order.freight_minor)),
    ]
    if order.fee_minor:
        rows.append(("Charge for the order", coins(order.fee_minor)))
    for label, cell in rows:
        page.labelled(1, 6, label, [cell])
    total = Formula(f"ROUND(SUM(H{top}:H{top + len(rows) - 1}),{digits})", coins(order.total_minor))
    page.labelled(1, 6, f"Total in {order.currency}, before taxes that you add", [total], "total")
