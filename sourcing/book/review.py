"""The holes of a book: what its author should look at, each with the smallest example that shows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from sourcing.book.boxes import refused, turned
from sourcing.book.family import NONE, Design, Family, Rule, Task
from sourcing.book.marks import same
from sourcing.book.openera import OpenEra, settled_in_words
from sourcing.book.rules import Table


@dataclass(frozen=True, slots=True)
class Finding:
    """One hole: `code` names its kind, `where` what of the book it stands at."""

    code: str
    says: str
    where: str
    example: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Number:
    """A row of parts.csv, as far as a review of the book asks: whose number it is and what it fills."""

    supplier: str
    canonical: str
    spelt: str
    fills: tuple[str, ...]
    replaced_by: str = ""


def review(family: Family, numbers: Sequence[Number] | None = None) -> tuple[Finding, ...]:
    """Every hole of a book, exactly; `numbers` None: nothing is said of part numbers."""
    eras = [OpenEra(family, era.code) for era in family.eras]
    found = [
        *_gaps(family),
        *_empty_eras(eras),
        *_unused(family, eras),
        *_idle_rules(family, eras),
        *(finding for design in _pairs(family) for finding in _mixed_up(family, eras, *design)),
        *(finding for task in family.tasks for finding in _idle_task(task, eras)),
        *_idle_marks(family),
    ]
    if numbers is not None:
        found += _numbers(family, numbers)
    return tuple(found)


def _gaps(family: Family) -> Iterator[Finding]:
    """Months and model years between the eras that no era has, and model years that more than one has."""
    ordered = sorted(family.eras, key=lambda era: era.from_)
    for earlier, later in pairwise(ordered):
        assert earlier.to is not None  # a book with overlapping eras is not read at all
        if _next_month(earlier.to) != later.from_:
            yield Finding("era-gap", f"no era covers the months between {earlier.code} and {later.code}",
                          f"era {later.code}", f"a unit built in {_next_month(earlier.to)} is of no era",
                          "Correct `to` of the one or `from` of the other.")  # fmt: skip
    for era in ordered:
        if not era.model_years:
            yield Finding("era-without-years", f"{era.code} has no model years", f"era {era.code}",
                          "a unit or a VIN of which only the model year is known is never of this era",
                          "Give its model_years.")  # fmt: skip
    years = sorted({year for era in ordered for year in era.model_years})
    for one, other in pairwise(years):
        if other > one + 1:
            yield Finding("year-gap", f"no era has the model years between {one} and {other}", f"model year {one + 1}",
                          f"a unit of model year {one + 1} is of no era", "Add the year to the era that built it.")  # fmt: skip
    for year in years:
        having = [era.code for era in ordered if year in era.model_years]
        if len(having) > 1:
            yield Finding("year-in-two-eras", f"model year {year} stands in {' and '.join(having)}", f"model year {year}",
                          f"a unit of which only the year {year} is known is open between {' and '.join(having)}",
                          "Right where the factory changed within the year; otherwise take it out of one.")  # fmt: skip


def _next_month(month: str) -> str:
    year, number = int(month[:4]), int(month[5:])
    return f"{year + number // 12:04d}-{number % 12 + 1:02d}"


def _empty_eras(eras: Sequence[OpenEra]) -> Iterator[Finding]:
    for era in eras:
        for position, values in era.fitting.domains.items():
            if not values:
                yield Finding("era-empty", f"no unit of {era.era} is valid: nothing may stand at {position}",
                              f"era {era.era}", f"{position} has no design for {era.era}",
                              f"Give a design of {position} this era, or make the position optional.")  # fmt: skip
        for settled, rules in era.barren:
            if rules:
                yield _contradiction(era, settled_in_words(settled), rules, bool(settled))
        for facts in era.unlooked:
            yield Finding("too-many-facts", f"{', '.join(facts)} hang together in {era.era}: too many values to look at each",
                          f"era {era.era}", "whether each set of their values leaves a valid unit was not looked at",
                          "Nothing is wrong with the book; split rules that ask many facts at once.")  # fmt: skip


def _contradiction(era: OpenEra, condition: str, rules: Sequence[Table], partly: bool) -> Finding:
    named = ", ".join(rule.code for rule in rules)
    verb = "leaves" if len(rules) == 1 else "together leave"
    return Finding(
        "rules-contradict" if partly else "era-empty",
        f"{condition}no unit of {era.era} is valid: {named} {verb} nothing",
        f"era {era.era}",
        "; ".join(f"{rule.code}: {rule.says}" for rule in rules),
        "If such a unit exists, one of these rules, or the eras of their designs, is wrong.",
    )


def _unused(family: Family, eras: Sequence[OpenEra]) -> Iterator[Finding]:
    """Designs that no valid unit holds at all, or not in an era that the book gives them."""
    for design in family.designs:
        key = (design.position, design.code)
        given = [era for era in eras if design.usable_in(era.era)]
        idle = [era for era in given if key not in era.used]
        if not given:
            yield Finding("design-unused", f"{design.code} belongs in no era", f"design {design.code}",
                          "neither `fitted` nor `retrofits` names an era", "Name its eras, or take it out.")  # fmt: skip
        elif len(idle) == len(given):
            yield Finding("design-unused", f"no valid unit holds {design.code}", f"design {design.code}",
                          _why_unused(idle[0], design), "Correct the rules named, or take the design out.")  # fmt: skip
        for era in idle if len(idle) < len(given) and not all(e.empty for e in idle) else ():
            if not era.empty:
                yield Finding("design-without-place", f"the book lets {design.code} into {era.era}, its rules do not",
                              f"design {design.code}", _why_unused(era, design),
                              "Take the era out of the design, or correct the rules named.")  # fmt: skip


def _why_unused(era: OpenEra, design: Design) -> str:
    if era.empty:
        return f"{era.era}: no unit of it is valid"
    around = era.around([design.position])
    rules = around.within({**around.domains, design.position: (design.code,)}).conflict()
    return f"{era.era}: {', '.join(rule.code for rule in rules)} leave{'s' if len(rules) == 1 else ''} it no place"


def _idle_rules(family: Family, eras: Sequence[OpenEra]) -> Iterator[Finding]:
    """Rules that nothing can break, and rules that whatever obeys the others obeys."""
    for rule in family.rules:
        here = [(era, n) for era in eras for n, table in enumerate(era.fitting.tables) if table.code == rule.code]
        biting = [(era, n) for era, n in here if refused(era.fitting.tables[n], era.fitting.domains)]
        if not biting:
            yield Finding("rule-never-bites", f"nothing can break {rule.code}", f"rule {rule.code}", _why_idle(rule, family, eras),
                          "Take it out, or correct its conditions and the eras of its designs.")  # fmt: skip
            continue
        needed, told = False, []
        for era, n in biting:
            table = era.fitting.tables[n]
            around = era.around(table.positions)
            others = around.only(m for m, other in enumerate(around.tables) if other.code != rule.code)
            against = others.plus(turned(table, era.fitting.domains))
            if not era.empty and against.first() is not None:
                needed = True
                break
            told.append((era, against))
        if not needed and all(era.empty for era, _ in told):
            continue
        if not needed:
            era, against = next((era, against) for era, against in told if not era.empty)
            rules = [t.code for t in against.conflict() if t.code != rule.code]
            yield Finding("rule-follows", f"{rule.code} says nothing that {', '.join(rules) or 'the eras'} "
                          f"do{'es' if len(rules) == 1 else ''} not say", f"rule {rule.code}",
                          f"{era.era}: what breaks {rule.code} breaks {' or '.join(rules) or 'the eras of the designs'}",
                          "Keep it as a reason to be told, or take it out (one of two that say the same).")  # fmt: skip


def _why_idle(rule: Rule, family: Family, eras: Sequence[OpenEra]) -> str:
    for key, values in rule.when.items():
        if key in family.position:
            usable = [v for v in values if v == NONE or family.design[v].fitted or family.design[v].retrofits]
            if not usable:
                return f"its condition {key} = {', '.join(values)} is never met: they belong in no era"
    if any(refused(table, {**era.fitting.domains, **family.holds}) for era in eras for table in _named(rule, era)):
        return "the eras of its designs say it already: where it speaks, no unit may hold what would break it"
    return "whatever stands in a unit obeys it"


def _named(rule: Rule, era: OpenEra) -> list[Table]:
    return [table for table in era.fitting.tables if table.code == rule.code]


def _pairs(family: Family) -> Iterator[tuple[Design, Design]]:
    """Designs of one position that no mark tells apart."""
    for position in family.position:
        held = [design for design in family.designs if design.position == position]
        for one, other in combinations(held, 2):
            if all(same(one.marks[mark], other.marks[mark]) for mark in one.marks if mark in other.marks):
                yield one, other


def _mixed_up(family: Family, eras: Sequence[OpenEra], one: Design, other: Design) -> Iterator[Finding]:
    """Two designs that no mark tells apart, where one stands validly and the other in its place would not."""
    for era in eras:
        for right, wrong in ((one, other), (other, one)):
            example = _wrong_in_place(era, right, wrong)
            if example is not None:
                unmarked = [design.code for design in (one, other) if not design.marks]
                yield Finding("marks-do-not-tell", f"no mark tells {one.code} from {other.code}, which must not be mixed up",
                              f"position {one.position}", example,
                              f"Give {' and '.join(unmarked) or 'both'} a mark in which they differ.")  # fmt: skip
                return


def _wrong_in_place(era: OpenEra, right: Design, wrong: Design) -> str | None:
    """A valid unit with one design in which the other would break a rule; None where there is none in this era."""
    position = right.position
    shown = era.used.get((position, right.code))
    if shown is None:
        return None
    if not wrong.usable_in(era.era):
        return f"{era.era}: {right.code} is valid there, {wrong.code} belongs in no unit of it"
    around = era.around([position])
    broken = around.broken_at(position, {**shown, position: wrong.code})
    if broken is not None:
        return _told_mixed(era, shown, broken, right, wrong)
    start = {**around.domains, position: (right.code,)}
    for table in (table for table in around.tables if position in table.positions):
        at = table.positions.index(position)
        rows = refused(table, {**around.domains, position: (wrong.code,)})
        swapped = tuple((*row[:at], frozenset([right.code]), *row[at + 1 :]) for row in rows)
        found = around.within(start).plus(Table(table.code, "", "", table.positions, swapped)).first()
        if found is not None:
            return _told_mixed(era, found, table, right, wrong)
    return None


def _told_mixed(era: OpenEra, shown: dict[str, str], table: Table, right: Design, wrong: Design) -> str:
    valid = era.shown(shown, table.positions)
    return f"{valid} is valid; with {wrong.code} in place of {right.code} it breaks {table.code}"


def _idle_task(task: Task, eras: Sequence[OpenEra]) -> Iterator[Finding]:
    """A task that no valid unit makes due."""
    if any(_due(task, era) for era in eras):
        return
    keys = ", ".join([*task.when, *(task.replacing or ())])
    yield Finding("task-never-applies", f"no valid unit makes {task.code} due", f"task {task.code}",
                  f"no unit of any era meets its {keys}", "Correct its `when` or `replacing`, or take it out.")  # fmt: skip


def _due(task: Task, era: OpenEra) -> bool:
    if era.empty or era.era not in task.when.get("era", [era.era]):
        return False
    family = era.family
    asked = {key: values for key, values in task.when.items() if key != "era"}
    bought = [p for p in task.replacing or () if family.position[p].conditions]
    around = era.around([*asked, *bought])
    here = {}
    for place, values in around.domains.items():
        here[place] = tuple(value for value in values if place not in asked or value in asked[place])
    if task.replacing is None:
        return around.first(here) is not None
    for position in bought:
        filled = tuple(value for value in here[position] if value != NONE)
        if filled and around.first({**here, position: filled}) is not None:
            return True
    return False


def _idle_marks(family: Family) -> Iterator[Finding]:
    carried = {mark for design in family.designs for mark in design.marks}
    for mark in family.marks:
        if mark.code not in carried:
            yield Finding("mark-on-nothing", f"no design carries the mark {mark.code}", f"mark {mark.code}",
                          f"whatever is seen for it leaves every design of {mark.position}",
                          "Give designs their reading of it, or take it out.")  # fmt: skip


def _numbers(family: Family, numbers: Sequence[Number]) -> Iterator[Finding]:
    """Numbers that stand for two designs of a position, and designs that no number fills."""
    filled = {design for number in numbers for design in number.fills}
    for design in family.designs:
        if design.code not in filled:
            yield Finding("design-without-number", f"no part number fills {design.code}", f"design {design.code}",
                          f"{design.code} can only be kept, never bought", "Add its numbers to parts.csv.")  # fmt: skip
    by_number: dict[str, list[Number]] = {}
    for number in numbers:
        by_number.setdefault(number.canonical, []).append(number)
    for rows in by_number.values():
        for one, other in combinations(rows, 2):
            if set(one.fills) != set(other.fills):
                yield Finding("number-on-two-designs", f"the number {one.spelt} stands on two designs",
                              f"parts.csv {one.spelt}",
                              f"{one.supplier}: {' + '.join(one.fills)}; {other.supplier}: {' + '.join(other.fills)}",
                              "Right if the two suppliers number by themselves; otherwise correct one row.")  # fmt: skip
    for number in numbers:
        at = [family.design[design].position for design in dict.fromkeys(number.fills)]
        if len(set(at)) < len(at):
            yield Finding("number-on-two-designs", f"{number.supplier} {number.spelt} holds two designs of one position",
                          f"parts.csv {number.spelt}", " + ".join(number.fills),
                          "Right for a set of two forms; otherwise one row for each design.")  # fmt: skip
    known = {(number.supplier, number.canonical): number for number in numbers}
    for number in numbers:
        later = known.get((number.supplier, number.replaced_by))
        if later is not None and not set(number.fills) <= set(later.fills):
            yield Finding("number-on-two-designs", f"{number.supplier} {number.spelt} is replaced by a number of other designs",
                          f"parts.csv {number.spelt}",
                          f"{number.spelt}: {' + '.join(number.fills)}; {later.spelt}: {' + '.join(later.fills)}",
                          "Correct `fills` or `replaced_by`.")  # fmt: skip
