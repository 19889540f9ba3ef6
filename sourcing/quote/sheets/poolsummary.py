"""The first sheet of a pool's workbook: how sure the plan is, what it comes to and saves, its orders, what the units get."""

from __future__ import annotations

from collections.abc import Mapping

from sourcing.book.family import NONE
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan
from sourcing.quote.pooled import Alike, alike, header_of, how_filled, jobs_named, numbers_of, proof_told, saving_told
from sourcing.quote.sheets.cells import Cell, Cents, Formula
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import clean, lines_of, sentence, shortened

NAME = "Together"
WIDTHS = (8, 26, 22, 14, 9, 9, 13, 13, 13, 44)
MOST = 200  # kinds of unit that are told one by one; each job stands on the sheet of jobs


def draw_summary(page: Page, bought: Bought, stamp: str, share: str) -> None:
    """Draw the whole sheet; `share` is the span of the shares on the sheet of jobs, "" where there are none."""
    plan, shop = bought.plan, bought.plan.pool.shop
    title, families = header_of(plan)
    page.heading(title)
    page.paragraph(f"{sentence(proof_told(plan))}.", "label")
    day = plan.pool.first.job.job.date.isoformat()
    page.paragraph(f"For the shop only: purchase costs and suppliers. {sentence(stamp)}. {families}. Prices of {day},"
                   f" amounts in {shop.currency}.")  # fmt: skip
    cost = _totals(page, plan)
    _saving(page, bought, cost, share)
    _orders(page, plan)
    _kinds(page, bought)
    print_wide(page, f"{title}, {stamp}", shop.letter)
    page.protect()


def _totals(page: Page, plan: PoolPlan) -> str:
    """What the plan comes to, total by total; the cell of what was minimised."""
    page.part("What it comes to")
    t, at = plan.totals, {}
    rows: list[tuple[str, str, int, str]] = [
        ("parts", "Parts", t.parts, ""),
        ("core_charges", "Core charges", t.core_charges, ""),
        ("freight", "Freight", t.freight, ""),
        ("cash", "Cash to lay out", t.cash, "{parts}+{core_charges}+{freight}"),
        ("core_credit", "Core credit", -t.core_credit, ""),
        ("core_return", "Returning cores", t.core_return, ""),
        ("landed", "Landed", t.landed, "{cash}+{core_credit}+{core_return}"),
        ("labour", "Labour", t.labour, ""),
        ("comebacks", "Expected comebacks", t.comebacks, ""),
        ("waiting", "Waiting", t.waiting, ""),
        ("shelf", "Worth on the shelf", -t.shelf, ""),
        ("whole", "Whole", t.whole, "{landed}+{labour}+{comebacks}+{waiting}+{shelf}"),
    ]
    for name, label, cents, formula in rows:
        at[name] = page.cell(page.row, 3)
        cell: Cell = Formula(f"ROUND({formula.format(**at)},2)", Cents(cents)) if formula else Cents(cents)
        said = "minimised" if name == plan.pool.minimise else None
        page.labelled(0, 2, label, [cell, None, None, said], "sum" if formula else "row")
    return at[plan.pool.minimise]


def _saving(page: Page, bought: Bought, cost: str, share: str) -> None:
    page.part("Bought together, and one after another")
    alone, saved = bought.alone_total, bought.saved
    if alone is not None and saved is not None:
        top = page.row + 1
        page.labelled(0, 2, "One after another, in the order of their numbers", [Cents(alone)])
        page.labelled(0, 2, "Together", [Formula(cost, Cents(bought.plan.cost))])
        page.labelled(0, 2, "Saved", [Formula(f"ROUND(D{top}-D{top + 1},2)", Cents(saved))], "sum")
    elif saving_told(bought):
        page.paragraph(f"{sentence(saving_told(bought))}.", "")
    if share:
        page.labelled(
            0, 2, "The jobs' shares, added up", [Formula(f"SUM({share})", Cents(sum(bought.shares.values())))]
        )
    if bought.rule:
        page.paragraph(f"How shares were found: {bought.rule}.")


def _orders(page: Page, plan: PoolPlan) -> None:
    page.part("Orders")
    page.headings(["", "Supplier", "Sent by", "Arrives", "Lines", "Pieces", "Parts", "Core charges", "Freight", "For"],
                  range(4, 9))  # fmt: skip
    for order in plan.orders:
        numbers = sorted({number for line in order.lines for number, count in numbers_of(line, plan).items() if count})
        page.line([
            None, plan.pool.terms[order.supplier].name, order.mode, order.arrives, len(order.lines),
            sum(line.quantity for line in order.lines),
            Cents(sum(line.line.offer.cents(line.quantity) for line in order.lines)),
            Cents(sum(line.quantity * line.line.offer.core_cents for line in order.lines)),
            Cents(order.freight_cents), jobs_named(numbers) if numbers else "the shelf",
        ], "row")  # fmt: skip
    if not plan.orders:
        page.line([None, "nothing is bought"])


def _kinds(page: Page, bought: Bought) -> None:
    kinds = alike(bought.plan)
    page.part(f"What the units get, like ones together ({len(kinds)} kind{'s' * (len(kinds) != 1)})")
    page.headings(["Units", "Jobs", "Unit of", "Shares", "Gets"], [0, 3])
    last, wide = len(WIDTHS) - 1, sum(WIDTHS[4:])
    for kind in kinds[:MOST]:
        jobs, gets = jobs_named(kind.numbers), shortened(clean("; ".join(told_of(kind))), wide)
        era = kind.family.era[kind.one.problem.setting.era].name
        for column, cell in enumerate([len(kind.gets), jobs, era, _shares(kind, bought.shares)]):
            page.put(column, cell, "row")
        page.wide(4, last, gets, "row")
        high = max(lines_of(clean(jobs), WIDTHS[1]), lines_of(clean(era), WIDTHS[2]), lines_of(gets, wide))
        page.line([], "row", first=last + 1, tallest=high)
    if len(kinds) > MOST:
        page.paragraph(f"... and {len(kinds) - MOST} further kinds: each job stands on the sheet of jobs.")


def _shares(kind: Alike, shares: Mapping[str, int]) -> Cell:
    return Cents(sum(shares[number] for number in kind.numbers)) if shares else None


def told_of(kind: Alike) -> list[str]:
    """What each of some like units gets, position by position."""
    one, family = kind.one, kind.family
    return [
        f"{family.position[position].name}: {'nothing' if design == NONE else family.name_of(design)} - {how_filled(one, position)}"
        for position, design in one.choice.combination.items()
    ]
