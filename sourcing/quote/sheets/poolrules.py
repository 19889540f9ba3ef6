"""The sheet of a pool's rules: the cautions with the jobs that they are for, and where each rule of the books holds."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.book.family import Family, Rule
from sourcing.book.rules import applies
from sourcing.pool.plan import PoolPlan
from sourcing.quote.pooled import Alike, alike, families_of, header_of, jobs_named, pool_cautions
from sourcing.quote.sheets.page import Page, print_wide
from sourcing.quote.sheets.texts import sentence

NAME = "Rules and cautions"
WIDTHS = (22, 60, 26, 34, 44)
MOST = 60  # notes that are listed one by one


def draw_rules(page: Page, plan: PoolPlan, notes: Sequence[str], stamp: str) -> None:
    """Draw the whole sheet."""
    kinds = alike(plan)
    title, _ = header_of(plan)
    page.heading(f"{title}: rules and cautions")
    page.paragraph(f"{sentence(stamp)}. The maker's service information, local codes and licensed practice come first.")
    page.part("Check before the vehicle moves")
    page.headings(["Caution", "What it says", "Source", "For"])
    for caution, numbers in pool_cautions(kinds):
        whom = "every unit" if len(numbers) == len(plan.gets) else jobs_named(numbers)
        page.line([caution.code, caution.says, caution.source, whom], "row")
    for _, family in sorted(families_of(plan).items()):
        _rules(page, family, [kind for kind in kinds if kind.family.code == family.code])
    if notes:
        page.part("Notes")
        for note in notes[:MOST]:
            page.paragraph(note)
        if len(notes) > MOST:
            page.paragraph(f"... and {len(notes) - MOST} further notes (--json lists all).")
    print_wide(page, f"{title}, rules and cautions, {stamp}", plan.pool.shop.letter)
    page.protect()


def _rules(page: Page, family: Family, kinds: Sequence[Alike]) -> None:
    units = sum(len(kind.gets) for kind in kinds)
    page.part(f"Rules of the book: {family.family.name}")
    page.headings(["Rule", "What it says", "Source", f"Holds in, of {units} units", "Caution"])
    for rule in family.rules:
        numbers = sorted(number for kind in kinds if _holds(rule, kind) for number in kind.numbers)
        where = f"{len(numbers)}: {jobs_named(numbers)}" if numbers else "none: its conditions are not met"
        page.line([rule.code, rule.says, rule.source, where, rule.caution], "row")


def _holds(rule: Rule, kind: Alike) -> bool:
    return applies(rule.when, kind.one.problem.setting, kind.one.choice.combination)
