"""The customer's sheet: one page with what is done, what it costs, how long that holds, and the cautions.

It names no supplier and no purchase cost: prices come by formula from the shop's sheet, which stays in the shop.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sourcing.money import to_cents
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.cautions import Caution
from sourcing.quote.charge import Charge
from sourcing.quote.sheets.bill import Bill
from sourcing.quote.sheets.cells import Cell, Cents, Formula, Percent, cent
from sourcing.quote.sheets.page import Page
from sourcing.quote.sheets.texts import clean, footer, lines_of

NAME = "Quote"
WIDTHS = (21, 45, 10, 12, 13)
CAUTION_LINES = 34  # more would press the page below what can be read
LETTER, A4 = 1, 9
LETTER_CURRENCIES = ("USD", "CAD", "MXN")  # elsewhere A4; it fits one page on either


@dataclass(frozen=True, slots=True)
class Quoted:
    """Where the shop's sheet finds what the customer's says: hours and materials by task, the price before tax."""

    hours: dict[str, str]
    materials: dict[str, str]
    before_tax: str


@dataclass(frozen=True, slots=True)
class _Rate:
    """A rate of the shop that stands on the page: its address and its value."""

    at: str
    value: Cents | Percent

    @property
    def shown(self) -> Formula:
        return Formula(self.at, self.value)


def draw_customer(page: Page, plan: Plan, charge: Charge, cautions: Sequence[Caution], bill: Bill) -> Quoted:
    """Draw the whole page."""
    page.heading(f"Quote {plan.problem.job.number}")
    rates = _heading(page, plan.problem, charge, bill)
    page.row += 1
    head = page.headings(["Position", "What", "Quantity", "Unit price", "Amount"], [2, 3, 4])
    parts = _parts(page, plan.problem, charge, bill)
    labour, hours = _labour(page, charge, rates["labour"])
    goods, materials = _goods(page, charge, bill, rates, labour)
    _freight(page, charge, bill)
    taxed = f"{page.sum(4, *parts)}+{page.sum(4, *goods)}"
    before = _totals(page, charge, page.sum(4, head + 1, page.row - 1), taxed, labour, rates)
    page.row += 1
    for says in _terms(plan, charge):
        page.paragraph(says, "")
    _cautions(page, cautions)
    _print(page, plan.problem, head)
    return Quoted(hours, materials, before)


def _heading(page: Page, problem: Problem, charge: Charge, bill: Bill) -> dict[str, _Rate]:
    """What the quote is about on the left; on the right its dates, and the rates that it reckons with."""
    shop, job, top = problem.shop, problem.job, page.row
    supplies = shop.shop_supplies
    until = f"MIN(E{top + 1}+E{top + 2}{',' + bill.ends if bill.ends else ''})"
    cap = None if supplies.cap is None else Cents(to_cents(supplies.cap))
    right: list[tuple[str, str, Cell]] = [
        ("", "Date", job.job.date),
        ("", "Prices stand at most, days", shop.quote_days),
        ("", "This quote stands until", Formula(until, charge.stands_until)),
        ("labour", "Labour, an hour", Cents(to_cents(shop.labour_rate))),
        ("share", "Shop supplies, of labour", Percent(supplies.share)),
        ("cap", "Shop supplies, at most", "no limit" if cap is None else cap),
        ("tax_parts", "Tax on parts and supplies", Percent(shop.tax_parts)),
        ("tax_labour", "Tax on labour", Percent(shop.tax_labour)),
    ]
    rates = {}
    for (label, text), (key, name, value) in zip(_about(problem), right, strict=True):
        rates[key] = _Rate(f"$E${page.row + 1}", value if isinstance(value, Cents | Percent) else Cents(0))
        page.put(0, label, "label")
        page.wide(2, 3, name, "label")
        page.put(4, value, "right")
        page.line([text], first=1)
    return rates


def _about(problem: Problem) -> list[tuple[str, str]]:
    job, era = problem.job, problem.family.era[problem.setting.era]
    unit, car = job.unit, job.vehicle
    told = [("VIN", car.vin), ("built", car.built), ("model year", car.model_year)] if car else []
    built = unit.built or (
        f"model year {unit.model_year}" if unit.model_year else "date not known, the vehicle's taken"
    )
    return [
        ("Customer", job.job.customer or "-"),
        ("Transmission", problem.family.family.name),
        ("Unit", era.name),
        ("Unit built", built),
        ("Unit's tag", unit.tag or "-"),
        ("Vehicle", ", ".join(f"{name} {value}" for name, value in told if value is not None) or "-"),
        ("Wanted by", job.job.need_by.isoformat() if job.job.need_by else "-"),
        ("All amounts in", problem.shop.currency),
    ]


def _parts(page: Page, problem: Problem, charge: Charge, bill: Bill) -> tuple[int, int]:
    first = page.row
    for part in charge.parts:
        names = " + ".join(problem.family.position[position].name for position in part.positions)
        at = part.positions[0] if part.in_hand else part.offer
        price: Cell = Cents(0) if at is None else Formula(bill.price[at], Cents(part.price_cents))
        _amount(page, names, part.says, part.pieces, price, part.amount_cents)
    return first, page.row - 1


def _amount(page: Page, label: str, says: str, pieces: Cell, price: Cell, cents: int) -> int:
    """A row of quantity x unit price."""
    row = page.row + 1
    return page.line([label, says, pieces, price, Formula(cent(f"C{row}*D{row}"), Cents(cents))], "row")


def _labour(page: Page, charge: Charge, rate: _Rate) -> tuple[str, dict[str, str]]:
    """Each work with its hours, then all hours at the shop's rate; where the amount and each work's hours stand."""
    first, hours = page.row, {}
    for work in charge.work:
        row = page.line(["Hours", work.says, work.hours, None, None], "row")
        hours[work.code] = page.far(row, 2)
    every = Formula(page.sum(2, first, page.row - 1), charge.hours)
    row = _amount(page, "Labour", "All hours together", every, rate.shown, charge.labour_cents)
    return page.cell(row, 4), hours


def _goods(
    page: Page, charge: Charge, bill: Bill, rates: dict[str, _Rate], labour: str
) -> tuple[tuple[int, int], dict[str, str]]:
    """Materials, cores lost and supplies, which are taxed like parts: their rows, and where each work's materials stand."""
    first, materials = page.row, {}
    for work in charge.work:
        if work.materials_cents:
            row = _amount(page, "Materials", work.says, 1, Cents(work.materials_cents), work.materials_cents)
            materials[work.code] = page.far(row, 3)
    for core in charge.cores:
        says = f"Core charge that does not come back: {core.says}"
        _amount(
            page,
            "Core",
            says,
            1,
            Formula(bill.core[core.position or core.offer], Cents(core.amount_cents)),
            core.amount_cents,
        )
    share, cap = cent(f"{labour}*{rates['share'].at}"), rates["cap"].at
    capped = f"IF(ISNUMBER({cap}),MIN({share},{cap}),{share})"
    page.line(["Shop supplies", "A share of labour", None, None, Formula(capped, Cents(charge.supplies_cents))], "row")
    return (first, page.row - 1), materials


