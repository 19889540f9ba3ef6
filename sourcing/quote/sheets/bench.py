"""The papers at the bench: what to look at when the boxes come, and what to check before the vehicle leaves."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.book.family import Family
from sourcing.decision.receiving import Look, Received
from sourcing.plan import Plan
from sourcing.quote.cautions import Caution, changed
from sourcing.quote.sheets.cells import Code
from sourcing.quote.sheets.page import Page, print_once, print_wide
from sourcing.quote.sheets.texts import sentence

RECEIVING, RELEASE = "Receiving card", "Release checklist"
RECEIVING_WIDTHS = (24, 14, 32, 11, 40, 9)
RELEASE_WIDTHS = (4, 62, 21, 9, 11)
LINE = "________________"


def draw_receiving(page: Page, plan: Plan, received: Sequence[Received], stamp: str) -> None:
    """The card for the person who opens the boxes: right, wrong, and where to stop."""
    problem = plan.problem
    head = _card(page, f"Receiving card, job {problem.job.number}", f"{_about(plan)}. {sentence(stamp)}",
                 [(problem.family, one) for one in received])  # fmt: skip
    print_once(page, f"Job {problem.job.number}, receiving card, {stamp}", problem.shop.letter, head, landscape=True)
    page.protect()


def draw_receiving_together(
    page: Page, title: str, received: Sequence[tuple[Family, Received]], letter: bool, stamp: str
) -> None:
    """The same card for the orders of many jobs, as many pages as it takes; each part with its book."""
    head = _card(page, "Receiving card", f"{title}. {sentence(stamp)}", received)
    print_wide(page, f"{title}, receiving card, {stamp}", letter, head)
    page.protect()


def _card(page: Page, heading: str, about: str, received: Sequence[tuple[Family, Received]]) -> int:
    """The card itself; the row of its headings."""
    page.heading(heading)
    page.paragraph(f"{about}. Look at the part itself before anything is fitted: a right number"
                   " on the box proves nothing. Where a reading is wrong, stop, put the part aside and call the parts"
                   " desk.", "")  # fmt: skip
    head = page.headings(["Part", "Number", "Look at", "Right", "Wrong: stop", "Initial"])
    for family, one in received:
        _part(page, family, one)
    if not received:
        page.paragraph("Nothing is bought with this plan: there is nothing to receive.", "")
    page.row += 1
    page.paragraph("Marks are those of the shop's book, the fewest that tell the part from every look-alike that would break this"
                   " combination. The maker's service information comes first.")  # fmt: skip
    return head


def _part(page: Page, family: Family, one: Received) -> None:
    pieces = f"{one.pieces} x " if one.pieces > 1 else ""
    place = "" if one.fills else " (for the shelf)"
    name = f"{pieces}{family.name_of(one.design)}{place}, from {one.supplier}"
    rows = [(*_told(family, look), "") for look in one.looks]
    if one.untold:
        names = ", ".join(map(family.name_of, one.untold))
        rows.append(("The book has no mark for it: compare the part with the old one and the number on it", "the same",
                     f"not told by any mark: {names}", ""))  # fmt: skip
    if not one.breaking:
        rows.append(("Nothing to tell it by: no other design would break this combination", "", "", ""))
    if one.fitting:
        names = ", ".join(map(family.name_of, one.fitting))
        rows.append(("", "", f"would also fit, so it need not be told apart: {names}", ""))
    for number, (look, right, wrong, initial) in enumerate(rows):
        first = (name, Code(one.number)) if number == 0 else ("", "")
        page.line([*first, look, right, wrong, initial], "row", tallest=2)


def _told(family: Family, look: Look) -> tuple[str, str, str]:
    """What to look at, the right reading, and what each wrong one means."""
    names = family.name_of
    wrong = "; ".join(f"{reading} is {' or '.join(map(names, designs))}" for reading, designs in look.wrong)
    return look.mark.ask, look.right, wrong


def draw_release(page: Page, plan: Plan, cautions: Sequence[Caution], stamp: str, units: str = "") -> None:
    """The list that is initialled, line by line, before the vehicle leaves.

    `units` names the like units that it is for, where there are several: a copy for each, with its number written in.
    """
    problem = plan.problem
    whose = units or f"job {problem.job.number}"
    page.heading(f"Release checklist, {whose}")
    if units:
        page.paragraph(f"A copy for each unit. Job number: {LINE}", "big")
    page.paragraph(f"{_about(plan, tagged=not units)}. {sentence(stamp)}. Initial each line when it was done, not before. The"
                   " vehicle stays until every line is initialled. It reminds only: the maker's service information, local codes"
                   " and licensed practice decide.", "")  # fmt: skip
    touched = (
        ", ".join(problem.family.position[code].name for code in changed(problem, plan.choice)) if plan.choice else ""
    )
    page.paragraph(f"Changed: {touched or 'nothing'}.", "label")
    head = page.headings(["", "To be checked", "Says who", "Initial", "Date"])
    number = 0
    for number, caution in enumerate(cautions, 1):
        page.line([str(number), caution.says, caution.source, "", ""], "row", tallest=2)
    for work in plan.works:
        number += 1
        page.line([str(number), f"Done: {work.name}", "the book's task", "", ""], "row", tallest=2)
    page.skip(1)
    for label in ("Released by (name)", "Signature", "Date"):
        page.wide(0, 1, f"{label}  {LINE}{LINE}", "big")
        page.line([], "big", len(page.widths), tallest=2)
    print_once(page, f"{sentence(whose)}, release checklist, {stamp}", problem.shop.letter, head)
    page.protect()


def _about(plan: Plan, tagged: bool = True) -> str:
    job, family = plan.problem.job, plan.problem.family
    tag = f" ({job.unit.tag})" if job.unit.tag and tagged else ""
    return f"{family.family.name}, unit of {family.era[plan.problem.setting.era].name}{tag}"
