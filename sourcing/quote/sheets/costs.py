"""The shop's sheet, last part: work, comebacks, what is left over, the plan's totals, the margin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sourcing.book.family import NONE
from sourcing.money import to_cents
from sourcing.plan import TOTALS, Choice, Plan, to_the_shelf
from sourcing.prices.offers import Offer
from sourcing.problem import Problem, Wish
from sourcing.quote.charge import Charge
from sourcing.quote.charging import base_cost_cents, charged_cores
from sourcing.quote.sheets.cells import Cell, Cents, Formula, Percent, cent
from sourcing.quote.sheets.customer import Quoted
from sourcing.quote.sheets.page import Page
from sourcing.quote.sheets.sources import Sources

MONEY = 8  # the column in which this part's amounts stand
NAMES = {
    "parts": "Parts",
    "core_charges": "Core charges",
    "core_credit": "Core credit (taken off)",
    "freight": "Freight",
    "core_return": "Sending cores back",
    "labour": "Labour and materials of the works",
    "comebacks": "Expected comebacks",
    "waiting": "Waiting for the last arrival",
    "shelf": "Worth on the shelf (taken off)",
    "cash": "Cash: parts, core charges, freight",
    "landed": "Landed: cash less credit, with sending back",
    "whole": "Whole: landed, labour, comebacks, waiting less shelf",
}


@dataclass(frozen=True, slots=True)
class _Terms:
    """A formula term for each total that a table above has summed."""

    labour: str
    comebacks: str
    shelf: str


def draw_costs(page: Page, plan: Plan, charge: Charge, sources: Sources, quoted: Quoted) -> None:
    """Draw what else the plan costs, its totals as they stand in the answer, and what stays with the shop."""
    if plan.choice is None:
        return
    labour = _work(page, plan, quoted)
    comebacks = _comebacks(page, plan.problem, plan.choice)
    shelf = _left(page, plan.problem, plan.choice)
    at = _totals(page, plan, sources, _Terms(labour, comebacks, shelf))
    _margin(page, plan, charge, quoted, at, sources)


def _row(page: Page, says: str, *cells: Cell, look: str = "row") -> int:
    """A row of this part: a text over columns B to E, then cells that end with its amount in I."""
    return page.labelled(1, 4, says, [*[None] * (4 - len(cells)), *cells], look)


def _head(page: Page, title: str, *names: str) -> None:
    page.part(title)
    page.headings(["", names[0], "", "", "", *[""] * (5 - len(names)), *names[1:]], range(5, 9))


def _work(page: Page, plan: Plan, quoted: Quoted) -> str:
    shop = plan.problem.shop
    _head(page, "Works that come with the choice", "Work", "Hours", "An hour", "Materials", "Cost")
    first, cost = page.row, {task.code: to_cents(task.cost) for task in plan.problem.family.tasks}
    for work in plan.works:
        row, materials = page.row + 1, quoted.materials.get(work.code)
        _row(
            page,
            work.name,
            Formula(quoted.hours[work.code], Decimal(work.hours)),
            Cents(to_cents(shop.hour_costs)),
            Formula(materials, Cents(cost[work.code])) if materials else Cents(0),
            Formula(cent(f"F{row}*G{row}+H{row}"), Cents(work.cents)),
        )
    last = page.row - 1
    if shop.labour_cost is None:
        page.paragraph("shop.toml gives no labour_cost: an hour is taken to cost the shop what it is charged at.")
    return page.sum(MONEY, first, last)


def _comebacks(page: Page, problem: Problem, choice: Choice) -> str:
    _head(page, "Expected comebacks", "Part", "Rate", "Cost of one", "Expected")
    first = page.row
    for position, design in choice.combination.items():
        if design == NONE:
            continue
        row, offer = page.row + 1, problem.offer[choice.fills[position]] if position in choice.fills else None
        hand = problem.in_hand[position] if position in choice.in_hand else None
        rate = problem.in_hand_rate(hand) if hand else _rate(problem, offer, design)
        counted = problem.in_hand_comeback_cents(hand) if hand else problem.comeback_cents(position, offer, design)
        cost = problem.family.position[position].comeback_cost
        one = to_cents(problem.shop.comeback_cost if cost is None else cost)
        _row(page, problem.family.name_of(design), Formula(f"{rate.numerator}/{rate.denominator}", rate), Cents(one),
             Formula(cent(f"G{row}*H{row}"), Cents(counted)))  # fmt: skip
    return page.sum(MONEY, first, page.row - 1)


def _rate(problem: Problem, offer: Offer | None, design: str) -> Fraction:
    made = problem.family.design[design]
    if offer is not None:
        return offer.part.comeback_rate(problem.family, design)
    return made.comeback_rate if made.kept_comeback_rate is None else made.kept_comeback_rate


def _left(page: Page, problem: Problem, choice: Choice) -> str:
    _head(page, "Left over for the shelf", "Part", "Pieces", "Wanted", "Worth each", "Counted")
    first = page.row
    for design, pieces in sorted(to_the_shelf(problem, choice).items()):
        if pieces <= 0:
            continue
        row, wish = page.row + 1, problem.wishes.get(design, Wish(0, 0))
        _row(page, problem.family.name_of(design), pieces, wish.pieces, Cents(wish.worth_cents),
             Formula(f"MIN(F{row},G{row})*H{row}", Cents(wish.worth_cents * min(pieces, wish.pieces))))  # fmt: skip
    if page.row == first:
        page.line([None, "nothing"])
        return "0"
    return page.sum(MONEY, first, page.row - 1)


def _totals(page: Page, plan: Plan, sources: Sources, terms: _Terms) -> dict[str, str]:
    """The plan's totals by name: the address of each."""
    page.part("What the plan costs the shop")
    first = page.row
    at = {name: page.cell(first + place, MONEY) for place, name in enumerate(TOTALS)}
    days = max((purchase.line.workdays for purchase in plan.choice.purchases), default=0) if plan.choice else 0
    formulas = {
        "parts": f"{page.sum(8, *sources.lines)}+{page.sum(8, *sources.hands)}",
        "core_charges": f"{page.sum(10, *sources.lines)}+{page.sum(10, *sources.hands)}",
        "core_credit": page.sum(8, *sources.cores),
        "freight": page.sum(11, *sources.orders),
        "core_return": page.sum(8, *sources.returns),
        "labour": terms.labour,
        "comebacks": terms.comebacks,
        "waiting": f"G{first + 1 + TOTALS.index('waiting')}*H{first + 1 + TOTALS.index('waiting')}",
        "shelf": terms.shelf,
        "cash": f"{at['parts']}+{at['core_charges']}+{at['freight']}",
        "landed": f"{at['cash']}-{at['core_credit']}+{at['core_return']}",
        "whole": f"{at['landed']}+{at['labour']}+{at['comebacks']}+{at['waiting']}-{at['shelf']}",
    }
    for name in TOTALS:
        asked = name == plan.problem.minimise
        beside: list[Cell] = [days, Cents(plan.problem.shop.day_cents)] if name == "waiting" else []
        amount = Formula(f"ROUND({formulas[name]},2)", Cents(plan.totals.of(name)))
        _row(page, NAMES[name] + (" - made least" if asked else ""), *beside, amount, look="sum" if asked else "row")
    return at


