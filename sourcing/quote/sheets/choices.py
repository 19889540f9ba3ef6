"""The choices on the customer's sheet: up to three plans, a line each, of which one is ticked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.labels import Labels
from sourcing.plan import Plan
from sourcing.quote.charge import Charge
from sourcing.quote.described import described
from sourcing.quote.sheets.cells import Cell, Cents, Formula, cent
from sourcing.quote.sheets.page import Page
from sourcing.quote.sheets.rates import Rates, tax

BOX = "\u2610"
ASIDE = 6  # the column from which on the sheet shows, outside its printed page, how the choices are reckoned
NAMES = ("goods", "hours", "extras", "cores", "untaxed", "labour", "supplies", "listed", "discount")


@dataclass(frozen=True, slots=True)
class Choice:
    """A plan that the customer may choose: what it is best at (keys of labels), and what it is charged at."""

    best_at: tuple[str, ...]
    plan: Plan
    charge: Charge


def draw_choices(page: Page, say: Labels, choices: Sequence[Choice], rates: Rates, total: int) -> None:
    """Draw them; the first is the one quoted above, whose total stands in the row `total`."""
    page.part(say("choices"))
    page.sheet.set_column(ASIDE, ASIDE + len(NAMES) - 1, 12)
    heads = [say(f"head_{name}") for name in ("choice", "what", "ready", "warranty", "total")]
    for place, name in enumerate(NAMES):
        page.put(ASIDE + place, say(f"reckoned_{name}"), "head")
    page.headings(heads, [4])
    for place, choice in enumerate(choices):
        _aside(page, choice.charge, rates)
        amount = page.cell(total, 4) if place == 0 else _total(page.row + 1, rates)
        name = say.listed(say(key) for key in choice.best_at)
        page.line([
            f"{BOX}  {name}", _differs(choice, choices[0], say), _ready(choice.plan, say),
            _warranty(choice.charge, say), Formula(amount, Cents(choice.charge.total_cents)),
        ], "row", tallest=2)  # fmt: skip
    page.paragraph(say("choice_quoted", choice=say.listed(say(key) for key in choices[0].best_at)))


def _differs(choice: Choice, first: Choice, say: Labels) -> str:
    """The lead part of a choice and, of the others after the first, whatever else is not as in it."""
    problem = choice.plan.problem
    lead = problem.family.lead.code
    quoted = {described(part, problem, say) for part in first.charge.parts}
    shown = [
        told
        for part in choice.charge.parts
        if (told := described(part, problem, say))
        and (lead in part.positions or (choice is not first and told not in quoted))
    ]
    return "; ".join(shown)


def _warranty(charge: Charge, say: Labels) -> str:
    """The least warranty of what the shop puts in; a part that the customer brought has none."""
    months = say.months(charge.warranty_months or 0)
    return say("months_but_own", months=months) if any(part.own for part in charge.parts) else months


def _ready(plan: Plan, say: Labels) -> str:
    if plan.choice is None or plan.last_arrival is None:
        return say("days_none")
    days = max(purchase.line.workdays for purchase in plan.choice.purchases)
    return say("days_one" if days == 1 else "days_many", date=plan.last_arrival.isoformat(), days=days)


def _aside(page: Page, charge: Charge, rates: Rates) -> None:
    """What a choice's total is made of, in the current row."""
    goods, hours, extras, cores, untaxed, labour, supplies, listed = (
        page.cell(page.row, ASIDE + place) for place in range(8)
    )
    cells: list[Cell] = [
        Cents(charge.goods_cents - charge.supplies_cents), charge.hours, Cents(charge.extras_cents("labour")),
        Cents(charge.cores_cents), Cents(charge.untaxed_cents),
        Formula(cent(f"{hours}*{rates.labour.at}"), Cents(charge.labour_cents)),
        Formula(rates.supplies(labour), Cents(charge.supplies_cents)),
        Formula(f"ROUND({goods}+{extras}+{cores}+{untaxed}+{labour}+{supplies},2)", Cents(charge.listed_cents)),
        Formula(rates.off(listed), Cents(charge.discount_cents)),
    ]  # fmt: skip
    for place, cell in enumerate(cells):
        page.put(ASIDE + place, cell)


def _total(row: int, rates: Rates) -> str:
    """The total of the choice of a row (counted from 1), as a term."""
    goods, _, extras, cores, _, labour, supplies, listed, off = (f"{chr(ord('A') + ASIDE + n)}{row}" for n in range(9))
    taxes = (
        tax(f"{goods}+{supplies}", listed, off, rates.tax_parts.at),
        tax(f"{labour}+{extras}", listed, off, rates.tax_labour.at),
        tax(cores, listed, off, rates.tax_cores.at),
    )
    return f"ROUND({listed}-{off}+{'+'.join(taxes)},2)"
