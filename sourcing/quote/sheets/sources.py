"""The shop's sheet, first part: what is bought, where each price stands, the orders, the cores that go back."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sourcing.inhand import Hand
from sourcing.money import minor_digits, text
from sourcing.plan import Order, Plan, Purchase, credit, left_over
from sourcing.prices.offers import Offer
from sourcing.quote.sheets.cells import Cell, Cents, Code, Coins, Formula, Percent, cent
from sourcing.quote.sheets.page import Page


@dataclass(frozen=True, slots=True)
class Sources:
    """Rows (counted from 0) that other parts of the workbook refer to; a span that is empty ends before it begins."""

    lines: tuple[int, int]
    of_offer: dict[int, list[int]]
    hands: tuple[int, int]
    of_hand: dict[str, int]
    ends: tuple[int, int]
    orders: tuple[int, int]
    cores: tuple[int, int]
    of_core: dict[int, int]
    returns: tuple[int, int]


def draw_sources(page: Page, plan: Plan) -> Sources:
    """Draw the lines bought with their paper trail, the orders, and the cores."""
    lines, of_offer = _lines(page, plan)
    hands, of_hand = _hands(page, plan)
    ends = _prices(page, plan)
    orders = _orders(page, plan, lines[0])
    cores, of_core = _cores(page, plan, of_offer)
    returns = _core_returns(page, plan)
    return Sources(lines, of_offer, hands, of_hand, ends, orders, cores, of_core, returns)


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


def _hands(page: Page, plan: Plan) -> tuple[tuple[int, int], dict[str, int]]:
    """The parts in hand: what becomes of each, and what of its cost counts."""
    problem, choice = plan.problem, plan.choice
    first, of_hand = page.row, dict[str, int]()
    if not problem.in_hand or choice is None:
        return (first, first - 1), of_hand
    page.part("Parts in hand")
    page.headings(["", "Where from", "", "Part number", "Part", "", "Cost", "Kept if back", "Counted", "", "Core back", "",
                   "What becomes of it"], range(6, 11))  # fmt: skip
    first = page.row
    for position, hand in problem.in_hand.items():
        used, back, row = position in choice.in_hand, position in choice.sent_back, page.row + 1
        of_hand[position] = page.row
        counted = cent(f"G{row}*H{row}") if back else f"G{row}" if hand.cents(used, back) else "0"
        share = problem.terms[hand.supplier].given.restock_share if back else None
        page.line([
            None, f"{hand.source} {hand.supplier}".strip(), None, Code(hand.number), problem.family.name_of(hand.design), None,
            Cents(hand.cost_cents), None if share is None else Percent(share), Formula(counted, Cents(hand.cents(used, back))),
            None, Cents(hand.core_cents if back else 0), None, _becomes(hand, used, back),
        ], "row")  # fmt: skip
    return (first, page.row - 1), of_hand


def _becomes(hand: Hand, used: bool, back: bool) -> str:
    if used:
        return "goes in"
    if back:
        return "goes back to its supplier"
    return {
        "received": "left over for the shelf",
        "shelf": "stays on the shelf",
        "customer": "goes back to the customer",
    }[hand.source]


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
    page.headings(["", "Supplier", "Mode", "Arrives", "Reckoned in (subtotal, free from, least)", "Fee", "Subtotal", "Free from",
                   "Least order", "Flat", "By weight", "Freight", ""], range(5, 12))  # fmt: skip
    first = page.row
    for order in plan.orders:
        terms, mode, row = plan.problem.terms[order.supplier], order.lines[0].line.mode, page.row + 1
        last = line + len(order.lines) - 1
        weight = sum(purchase.quantity * purchase.line.piece_freight_cents for purchase in order.lines)
        charged = f"J{row}+K{row}"
        page.line([
            None, terms.name, order.mode, order.arrives, f"{terms.currency}, the supplier's own prices",
            Cents(terms.order_fee_cents), _coins(order.subtotal_minor, terms.currency),
            None if mode.free_over_minor is None else _coins(mode.free_over_minor, terms.currency),
            _coins(terms.order_minimum_minor, terms.currency), Cents(mode.flat_cents),
            Formula(f"SUMPRODUCT({page.span(6, line, last)},{page.span(11, line, last)})", Cents(weight)),
            Formula(f"{charged}+F{row}" if mode.free_over_minor is None else f"IF(G{row}>=H{row},0,{charged})+F{row}",
                    Cents(order.freight_cents)), None,
        ], "row")  # fmt: skip
        line = last + 1
    return first, page.row - 1


def _coins(minor: int, currency: str) -> Coins:
    return Coins(minor, minor_digits(currency))


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
            _core_charge(page, offer, of_offer), Percent(terms.core_recovery),
            Formula(cent(f"G{row}*H{row}"), Cents(credit(plan.problem, item.offer))),
        ], "row")  # fmt: skip
    return (first, page.row - 1), of_core


def _core_charge(page: Page, offer: Offer, of_offer: dict[int, list[int]]) -> Cell:
    """The core charge on its line; of a part in hand, which has none, as its supplier's sheet says."""
    rows = of_offer.get(offer.id)
    return Formula(page.cell(rows[0], 9), Cents(offer.core_cents)) if rows else Cents(offer.core_cents)


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
