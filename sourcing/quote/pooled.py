"""What a pool's plan says, in words: who gets the same, where each part comes from, how sure it is."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import PurePath

from sourcing.book.family import NONE, Family
from sourcing.money import text
from sourcing.plan import FILLS, Plan, Purchase, Status, becomes
from sourcing.pool.buying import Bought
from sourcing.pool.plan import Got, PoolPlan, line_key
from sourcing.prices.offers import Source
from sourcing.quote.cautions import ALWAYS, Caution, cautions
from sourcing.quote.words import HERE, WORDS

_RANK = {"start-in-gear": 0, **dict.fromkeys(ALWAYS, 2)}  # the gravest first, last what holds for all work
# Jobs that a line of words names one by one.
MOST_NAMED = 8


@dataclass(frozen=True)
class Alike:
    """Jobs whose units are alike and get the same, from the same parts, in the order of their numbers."""

    gets: tuple[Got, ...]

    @property
    def one(self) -> Got:
        return self.gets[0]

    @property
    def family(self) -> Family:
        return self.one.problem.family

    @property
    def numbers(self) -> tuple[str, ...]:
        return tuple(one.number for one in self.gets)


def alike(plan: PoolPlan) -> tuple[Alike, ...]:
    """The jobs of a plan, those that get the same joined; by the first number of each."""
    found: dict[Hashable, list[Got]] = {}
    for one in plan.gets:
        found.setdefault(_what(one), []).append(one)
    return tuple(Alike(tuple(gets)) for gets in found.values())


def _what(one: Got) -> Hashable:
    setting, choice = one.problem.setting, one.choice
    return (
        one.problem.family.code,
        (setting.era, setting.vehicle_era, tuple(sorted(setting.facts.items()))),
        tuple(one.problem.found.items()),
        tuple(choice.combination.items()),
        choice.kept,
        tuple(one.draws.items()),
        tuple((position, hand.source, hand.design, becomes(plan_of(one), position))
              for position, hand in one.problem.in_hand.items()),
    )  # fmt: skip


def plan_of(one: Got, status: Status = Status.PROVEN) -> Plan:
    """What a job of a pool gets as a plan of its own, unpriced: for what asks only what is in the unit."""
    return Plan(one.problem, status, one.choice, works=one.works)


def jobs_named(numbers: Sequence[str], most: int = MOST_NAMED) -> str:
    """Jobs by their numbers, as many as a line holds.

    >>> jobs_named(["7"]), jobs_named(["7", "8", "9"]), jobs_named(["7", "8", "9"], 2)
    ('job 7', 'jobs 7, 8 and 9', '3 jobs (first 7, last 9)')
    """
    if len(numbers) == 1:
        return f"job {numbers[0]}"
    if len(numbers) > most:
        return f"{len(numbers)} jobs (first {numbers[0]}, last {numbers[-1]})"
    return f"jobs {', '.join(numbers[:-1])} and {numbers[-1]}"


def pieces_named(pieces: Mapping[str, int], quantity: int) -> str:
    """Which jobs get how many pieces of a line, and how many nobody gets."""
    got = {number: count for number, count in pieces.items() if count}
    spare = max(0, quantity - sum(got.values()))
    if len(got) > MOST_NAMED:
        told = [jobs_named(list(got))]
    else:
        told = [number if count == 1 else f"{number} ({count} pieces)" for number, count in got.items()]
    return "; ".join([", ".join(told), *([f"{spare} left over"] if spare else [])]).removeprefix("; ")


def how_filled(one: Got, position: str) -> str:
    """Where what stands at a position comes from."""
    choice = one.choice
    if choice.combination[position] == NONE:
        return "left out"
    if position in choice.kept:
        return "the found one goes back in"
    if position in choice.in_hand:
        return HERE[one.problem.in_hand[position].source]
    part = one.problem.offer[choice.fills[position]].part
    return f"{part.condition}, {one.problem.terms[part.supplier].name} {part.number}"


def in_hand_told(one: Got) -> list[str]:
    """What becomes of the parts in hand that fill nothing."""
    plan = plan_of(one)
    return [
        f"{one.problem.family.name_of(hand.design)}: {becomes(plan, position)}"
        for position, hand in one.problem.in_hand.items()
        if becomes(plan, position) != FILLS
    ]


def proof_told(plan: PoolPlan) -> str:
    """How sure the plan is: what is not proven says so, with the most that a better plan could save."""
    if plan.status == Status.PROVEN:
        return "proven: no plan for these jobs together is cheaper by a cent"
    if plan.status == Status.IMPOSSIBLE:
        return "IMPOSSIBLE: no plan meets all these jobs together"
    if plan.status != Status.BEST_FOUND:
        return WORDS[plan.status]
    return f"NOT PROVEN: the best plan found, {above_told(plan)}"


def above_told(plan: PoolPlan) -> str:
    """How far an unproven plan can be above the best possible."""
    bound = plan.proof.bound
    if bound is None:
        return "nobody knows how far above the best possible"
    more = max(0, plan.cost - bound)
    share = f", {percent(Fraction(more, bound))}" if bound > 0 else ""
    return f"at most {text(more)} {plan.pool.shop.currency}{share} above the best possible"


def percent(share: Fraction) -> str:
    """A share in hundredths, rounded up: a gap is never told smaller than it is."""
    return f"{ceil(share * 10000) / 100:.2f} %"


def stamp_of(plan: PoolPlan, revision: int) -> str:
    """What stands on each paper: its revision, and that it is not proven where it is not."""
    return f"revision {revision}" + ("" if plan.status == Status.PROVEN else f", not proven ({above_told(plan)})")


def saving_told(bought: Bought) -> str:
    """What buying together saves against buying one after another."""
    alone, saved = bought.alone_total, bought.saved
    if alone is None or saved is None:
        without = [number for number, cents in bought.alone.items() if cents is None]
        return f"bought one after another there would be nothing left for {jobs_named(without)}" if without else ""
    share = f", {saved * 100 / alone:.1f} % of it" if alone > 0 else ""
    return f"{text(saved)} less than one after another ({text(alone)}){share}"


def numbers_of(purchase: Purchase, plan: PoolPlan) -> Mapping[str, int]:
    """Which jobs get how many pieces of a purchase."""
    return plan.pieces.get(line_key(purchase), {})


def families_of(plan: PoolPlan) -> dict[str, Family]:
    """The books of a pool, by code."""
    return {lot.family: lot.problem.family for lot in plan.pool.lots}


def designs_named(plan: PoolPlan, purchase: Purchase) -> str:
    """The designs of a purchase's part by their names, in each family that gets of it; the first by code where none does."""
    known = plan.pool.as_known_to[purchase.line.offer.id]
    books, numbers = families_of(plan), numbers_of(purchase, plan)
    drawn = {one.problem.family.code for one in plan.gets if numbers.get(one.number)} if len(known) > 1 else set(known)
    named = (" + ".join(map(books[code].name_of, known[code].part.fills)) for code in sorted(drawn or {min(known)}))
    return " / ".join(dict.fromkeys(named))


def header_of(plan: PoolPlan) -> tuple[str, str]:
    """How many jobs a pool holds, and the families of their units."""
    names = [family.family.name for _, family in sorted(families_of(plan).items())]
    count = plan.pool.jobs
    return f"{count} job{'s' * (count != 1)} bought together", ", ".join(names)


def pool_cautions(kinds: Sequence[Alike]) -> list[tuple[Caution, list[str]]]:
    """The cautions of all units, none said twice, each with the numbers of its jobs; in the order of a single job's."""
    said: dict[str, tuple[Caution, list[str]]] = {}
    for kind in kinds:
        for caution in cautions(plan_of(kind.one)):
            said.setdefault(caution.says, (caution, []))[1].extend(kind.numbers)
    for _, numbers in said.values():
        numbers.sort()
    return sorted(said.values(), key=lambda told: _RANK.get(told[0].code, 1))


def stands_in(source: Source) -> str:
    """The sheet and row in which a price stands."""
    sheet = f", {source.sheet}" if source.sheet else ""
    return f"{PurePath(source.file.replace(chr(92), '/')).name}{sheet}, row {source.row}"