def _freight(page: Page, charge: Charge, bill: Bill) -> None:
    cents = charge.freight_cents
    _amount(
        page, "Freight in", "Getting the parts here, as charged to us", 1, Formula(bill.freight, Cents(cents)), cents
    )
    if back := charge.core_return_cents:
        price = Formula(bill.core_return, Cents(back))
        _amount(page, "Freight back", "Sending the old parts back, as charged to us", 1, price, back)


def _totals(page: Page, charge: Charge, rows: str, taxed: str, labour: str, rates: dict[str, _Rate]) -> str:
    """Before tax, the taxes, the total; the address of the price before tax."""
    row = page.row + 1
    page.line(["Before tax", None, None, None, Formula(f"ROUND({rows},2)", Cents(charge.before_tax_cents))], "sum")
    parts, work = rates["tax_parts"], rates["tax_labour"]
    page.line(["Tax", "On parts, materials, cores and supplies", None, parts.shown,
               Formula(cent(f"({taxed})*{parts.at}"), Cents(charge.tax_parts_cents))], "row")  # fmt: skip
    page.line(["Tax", "On labour", None, work.shown,
               Formula(cent(f"{labour}*{work.at}"), Cents(charge.tax_labour_cents))], "row")  # fmt: skip
    total = Formula(f"ROUND(SUM({page.span(4, row - 1, row + 1)}),2)", Cents(charge.total_cents))
    page.line(["Total", None, None, None, total], "total")
    return page.far(row - 1, 4)


def _terms(plan: Plan, charge: Charge) -> Iterator[str]:
    yield f"This quote of {plan.problem.job.job.date.isoformat()} stands until {charge.stands_until.isoformat()}."
    returns = plan.choice.returns if plan.choice else ()
    if returns:
        names = ", ".join(dict.fromkeys(plan.problem.family.name_of(item.design) for item in returns))
        yield f"It counts on these old parts going back as cores: {names}. Where one is refused, its core charge is added."


def _cautions(page: Page, cautions: Sequence[Caution]) -> None:
    """The cautions, as many as one page holds; the count of those that stand on the sheet of rules only."""
    page.part("Cautions")
    room = CAUTION_LINES
    for number, caution in enumerate(cautions):
        room -= lines_of(clean(caution.says), sum(page.widths))
        if room < 0:
            page.paragraph(f"{len(cautions) - number} further cautions are kept with the shop's papers: ask for them.")
            return
        page.paragraph(f"- {caution.says}")


def _print(page: Page, problem: Problem, head: int) -> None:
    """One page on letter and on A4, headings repeated."""
    sheet = page.sheet
    sheet.set_portrait()
    sheet.set_paper(LETTER if problem.shop.currency in LETTER_CURRENCIES else A4)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
    sheet.center_horizontally()
    sheet.repeat_rows(head)
    sheet.print_area(0, 0, page.row - 1, len(page.widths) - 1)
    sheet.fit_to_pages(1, 1)
    sheet.set_footer(f"&L{footer(f'Quote {problem.job.number}')}&R&P / &N")
