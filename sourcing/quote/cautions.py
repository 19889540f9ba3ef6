"""What must be watched when a plan is carried out, tied to what it changes in the unit.

None of it is a procedure: every caution defers to the maker's service information, to local codes and to licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sourcing.book.family import Family, Rule
from sourcing.labels import Labels, labels_of
from sourcing.plan import Choice, Plan
from sourcing.problem import Problem

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution: `code` to find it again, what it says, and who says so."""

    code: str
    says: str
    source: str


ALWAYS = ("supported-loads", "hot-fluid", "battery", "fluid-disposal", "who-decides")


def cautions(plan: Plan, labels: Labels | None = None) -> tuple[Caution, ...]:
    """The cautions of a plan, the gravest first, none said twice; none where there is no plan.

    First the start-in-gear caution where the plan touches what may govern it (`tied_to_lead`), then what the customer
    supplied without warranty, then those of the book's rules whose `when` holds (or may hold, where the job leaves it
    open), then those of the works due, then what holds for all work on a unit. The tool's own are told in the language
    of `labels` (English), the book's as they stand in the book.
    """
    if plan.choice is None:
        return ()
    words = labels or labels_of("en")
    listed = [*_start_in_gear(plan.problem, plan.choice, words), *_of_customers_parts(plan.problem, plan.choice, words)]
    listed += [*_of_rules(plan.problem, plan.choice), *_of_works(plan)]
    said: dict[str, Caution] = {}
    for caution in (*listed, *for_all_work(words)):
        said.setdefault(caution.says, caution)
    return tuple(said.values())


def for_all_work(words: Labels) -> tuple[Caution, ...]:
    """What holds for all work on a unit; last, who decides."""
    return tuple(Caution(code, words.cautions[code], PRACTICE) for code in ALWAYS)


def changed(problem: Problem, choice: Choice) -> tuple[str, ...]:
    """Positions that a plan touches: filled by a part bought or in hand, or by another design than was found."""
    return tuple(
        position
        for position in problem.positions
        if position in choice.replaced or _swapped(problem.found[position], choice.combination[position])
    )


def _swapped(found: tuple[str, ...], held: str) -> bool:
    """Whether another design than the found part can be, or none, stands where something was found."""
    return bool(found) and held not in found


def tied_to_lead(family: Family) -> frozenset[str]:
    """The lead position and every position that some rule of the book names together with it.

    A book does not say which part tells the vehicle its range. It is the lead or something that must match the lead, so
    all of these count: a caution too many is harmless, one too few is not.
    """
    lead = next(position.code for position in family.positions if position.lead)
    tied = {lead}
    for rule in family.rules:
        named = _positions_of(family, rule)
        if lead in named:
            tied |= named
    return frozenset(tied)


def _positions_of(family: Family, rule: Rule) -> set[str]:
    named = (
        set(rule.when) | set(rule.need or ()) | set(rule.never or ()) | set(rule.allow.positions if rule.allow else ())
    )
    return {key for key in named if key in family.position}


def _start_in_gear(problem: Problem, choice: Choice, words: Labels) -> Iterator[Caution]:
    tied = tied_to_lead(problem.family)
    touched = [position for position in changed(problem, choice) if position in tied]
    if touched:
        names = words.listed(problem.family.position[position].name for position in touched)
        told = words("changed_one" if len(touched) == 1 else "changed_many", names=names)
        yield Caution("start-in-gear", words.cautions["start-in-gear"].format(changed=told), PRACTICE)


def _of_customers_parts(problem: Problem, choice: Choice, words: Labels) -> Iterator[Caution]:
    """Parts that the customer brought: the shop gives no warranty on them."""
    mine = [position for position in choice.in_hand if problem.in_hand[position].source == "customer"]
    if mine:
        named = ", ".join(
            f"{problem.family.position[position].name} ({problem.family.name_of(problem.in_hand[position].design)})"
            for position in mine
        )
        yield Caution("customers-part", words.cautions["customers-part"].format(named=named), PRACTICE)


def may_hold(problem: Problem, key: str) -> frozenset[str | None]:
    """What the unit can be by a key of era or fact: more than one value where the job leaves it open."""
    job, family = problem.job, problem.family
    held: set[str | None] = {problem.setting.value(key)}
    if key == "era" or (key == "vehicle_era" and job.unit_undated):
        held |= set(job.unit_eras(family))
    elif key == "vehicle_era":
        held |= set(job.vehicle_eras(family) or job.unit_eras(family))
    elif key not in job.facts:
        held |= set(family.fact[key].values)
    return frozenset(held)


def _of_rules(problem: Problem, choice: Choice) -> Iterator[Caution]:
    """Cautions of rules whose `when` holds, or can hold where the job leaves a fact or an era open."""
    held = choice.combination
    for rule in problem.family.rules:
        if rule.caution and all(
            held[key] in values if key in held else bool(may_hold(problem, key) & set(values))
            for key, values in rule.when.items()
        ):
            yield Caution(rule.code, rule.caution, rule.source)


def _of_works(plan: Plan) -> Iterator[Caution]:
    for work in plan.works:
        if work.caution:
            yield Caution(work.code, work.caution, f"the book's task: {work.name}")
