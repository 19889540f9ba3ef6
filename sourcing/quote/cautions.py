"""What must be watched when a plan is carried out, tied to what it changes in the unit.

None of it is a procedure: every caution defers to the maker's service information, to local codes and to licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sourcing.book.family import Family, Rule
from sourcing.plan import Choice, Plan
from sourcing.problem import Problem

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution: `code` to find it again, what it says, and who says so."""

    code: str
    says: str
    source: str


START = (
    "{changed}. Before the vehicle moves, with its wheels blocked and its brake held: the engine starts in park and neutral"
    " only, the range display shows every position of the lever rightly, and programming is done by the maker's procedure."
)

CUSTOMERS = (
    "Supplied by the customer, so without any warranty from us on the part itself: {named}. That it is what it"
    " should be must be checked before it goes in."
)

ALWAYS = (
    Caution("supported-loads", "The unit is heavy: carry it on a transmission jack and the vehicle on rated stands; never"
            " work under a load that is not supported.", PRACTICE),
    Caution("hot-fluid", "Fluid and pan burn long after the engine stops: let them cool, and protect hands and eyes.",
            PRACTICE),
    Caution("battery", "Disconnect the battery before any plug of the unit or its module is parted, and follow the maker's"
            " order when it is connected again.", PRACTICE),
    Caution("fluid-disposal", "Catch old fluid and filters, and hand them over as local rules ask; none of it goes into a"
            " drain or on the ground.", PRACTICE),
    Caution("who-decides", "The maker's service information, local codes and licensed practice come before anything said"
            " here. This quote is no repair instruction.", PRACTICE),
)  # fmt: skip


def cautions(plan: Plan) -> tuple[Caution, ...]:
    """The cautions of a plan, the gravest first, none said twice; none where there is no plan.

    First the start-in-gear caution where the plan touches what may govern it (`tied_to_lead`), then what the customer
    supplied without warranty, then those of the book's rules whose `when` holds (or may hold, where the job leaves it
    open), then those of the works due, then what holds for all work on a unit.
    """
    if plan.choice is None:
        return ()
    listed = [*_start_in_gear(plan.problem, plan.choice), *_of_customers_parts(plan.problem, plan.choice)]
    listed += [*_of_rules(plan.problem, plan.choice), *_of_works(plan)]
    said: dict[str, Caution] = {}
    for caution in (*listed, *ALWAYS):
        said.setdefault(caution.says, caution)
    return tuple(said.values())


def changed(problem: Problem, choice: Choice) -> tuple[str, ...]:
    """Positions that a plan touches: filled by a bought part or one in hand, or by another design than was found."""
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
    return named & set(family.position)


def _start_in_gear(problem: Problem, choice: Choice) -> Iterator[Caution]:
    touched = [position for position in changed(problem, choice) if position in tied_to_lead(problem.family)]
    if touched:
        names = [problem.family.position[position].name for position in touched]
        verb = "is changed" if len(names) == 1 else "are changed"
        listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        yield Caution("start-in-gear", START.format(changed=f"{listed} {verb}"), PRACTICE)


def _of_customers_parts(problem: Problem, choice: Choice) -> Iterator[Caution]:
    """Parts that the customer brought: the shop gives no warranty on them."""
    mine = [position for position in choice.in_hand if problem.in_hand[position].source == "customer"]
    if mine:
        named = ", ".join(
            f"{problem.family.position[position].name} ({problem.family.name_of(problem.in_hand[position].design)})"
            for position in mine
        )
        yield Caution("customers-part", CUSTOMERS.format(named=named), PRACTICE)


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
