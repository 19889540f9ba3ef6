"""The shop's sheet, last part: work, comebacks, what is left over, the plan's totals, the margin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sourcing.book.family import NONE
from sourcing.money import to_cents
from sourcing.plan import Choice, Plan, left_over
from sourcing.problem import Problem
from sourcing.quote.charge import Charge, base_cost_cents
from sourcing.quote.sheets.customer import Quoted
from sourcing.quote.sheets.page import Cell, Cents, Formula, Page
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
    _margin(page, plan, charge, quoted, at)


def _row(page: Page, says: str, *cells: Cell, look: str = "row") -> int:
    """A row of this part: a text in column E, then cells from column G on."""
    return page.line([None, None, None, None, says, None, *cells], look)


def _head(page: Page, title: str, *names: str) -> None:
    page.part(title)
    page.headings(["", "", "", "", *names[:1], "", *names[1:]], range(6, 10))


def _work(page: Page, plan: Plan, quoted: Quoted) -> str:
    shop = plan.problem.shop
    _head(page, "Works that come with the choice", "Work", "hours", "cost of an hour", "cost", "materials")
    first, cost = page.row, {task.code: to_cents(task.cost) for task in plan.problem.family.tasks}
    hours = {line.code: line for line in plan.works}
    for code, work in hours.items():
        row = page.row + 1
        materials: Cell = Cents(0)
        if code in quoted.materials:
            materials = Formula(quoted.materials[code], Cents(cost[code]))
        _row(page, work.name, Formula(quoted.hours[code], _hours(work.hours)), Cents(to_cents(shop.hour_costs)),
             Formula(f"ROUND(G{row}*H{row}+J{row},2)", Cents(work.cents)), materials)  # fmt: skip
    if shop.labour_cost is None:
        page.paragraph("shop.toml gives no labour_cost: an hour is taken to cost the shop what it is charged at.")
    return page.sum(MONEY, first, first + len(hours) - 1)
