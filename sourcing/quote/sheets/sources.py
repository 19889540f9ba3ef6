"""The shop's sheet, first part: what is bought, where each price stands, the orders, the cores that go back."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sourcing.money import minor_digits, text
from sourcing.plan import FILLS, SENT_BACK, Order, Plan, Purchase, becomes, credit, left_over
from sourcing.prices.offers import Offer
from sourcing.quote.sheets.cells import Cell, Cents, Code, Coins, Formula, Percent, cent
from sourcing.quote.sheets.page import Page


@dataclass(frozen=True, slots=True)
class Sources:
    """Rows (counted from 0) that other parts of the workbook refer to; a span that is empty ends before it begins."""

    lines: tuple[int, int]
    of_offer: dict[int, list[int]]
    ends: tuple[int, int]
    orders: tuple[int, int]
    cores: tuple[int, int]
    of_core: dict[int, int]
    returns: tuple[int, int]
    hands: tuple[int, int]
    of_hand: dict[str, int]


def draw_sources(page: Page, plan: Plan) -> Sources:
    """Draw the lines bought with their paper trail, the orders, and the cores."""
    lines, of_offer = _lines(page, plan)
    ends = _prices(page, plan)
    orders = _orders(page, plan, lines[0])
    hands, of_hand = _hands(page, plan)
    cores, of_core = _cores(page, plan, {**_rows_of_hands(plan, of_hand), **of_offer})
    returns = _core_returns(page, plan)
    return Sources(lines, of_offer, ends, orders, cores, of_core, returns, hands, of_hand)


def bought(plan: Plan) -> list[tuple[Order, Purchase]]:
    """The purchases in the order in which the sheet numbers them."""
    return [(order, purchase) for order in plan.orders for purchase in order.lines]


def _lines(page: Page, plan: Plan) -> tuple[tuple[int, int], dict[int, list[int]]]:
    page.part("Lines bought")
    page.headings(["Line", "Supplier", "Mode", "Part number", "Fills", "Condition", "Pieces", "Unit price", "Line total",
                   "Core each", "Cores", "Freight a piece", "Left over"], range(6, 12))  # fmt: skip
    first = page.row
    of_offer: dict[int, list[int]] = {}
    for number, (order, purchase) in enumerate(bought(plan), 1):
        offer, row = purchase.line.offer, page.row
        of_offer.setdefault(offer.id, []).append(row)
        page.line([
            str(number), plan.problem.terms[order.supplier].name, order.mode, Code(str(offer.part.number)),
            " + ".join(plan.problem.family.name_of(design) for design in offer.part.fills), offer.part.condition,
            purchase.quantity, *_priced(page, offer, purchase.quantity), Cents(offer.core_cents),
            Formula(f"G{row + 1}*J{row + 1}", Cents(purchase.quantity * offer.core_cents)),
            Cents(purchase.line.piece_freight_cents), _left(plan, offer),
        ], "row")  # fmt: skip
    return (first, page.row - 1), of_offer


def _priced(page: Page, offer: Offer, quantity: int) -> tuple[Cell, Cell]:
    """Unit price and line total; with incremental breaks the total is the sum of the steps, the unit price follows."""
    row, total = page.row + 1, Cents(offer.cents(quantity))
    if not offer.incremental:
        return Cents(offer.step(quantity).cents), Formula(f"ROUND(G{row}*H{row},2)", total)
    terms = []
    for index, step in enumerate(offer.steps):
        begins = 1 if index == 0 else step.quantity
        end = offer.steps[index + 1].quantity - 1 if index + 1 < len(offer.steps) else quantity
        if min(quantity, end) >= begins:
            terms.append(f"{min(quantity, end) - begins + 1}*{text(step.cents)}")
    unit = Decimal(total.cents) / quantity / 100
    return Formula(f"I{row}/G{row}", Cents(0) if not total.cents else unit), Formula(
        f"ROUND({'+'.join(terms)},2)", total
    )


def _left(plan: Plan, offer: Offer) -> str:
    """What this unit leaves over of the designs that an offer holds."""
    if plan.choice is None:
        return ""
    left = left_over(plan.problem, plan.choice)
    names = ((left[design], plan.problem.family.name_of(design)) for design in dict.fromkeys(offer.part.fills))
    return ", ".join(f"{pieces} x {name}" for pieces, name in names if pieces)


def _prices(page: Page, plan: Plan) -> tuple[int, int]:
    page.part("Where each price stands")
    page.headings(["Line", "File", "Sheet", "Part number", "As the supplier states it, a piece from so many", "Row",
                   "Dated", "Holds until", "In stock", "Pack", "Least", "", "To check"], [5, 8, 9, 10])  # fmt: skip
    first = page.row
    for number, (order, purchase) in enumerate(bought(plan), 1):
        offer, source = purchase.line.offer, purchase.line.offer.source
        page.line([
            str(number), source.file, source.sheet, Code(str(offer.part.number)),
            _stated(offer, plan.problem.terms[order.supplier].currency), source.row, source.day, offer.valid_until,
            "not stated" if offer.stock is None else offer.stock, offer.pack, offer.minimum, None, _check(plan, offer),
        ], "row")  # fmt: skip
    return first, page.row - 1


def _stated(offer: Offer, currency: str) -> str:
    digits = minor_digits(currency)
    steps = "; ".join(f"{step.quantity}: {Decimal(step.minor).scaleb(-digits):.{digits}f}" for step in offer.steps)
    return f"{steps} {currency}{', each piece at its own step' if offer.incremental else ''}"


def _check(plan: Plan, offer: Offer) -> str:
    if offer.stock is not None:
        return ""
    return "confirm stock before promising" if plan.problem.job.job.need_by else "stock is not stated: confirm it"


def _orders(page: Page, plan: Plan, line: int) -> tuple[int, int]:
    page.part("Orders")
    page.headings(["", "Supplier", "Mode", "Arrives", "Reckoned in (subtotal, free from, least)", "", "Subtotal", "Free from",
                   "Least order", "Flat", "By weight", "Freight", "Order fee, in the freight"], range(6, 13))  # fmt: skip
    first = page.row
    for order in plan.orders:
        terms, mode, row = plan.problem.terms[order.supplier], order.lines[0].line.mode, page.row + 1
        last = line + len(order.lines) - 1
        weight = sum(purchase.quantity * purchase.line.piece_freight_cents for purchase in order.lines)
        charged, fee = f"J{row}+K{row}", f"+M{row}" if terms.order_fee_cents else ""
        page.line([
            None, terms.name, order.mode, order.arrives, f"{terms.currency}, the supplier's own prices", None,
            _coins(order.subtotal_minor, terms.currency),
            None if mode.free_over_minor is None else _coins(mode.free_over_minor, terms.currency),
            _coins(terms.order_minimum_minor, terms.currency), Cents(mode.flat_cents),
            Formula(f"SUMPRODUCT({page.span(6, line, last)},{page.span(11, line, last)})", Cents(weight)),
            Formula((charged if mode.free_over_minor is None else f"IF(G{row}>=H{row},0,{charged})") + fee,
                    Cents(order.freight_cents)), Cents(terms.order_fee_cents) if fee else None,
        ], "row")  # fmt: skip
        line = last + 1
    return first, page.row - 1


def _coins(minor: int, currency: str) -> Coins:
    return Coins(minor, minor_digits(currency))


def _hands(page: Page, plan: Plan) -> tuple[tuple[int, int], dict[str, int]]:
    """The parts in hand: what each costs and what becomes of it; nothing where there are none."""
    hands = plan.problem.in_hand
    if not hands:
        return (page.row, page.row - 1), {}
    page.part("Parts in hand")
    page.headings(["", "Supplier", "From", "Part number", "Part", "Becomes", "Pieces", "Cost", "Counted", "Core paid",
                   "Core counted", "Supplier keeps"], range(6, 12))  # fmt: skip
    first, of_hand = page.row, {}
    for position, hand in hands.items():
        row, how, of_hand[position] = page.row + 1, becomes(plan, position), page.row
        back = how == SENT_BACK
        counted = f"H{row}" if hand.cents(how == FILLS, back) else "0"
        terms = plan.problem.terms.get(hand.supplier)
        kept = Percent(terms.given.restock_share) if back and terms else None
        page.line([
            None, terms.name if terms else None, hand.source, Code(hand.number) if hand.number else None,
            plan.problem.family.name_of(hand.design), how, 1, Cents(hand.cost_cents),
            Formula(cent(f"H{row}*L{row}") if back else counted, Cents(hand.cents(how == FILLS, back))),
            Cents(hand.core_cents), Formula(f"-J{row}" if back else "0", Cents(-hand.core_cents if back else 0)), kept,
        ], "row")  # fmt: skip
    page.paragraph("What was received is paid for: it counts used or left over. Sent back, only what the supplier keeps"
                   " counts, and its core charge comes back. Core charges paid before are not counted again.")  # fmt: skip
    return (first, first + len(hands) - 1), of_hand


def _rows_of_hands(plan: Plan, of_hand: dict[str, int]) -> dict[int, list[int]]:
    rows: dict[int, list[int]] = {}
    for position, hand in plan.problem.in_hand.items():
        if hand.offer is not None:
            rows.setdefault(hand.offer.id, []).append(of_hand[position])
    return rows


def _cores(page: Page, plan: Plan, of_offer: dict[int, list[int]]) -> tuple[tuple[int, int], dict[int, int]]:
    page.part("Old parts that go back as cores")
    page.headings(["", "To", "", "Against", "Old part", "", "Core charge", "Comes back", "Credit"], range(6, 9))
    first, of_core = page.row, {}
    for item in plan.choice.returns if plan.choice else ():
        offer, row = plan.problem.offer[item.offer], page.row + 1
        terms = plan.problem.terms[offer.supplier]
        of_core[item.offer] = page.row
        page.line([
            None, terms.name, None, Code(str(offer.part.number)), plan.problem.family.name_of(item.design), None,
            Formula(page.cell(of_offer[item.offer][0], 9), Cents(offer.core_cents)), Percent(terms.core_recovery),
            Formula(cent(f"G{row}*H{row}"), Cents(credit(plan.problem, item.offer))),
        ], "row")  # fmt: skip
    return (first, page.row - 1), of_core


def _core_returns(page: Page, plan: Plan) -> tuple[int, int]:
    """What it costs to send cores back, once for each supplier that gets any."""
    first = page.row
    back_to = {plan.problem.offer[item.offer].supplier for item in (plan.choice.returns if plan.choice else ())}
    for supplier in sorted(back_to):
        terms = plan.problem.terms[supplier]
        cost = Cents(terms.core_return_cents)
        page.line([None, terms.name, None, None, "cost of sending them back", None, None, None, cost], "row")
    if not back_to:
        page.line([None, "none"])
        return page.row, page.row - 1
    return first, page.row - 1
