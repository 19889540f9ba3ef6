"""The shop's sheet: parts and their sources, orders, cores, mark-up, what the plan costs, what stays with the shop."""

from __future__ import annotations

from sourcing.plan import Plan, Status
from sourcing.quote.charge import Charge
from sourcing.quote.sheets.costs import draw_costs
from sourcing.quote.sheets.customer import Quoted
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.sources import Sources, draw_sources

NAME = "Parts and sources"
WIDTHS = (5, 20, 10, 15, 30, 10, 10, 11, 11, 11, 11, 12, 24)

KNOWN = {
    Status.PROVEN: "Proven: no valid plan is cheaper by a cent.",
    Status.BEST_FOUND: "Best found, not proven: a cheaper plan may exist.",
}


def draw_buying(page: Page, plan: Plan) -> Sources:
    """Draw what is bought, from where and at what price."""
    job, shop = plan.problem.job.job, plan.problem.shop
    page.heading(f"Parts and sources, job {job.number}")
    page.paragraph(
        "For the shop only: purchase costs and suppliers. Hand the customer the first sheet alone, printed, or the file that"
        " --customer-copy writes.",
        "label",
    )
    bound = "" if plan.proof.bound is None else f" Bound {plan.proof.bound / 100:.2f}."
    page.paragraph(f"{KNOWN.get(plan.status, str(plan.status))}{bound} Prices of {job.date.isoformat()}, amounts in"
                   f" {shop.currency} unless another currency is named.")  # fmt: skip
    return draw_sources(page, plan)


def draw_reckoning(page: Page, plan: Plan, charge: Charge, sources: Sources, quoted: Quoted) -> None:
    """Draw the rest, which refers to the customer's sheet, and set the page up for printing."""
    draw_costs(page, plan, charge, sources, quoted)
    print_wide(page, f"Job {plan.problem.job.number}, for the shop only", plan.problem.shop.letter)
    page.protect()
