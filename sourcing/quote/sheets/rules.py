"""The sheet of rules: what the book says, what of it was checked, the cautions, and what was passed over."""

from __future__ import annotations

from collections.abc import Sequence

from sourcing.book.family import NONE, Design, Rule
from sourcing.book.rules import Setting, applies, tables
from sourcing.plan import Choice, Plan
from sourcing.problem import Problem
from sourcing.quote.cautions import Caution, may_hold
from sourcing.quote.sheets.page import Page, print_wide

NAME = "Rules checked"
WIDTHS = (22, 50, 22, 30, 40)
OPEN = "not given, and every value gives the same plan"
MOST = 60  # passed-over parts that are listed one by one; the rest are counted


def draw_rules(page: Page, plan: Plan, cautions: Sequence[Caution]) -> None:
    """Draw the whole sheet."""
    if plan.choice is None:
        return
    problem = plan.problem
    page.heading(f"Rules checked, job {problem.job.number}")
    page.paragraph(_setting(problem))
    _rules(page, problem, plan.choice)
    _designs(page, problem, plan.choice)
    _cautions(page, cautions)
    _notes(page, problem)
    _refusals(page, problem)
    letter = problem.shop.letter
    print_wide(page, f"Job {problem.job.number}, rules checked", letter)


def _setting(problem: Problem) -> str:
    """What the rules were checked for: era, vehicle's era and facts, and whose date the era comes of."""
    setting, family = problem.setting, problem.family
    says = [f"{family.family.name}, unit of {family.era[setting.era].name}"]
    if problem.job.unit_undated:
        says.append("the unit has no date of its own: the vehicle's was taken")
    if setting.vehicle_era is not None:
        says.append(f"vehicle of {family.era[setting.vehicle_era].name}")
    if len(may_hold(problem, "era")) > 1:
        says.append("its era is open, and every era that it can be of gives the same plan")
    says += [f"{code}: {value if code in problem.job.facts else OPEN}" for code, value in setting.facts.items()]
    return "; ".join(says)


def _rules(page: Page, problem: Problem, choice: Choice) -> None:
    page.part("Rules of the book")
    page.headings(["Rule", "What it says", "Source", "Checked", "Caution"])
    broken = _broken(problem, choice)
    asked = [rule for rule in problem.family.rules if _in_force(problem, rule)]
    for rule in (*asked, *(rule for rule in problem.family.rules if rule not in asked)):
        page.line([rule.code, rule.says, rule.source, _checked(problem, choice, rule, broken), rule.caution], "row")


def _broken(problem: Problem, choice: Choice) -> set[str]:
    """Codes of rules that the combination breaks: none in a sound plan."""
    return {t.code for t in tables(problem.family, problem.setting) if not t.admits(choice.combination)}


def _in_force(problem: Problem, rule: Rule) -> bool:
    """Whether a rule's conditions on era and facts hold for the unit."""
    return all(
        _met(problem.setting, key, values) for key, values in rule.when.items() if key not in problem.family.position
    )


def _met(setting: Setting, key: str, values: Sequence[str]) -> bool:
    return setting.value(key) in values


def _checked(problem: Problem, choice: Choice, rule: Rule, broken: set[str]) -> str:
    if rule.code in broken:
        return "BROKEN"
    if applies(rule.when, problem.setting, choice.combination):
        return "holds"
    where = "in force, silent here" if _in_force(problem, rule) else "not in force"
    missed = (_missed(problem, choice, key, values) for key, values in rule.when.items())
    return f"{where}: {'; '.join(miss for miss in missed if miss)}"


def _missed(problem: Problem, choice: Choice, key: str, values: Sequence[str]) -> str:
    """Why a condition does not hold; nothing where it does."""
    held = choice.combination.get(key) or problem.setting.value(key)
    if held in values:
        return ""
    if key not in choice.combination and len(may_hold(problem, key)) > 1:
        return f"{key} is open; every value gives the same plan"
    return f"{key} is {held or 'none of the book'}, not {' or '.join(values)}"


def _designs(page: Page, problem: Problem, choice: Choice) -> None:
    page.part("Designs chosen, and the eras that take them")
    page.headings(["Position", "Design", "Code", "In this era", "The factory's eras; also goes into"])
    for position, code in choice.combination.items():
        name = problem.family.position[position].name
        if code == NONE:
            page.line([name, "left empty", NONE, "may stay empty", ""], "row")
        else:
            design = problem.family.design[code]
            found = "the factory's design" if problem.setting.era in design.fitted else "goes in by retrofit"
            page.line([name, design.name, code, found, _eras(problem, design)], "row")


def _eras(problem: Problem, design: Design) -> str:
    fitted, also = ([problem.family.era[era].name for era in eras] for eras in (design.fitted, design.retrofits))
    return f"{'; '.join(fitted) or 'none'}" + (f". Also: {'; '.join(also)}" if also else "")


def _cautions(page: Page, cautions: Sequence[Caution]) -> None:
    page.part("Cautions")
    page.headings(["Caution", "What it says", "Source"])
    for caution in cautions:
        page.line([caution.code, caution.says, caution.source], "row")


def _notes(page: Page, problem: Problem) -> None:
    if problem.notes:
        page.part("Notes")
        for note in problem.notes[:MOST]:
            page.paragraph(note)
        if len(problem.notes) > MOST:
            page.paragraph(f"... and {len(problem.notes) - MOST} further notes.")


def _refusals(page: Page, problem: Problem) -> None:
    page.part(f"Why not: parts that could not be bought ({len(problem.refusals)})")
    for reason in problem.refusals[:MOST]:
        page.paragraph(reason.says)
    if len(problem.refusals) > MOST:
        page.paragraph(f"... and {len(problem.refusals) - MOST} more.")