def _margin(page: Page, plan: Plan, charge: Charge, quoted: Quoted, at: Mapping[str, str], sources: Sources) -> None:
    problem = plan.problem
    page.part("What stays with the shop")
    top = page.row + 1
    _row(page, "Price before tax", Formula(quoted.before_tax, Cents(charge.before_tax_cents)))
    _row(page, "less landed cost of the plan", Formula(at["landed"], Cents(charge.landed_cents)))
    _row(page, "less labour and materials of the works", Formula(at["labour"], Cents(plan.totals.labour)))
    base, rate = problem.job.labour.base_hours, Cents(to_cents(problem.shop.hour_costs))
    _row(page, "less hours of the rebuild itself", Formula(quoted.hours[""], base), rate,
         Formula(cent(f"G{top + 3}*H{top + 3}"), Cents(base_cost_cents(problem))))  # fmt: skip
    end = top + 3
    if plan.choice is not None and charge.paid_cores_cents:
        end += 1
        paid = [page.cell(sources.of_hand[hand.position], 9) for hand in charged_cores(plan.problem, plan.choice)]
        _row(page, "less core charges paid before on parts in hand",
             Formula("+".join(paid), Cents(charge.paid_cores_cents)))  # fmt: skip
    margin = f"ROUND(I{top}-SUM(I{top + 1}:I{end}),2)"
    _row(page, "Margin", Formula(margin, Cents(charge.margin_cents)), look="total")
    part = Fraction(charge.margin_cents, charge.before_tax_cents) if charge.before_tax_cents else Fraction(0)
    _row(page, "of the price before tax", Formula(f"IF(I{top}=0,0,I{end + 1}/I{top})", Percent(part)))
    page.paragraph("What is left over is paid for in the landed cost. Expected comebacks, waiting and what consumables, extras"
                   " and supplies cost the shop are not in the margin.")  # fmt: skip
