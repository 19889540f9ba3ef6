"""The sheet of cores: which old part goes to whom, by when, in which state, and what comes back for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sourcing.plan import Plan, credit
from sourcing.quote.sheets.cells import Cents, Code, Formula, Percent, cent
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.terms import Terms

NAME = "Cores"
WIDTHS = (26, 18, 24, 15, 13, 26, 11, 9, 11, 16)
ASK = "ask"


@dataclass(frozen=True, slots=True)
class CoreTerms:
    """What a supplier asks of a core: days from the arrival until it must be back, and its state. None, "": not stated."""

    days: int | None
    needs: str


def core_terms(terms: Terms) -> CoreTerms:
    """What a supplier asks of a core."""
    return CoreTerms(terms.given.core_days, terms.given.core_needs)


def draw_cores(page: Page, plan: Plan, stamp: str) -> None:
    """Draw the whole sheet."""
    problem = plan.problem
    page.heading(f"Cores to send back, job {problem.job.number}")
    page.paragraph(
        f"For the shop only. {stamp.capitalize()}. Amounts in {problem.shop.currency}. Keep each old part until its credit is"
        " there; let fluid run out and close every plug before it is packed."
    )
    head = page.headings(["Old part", "Position", "Goes to", "Against", "Send by", "In which state", "Core charge",
                          "Comes back", "Credit", "Sent on, by"], [6, 7, 8])  # fmt: skip
    first = page.row
    for item in plan.choice.returns if plan.choice else ():
        offer, row = problem.offer[item.offer], page.row + 1
        terms = problem.terms[offer.supplier]
        asked = core_terms(terms)
        page.line([
            problem.family.name_of(item.design), problem.family.position[item.position].name, terms.name,
            Code(str(offer.part.number)), _send_by(plan, item.offer, asked) or ASK, asked.needs or ASK,
            Cents(offer.core_cents), Percent(terms.core_recovery),
            Formula(cent(f"G{row}*H{row}"), Cents(credit(problem, item.offer))), "",
        ], "row", tallest=2)  # fmt: skip
    last = page.row - 1
    if last < first:
        page.line(["none", "", "No old part goes back with this plan."])
    page.labelled(0, 5, "Credit in all",
                  [None, None, Formula(page.sum(8, first, last), Cents(plan.totals.core_credit)), None], "sum")  # fmt: skip
    _sending(page, plan)
    if last >= first:
        page.paragraph(f'"{ASK}": the supplier\'s terms in suppliers.toml do not say it. Ask before the part is sent.')
    print_wide(page, f"Job {problem.job.number}, cores, {stamp}", problem.shop.letter, head)
    page.protect()


def _send_by(plan: Plan, offer: int, asked: CoreTerms) -> date | None:
    """The last day for a core, from the arrival of the piece that it goes against; the earliest, where it comes in two."""
    if asked.days is None or plan.choice is None:
        return None
    came = [p.line.arrives for p in plan.choice.purchases if p.line.offer.id == offer]
    came += [plan.problem.job.in_hand[place].came or plan.problem.job.job.date
             for place, hand in plan.problem.in_hand.items() if hand.offer is not None and hand.offer.id == offer]  # fmt: skip
    return min(came) + timedelta(days=asked.days)


def _sending(page: Page, plan: Plan) -> None:
    problem = plan.problem
    back_to = {problem.offer[item.offer].supplier for item in (plan.choice.returns if plan.choice else ())}
    for supplier in sorted(back_to):
        terms = problem.terms[supplier]
        page.labelled(0, 5, f"Cost of sending them to {terms.name}", [None, None, Cents(terms.core_return_cents), None])
