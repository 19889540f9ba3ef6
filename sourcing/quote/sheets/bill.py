"""The shop's sheet, middle part: the mark-up, and how each part's price comes of its cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from sourcing.labels import Labels
from sourcing.money import to_cents
from sourcing.plan import Plan
from sourcing.quote.charge import Charge, CoreLost, PartCharge
from sourcing.quote.sheets.cells import Cell, Cents, Entry, Formula, cent
from sourcing.quote.sheets.page import Page
from sourcing.quote.sheets.sources import Sources


@dataclass(frozen=True, slots=True)
class Bill:
    """Where the customer's sheet finds each part's price and core charge by line (addresses), and the freight."""

    price: dict[str, str]
    core: dict[str, str]
    freight: str
    core_return: str


def draw_bill(
    page: Page, plan: Plan, charge: Charge, sources: Sources, pieces: Mapping[str, str], labels: Labels
) -> Bill:
    """Draw the steps of the mark-up, then each part that the customer is charged for; `pieces` are its cells by line."""
    steps = _markup(page, plan, labels)
    page.part("What the customer is charged for parts")
    page.headings(["", "Part", "", "", "", "Pieces", "Unit cost", "Factor", "Unit price", "Core charge", "Cores lost",
                   "Core lost", ""], range(5, 12))  # fmt: skip
    lost = {core.line: core for core in charge.cores}
    price, core = {}, {}
    for part in charge.parts:
        if not part.kept:
            names = " + ".join(map(plan.problem.family.name_of, part.designs))
            cells = _priced(page, plan, part, lost.get(part.key), sources, steps, pieces[part.key])
            row = page.labelled(1, 4, names, cells)
            price[part.key], core[part.key] = page.far(row, 8), page.far(row, 9)
    page.paragraph("Pieces that this unit needs, not those that a pack or the shelf adds. The factor is that of the first"
                   " step that the unit cost does not pass; the price is rounded to the cent, halves up.")  # fmt: skip
    if charge.not_settled:
        page.paragraph(
            f"Not charged, since a fact that decides it was not given: {', '.join(charge.not_settled)}.", "label"
        )
    return Bill(price, core, page.sum(11, *sources.orders, far=True), page.sum(8, *sources.returns, far=True))


def _markup(page: Page, plan: Plan, labels: Labels) -> tuple[str, str]:
    """The steps as a table to look up in: spans of their beginnings and of their factors."""
    page.part("Mark-up")
    page.headings(["", "A piece costs the shop", "", "", "", "", "from", "up to", "factor"], range(6, 9))
    first, below = page.row, None
    note = labels("note_factor")
    for step in plan.problem.shop.markups or ():
        begins: Cell = Cents(0)
        if below is not None:
            begins = Formula(f"ROUND(H{page.row}+0.01,2)", Cents(below + 1))
        below = None if step.up_to is None else to_cents(step.up_to)
        ends = None if below is None else Cents(below)
        page.labelled(1, 4, "" if ends else "without end", [None, begins, ends, Entry(step.factor, note, most=100)])
    if page.row == first:
        one = Entry(Decimal(1), note, most=100)
        page.labelled(1, 4, "shop.toml gives no mark-up", [None, Cents(0), None, one])
    return (
        f"$G${first + 1}:$G${page.row}",
        f"$I${first + 1}:$I${page.row}",
    )


def _priced(
    page: Page,
    plan: Plan,
    part: PartCharge,
    lost: CoreLost | None,
    sources: Sources,
    steps: tuple[str, str],
    pieces: str,
) -> list[Cell]:
    row = page.row + 1
    charged = plan.problem.offer[part.core_offer].core_cents if part.core_offer is not None else 0
    missing = lost.pieces if lost else 0
    return [
        Formula(pieces, part.pieces),
        Cents(0) if part.own else Formula(_cost(page, part, sources), Cents(part.cost_cents)),
        Formula(f"INDEX({steps[1]},MATCH(G{row},{steps[0]},1))", part.factor),
        Formula(cent(f"G{row}*H{row}"), Cents(part.price_cents)),
        Cents(charged),
        Formula(f"MAX(0,F{row}-{part.pieces - missing})", missing) if lost else 0,
        Formula(f"J{row}*K{row}", Cents(lost.amount_cents if lost else 0)),
    ]


def _cost(page: Page, part: PartCharge, sources: Sources) -> str:
    """What a piece costs: its lines' total over their pieces, or the cost of the part in hand."""
    if part.offer is None:
        return page.cell(sources.of_hand[part.key], 7)
    rows = sources.of_offer[part.offer]
    totals = "+".join(page.cell(line, 8) for line in rows)
    pieces = "+".join(page.cell(line, 6) for line in rows)
    return cent(f"({totals})/({pieces})")
