"""The shop's sheet, middle part: the mark-up, and how each part's price comes of its cost."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sourcing.money import to_cents
from sourcing.plan import Plan
from sourcing.quote.charge import Charge, CoreLost, PartCharge
from sourcing.quote.sheets.cells import Cell, Cents, Formula, cent
from sourcing.quote.sheets.page import Page
from sourcing.quote.sheets.sources import Sources


@dataclass(frozen=True, slots=True)
class Bill:
    """Where the customer's sheet finds each part's price and core, by offer or, of a part in hand, by position
    (addresses), and when prices end."""

    price: dict[int | str, str]
    core: dict[int | str, str]
    freight: str
    core_return: str
    ends: str


def draw_bill(page: Page, plan: Plan, charge: Charge, sources: Sources) -> Bill:
    """Draw the steps of the mark-up, then each part that the customer is charged for."""
    steps = _markup(page, plan)
    page.part("What the customer is charged for parts")
    page.headings(["", "Part", "", "", "", "Pieces", "Unit cost", "Factor", "Unit price", "Core charge", "Comes back",
                   "Core lost", ""], range(5, 12))  # fmt: skip
    lost: dict[int | str, CoreLost] = {core.position or core.offer: core for core in charge.cores}
    price: dict[int | str, str] = {}
    core: dict[int | str, str] = {}
    for part in charge.parts:
        if part.offer is not None:
            row = page.labelled(1, 4, part.says, _priced(page, plan, part, lost.get(part.offer), sources, steps))
            price[part.offer], core[part.offer] = page.far(row, 8), page.far(row, 11)
        elif part.in_hand:
            (position,) = part.positions
            row = page.labelled(1, 4, part.says, _in_hand(page, part, lost.get(position), sources, steps))
            price[position], core[position] = page.far(row, 8), page.far(row, 11)
    page.paragraph("Pieces that this unit needs, not those that a pack or the shelf adds. The factor is that of the first"
                   " step that the unit cost does not pass; the price is rounded to the cent, halves up.")  # fmt: skip
    return Bill(
        price,
        core,
        freight=page.sum(11, *sources.orders, far=True),
        core_return=page.sum(8, *sources.returns, far=True),
        ends=page.span(7, *sources.ends, far=True) if sources.ends[1] >= sources.ends[0] else "",
    )


def _markup(page: Page, plan: Plan) -> tuple[str, str]:
    """The steps as a table to look up in: spans of their beginnings and of their factors."""
    page.part("Mark-up")
    page.headings(["", "A piece costs the shop", "", "", "", "", "from", "up to", "factor"], range(6, 9))
    first, below = page.row, None
    for step in plan.problem.shop.markups or ():
        begins: Cell = Cents(0)
        if below is not None:
            begins = Formula(f"ROUND(H{page.row}+0.01,2)", Cents(below + 1))
        below = None if step.up_to is None else to_cents(step.up_to)
        ends = None if below is None else Cents(below)
        page.labelled(1, 4, "" if ends else "without end", [None, begins, ends, step.factor])
    if page.row == first:
        page.labelled(1, 4, "shop.toml gives no mark-up", [None, Cents(0), None, Decimal(1)])
    return (
        f"$G${first + 1}:$G${page.row}",
        f"$I${first + 1}:$I${page.row}",
    )


def _priced(
    page: Page, plan: Plan, part: PartCharge, lost: CoreLost | None, sources: Sources, steps: tuple[str, str]
) -> list[Cell]:
    assert part.offer is not None and plan.choice is not None
    row, offer = page.row + 1, plan.problem.offer[part.offer]
    rows = sources.of_offer[part.offer]
    totals = "+".join(page.cell(line, 8) for line in rows)
    pieces = "+".join(page.cell(line, 6) for line in rows)
    back = min(part.pieces, sum(item.offer == part.offer for item in plan.choice.returns))
    charged = part.pieces * offer.core_cents
    credit = charged - (lost.amount_cents if lost else 0)
    comes = Formula(f"{back}*{page.cell(sources.of_core[part.offer], 8)}", Cents(credit)) if back else Cents(0)
    return [
        part.pieces,
        Formula(cent(f"({totals})/({pieces})"), Cents(part.cost_cents)),
        Formula(f"INDEX({steps[1]},MATCH(G{row},{steps[0]},1))", part.factor),
        Formula(cent(f"G{row}*H{row}"), Cents(part.price_cents)),
        Formula(f"F{row}*{page.cell(rows[0], 9)}", Cents(charged)), comes,
        Formula(f"J{row}-K{row}", Cents(charged - credit)),
    ]  # fmt: skip


def _in_hand(
    page: Page, part: PartCharge, lost: CoreLost | None, sources: Sources, steps: tuple[str, str]
) -> list[Cell]:
    """A part in hand: its cost as it stands above, marked up; nothing for what the customer supplied."""
    row, hand = page.row + 1, sources.of_hand[part.positions[0]]
    free = not part.cost_cents
    charged, credit = (lost.charge_cents, lost.credit_cents) if lost else (0, 0)
    return [
        part.pieces,
        Formula("0" if free else page.cell(hand, 7), Cents(part.cost_cents)),
        Formula("1" if free else f"INDEX({steps[1]},MATCH(G{row},{steps[0]},1))", Decimal(1) if free else part.factor),
        Formula(cent(f"G{row}*H{row}"), Cents(part.price_cents)),
        Formula(page.cell(hand, 9) if lost else "0", Cents(charged)),
        Formula(page.cell(sources.of_core[lost.offer], 8) if lost and credit else "0", Cents(credit)),
        Formula(f"J{row}-K{row}", Cents(charged - credit)),
    ]  # fmt: skip
