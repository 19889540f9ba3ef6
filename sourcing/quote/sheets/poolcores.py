"""The sheet of a pool's cores: which old part of which job goes to whom, by when, in which state, and what comes back."""

from __future__ import annotations

from datetime import date, timedelta

from sourcing.plan import Return
from sourcing.pool.plan import Got, PoolPlan, core_credit
from sourcing.quote.pooled import header_of
from sourcing.quote.sheets.cells import Cents, Code, Formula, Percent, cent
from sourcing.quote.sheets.cores import ASK, core_terms
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import sentence

NAME = "Cores"
WIDTHS = (14, 20, 26, 18, 24, 15, 13, 26, 11, 9, 11, 14)


def draw_cores(page: Page, plan: PoolPlan, stamp: str) -> None:
    """Draw the whole sheet."""
    pool = plan.pool
    title, _ = header_of(plan)
    page.heading("Cores to send back")
    page.paragraph(
        f"{title}. For the shop only. {sentence(stamp)}. Amounts in {pool.shop.currency}. Keep each old part until its credit"
        " is there; let fluid run out and close every plug before it is packed. A core goes against any piece of its number: it"
        " matters which supplier gets it, not which box."
    )
    head = page.headings(["From job", "Tag", "Old part", "Position", "Goes to", "Against", "Send by", "In which state",
                          "Core charge", "Comes back", "Credit", "Sent on, by"], [8, 9, 10])  # fmt: skip
    first = page.row
    came = _arrivals(plan)
    going = sorted(((one, item) for one in plan.gets for item in one.choice.returns),
                   key=lambda pair: (pool.terms[pool.offer[pair[1].offer].supplier].name, pair[0].number))  # fmt: skip
    for one, item in going:
        _core(page, plan, one, item, came)
    last = page.row - 1
    page.sheet.freeze_panes(head + 1, 1)
    if last < first:
        page.line(["none", "", "No old part goes back with this plan."])
    else:
        page.sheet.autofilter(head, 0, last, len(WIDTHS) - 1)
    page.labelled(
        0, 9, "Credit in all", [Formula(page.sum(10, first, last), Cents(plan.totals.core_credit)), None], "sum"
    )
    for supplier in sorted({pool.offer[item.offer].supplier for _, item in going}):
        terms = pool.terms[supplier]
        page.labelled(0, 9, f"Cost of sending them to {terms.name}", [Cents(terms.core_return_cents), None])
    if last >= first:
        page.paragraph(f'"{ASK}": the supplier\'s terms in suppliers.toml do not say it. Ask before the part is sent.')
    print_wide(page, f"{title}, cores, {stamp}", pool.shop.letter, head)
    page.protect(filters=True)


def _core(page: Page, plan: PoolPlan, one: Got, item: Return, came: dict[int, date]) -> None:
    offer, row, family = plan.pool.offer[item.offer], page.row + 1, one.problem.family
    terms = plan.pool.terms[offer.supplier]
    asked = core_terms(terms)
    by = came[item.offer] + timedelta(days=asked.days) if asked.days is not None and item.offer in came else ASK
    page.line([
        Code(one.number), one.problem.job.unit.tag, family.name_of(item.design), family.position[item.position].name,
        terms.name, Code(str(offer.part.number)), by, asked.needs or ASK, Cents(offer.core_cents),
        Percent(terms.core_recovery), Formula(cent(f"I{row}*J{row}"), Cents(core_credit(plan.pool, item))), "",
    ], "row", tallest=2)  # fmt: skip


def _arrivals(plan: PoolPlan) -> dict[int, date]:
    """The earliest day on which a piece of each part comes, or came."""
    came: dict[int, date] = {}
    for purchase in plan.purchases:
        number = purchase.line.offer.id
        came[number] = min(came.get(number, purchase.line.arrives), purchase.line.arrives)
    for one in plan.gets:
        for place, hand in one.problem.in_hand.items():
            if hand.offer is not None:
                day = one.problem.job.in_hand[place].came or one.problem.job.job.date
                came[hand.offer.id] = min(came.get(hand.offer.id, day), day)
    return came
