"""Jobs bought together: like ones as lots with a count, what can be bought for any of them, one shelf.

A lot holds jobs that no plan can tell apart: the same book under the same setting, the same designs left, the same found
parts, lines, parts in hand and limits. What one of them gets any other may get instead, so a plan needs only to say how many
of a lot get what; it is dealt out to the jobs afterwards.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from sourcing.faults import BadInput, Fault, NotTogether
from sourcing.job import Job
from sourcing.prices.offers import Offer
from sourcing.problem import Line, Problem, Wish
from sourcing.shop import Shop
from sourcing.terms import Terms

Wanted = tuple[str, str]  # a family and a design of it


@dataclass(frozen=True)
class Lot:
    """Jobs that are alike, sorted by number, and the sealed problem of any of them."""

    problem: Problem
    jobs: tuple[Job, ...]

    @property
    def count(self) -> int:
        return len(self.jobs)

    @property
    def family(self) -> str:
        return self.problem.family.code


@dataclass(frozen=True)
class Pool:
    """Jobs to be bought for together. Offers of all lots carry the pool's numbers: the same part has the same one.

    `lines` are all that can be bought for some job, each once; `wishes` what the shop wants on its shelf, once for the pool.
    """

    lots: tuple[Lot, ...]
    lines: tuple[Line, ...]
    wishes: Mapping[Wanted, Wish]

    @property
    def first(self) -> Problem:
        return self.lots[0].problem

    @property
    def minimise(self) -> str:
        return self.first.minimise

    @property
    def shop(self) -> Shop:
        return self.first.shop

    @cached_property
    def terms(self) -> Mapping[str, Terms]:
        return {supplier: terms for lot in self.lots for supplier, terms in lot.problem.terms.items()}

    @property
    def alone(self) -> bool:
        """Whether it is one job by itself."""
        return len(self.lots) == 1 and self.lots[0].count == 1

    @property
    def jobs(self) -> int:
        return sum(lot.count for lot in self.lots)

    @cached_property
    def offers(self) -> tuple[Offer, ...]:
        """What can be bought, each part once."""
        return tuple({line.offer.id: line.offer for line in self.lines}.values())

    @cached_property
    def offer(self) -> dict[int, Offer]:
        """Every part that a plan can speak of: what can be bought, and what is in hand."""
        found: dict[int, Offer] = {}
        for lot in self.lots:
            found = {**lot.problem.offer, **found}
        return found

    @cached_property
    def as_known_to(self) -> Mapping[int, Mapping[str, Offer]]:
        """What a part is in each family that knows its number: there it may have a name of its own."""
        known: dict[int, dict[str, Offer]] = {}
        for lot in self.lots:
            for number, offer in lot.problem.offer.items():
                known.setdefault(number, {}).setdefault(lot.family, offer)
        return known

    def shelved_as(self, number: int) -> str | None:
        """The family in which every design of a part is wanted on the shelf, the first by code; None where in none."""
        for family, offer in sorted(self.as_known_to[number].items()):
            if all((family, design) in self.wishes for design in offer.part.fills):
                return family
        return None

    def left_as(self, number: int) -> str | None:
        """The family for whose shelf a piece counts that is left over; None where nobody wants anything of it."""
        wanted = (
            family
            for family, offer in sorted(self.as_known_to[number].items())
            if any((family, design) in self.wishes for design in offer.part.fills)
        )
        return self.shelved_as(number) or next(wanted, None)

    def shelf_room(self, number: int) -> int:
        """Pieces of a part that may be bought for the shelf: 0 unless every design of it is wanted."""
        family = self.shelved_as(number)
        if family is None:
            return 0
        fills = self.as_known_to[number][family].part.fills
        return min(self.wishes[family, design].pieces // fills.count(design) for design in fills)


def alone(problem: Problem) -> Pool:
    """One job as a pool of one: the same problem."""
    wishes = {(problem.family.code, design): wish for design, wish in problem.wishes.items()}
    return Pool((Lot(problem, (problem.job,)),), problem.lines, wishes)


def pool_of(problems: Sequence[Problem]) -> Pool:
    """Jobs joined to be bought for together, in the order of their numbers.

    Raises
    ------
    BadInput
        where jobs do not share a date, what is minimised or what the shop's shelf wants; where a number stands twice; or where
        a part number weighs differently in two families
    """
    ordered = sorted(problems, key=lambda problem: problem.job.job.number)
    faults = list(_not_together(ordered))
    if faults:
        raise BadInput(faults)
    numbers: dict[tuple[str, str], int] = {}
    like: dict[Hashable, list[Problem]] = {}
    seen: dict[tuple[int | None, ...], tuple[Problem, Hashable]] = {}
    for problem in ordered:
        # Like jobs mostly share everything but the job: that is looked at once.
        shared = (problem.job.limits.max_suppliers, *(id(getattr(problem, name)) for name in TOLD_APART))
        if shared not in seen:
            renumbered = _renumbered(problem, numbers)
            seen[shared] = (renumbered, _alike(renumbered))
        of_pool, key = seen[shared]
        like.setdefault(key, []).append(replace(of_pool, job=problem.job))
    lots = tuple(Lot(group[0], tuple(problem.job for problem in group)) for group in like.values())
    return Pool(lots, tuple(_lines(lots)), _wishes(lots))


def _renumbered(problem: Problem, numbers: dict[tuple[str, str], int]) -> Problem:
    """The same problem with the pool's numbers for its offers: one for each supplier's part number."""
    made: dict[int, Offer] = {}

    def as_pooled(offer: Offer) -> Offer:
        if offer.id not in made:
            key = (offer.supplier, offer.part.number.canonical)
            made[offer.id] = replace(offer, id=numbers.setdefault(key, len(numbers)))
        return made[offer.id]

    lines = tuple(replace(line, offer=as_pooled(line.offer)) for line in problem.lines)
    hands = {
        position: hand if hand.offer is None else replace(hand, offer=as_pooled(hand.offer))
        for position, hand in problem.in_hand.items()
    }
    return replace(problem, lines=lines, in_hand=hands)


# What a plan can tell of a job, beside the limit on its suppliers.
TOLD_APART = ("family", "setting", "fitting", "keepable", "cores", "found", "lines", "in_hand", "works")


def _alike(problem: Problem) -> Hashable:
    """What a plan can tell of a job; the tables follow from the book, the setting and the designs left."""
    setting = problem.setting
    return (
        problem.family.code,
        (setting.era, setting.vehicle_era, tuple(sorted(setting.facts.items()))),
        None if problem.fitting is None else tuple(problem.fitting.domains.items()),
        tuple(problem.keepable.items()),
        tuple(problem.cores.items()),
        tuple(problem.found.items()),
        tuple((line.offer.id, line.mode.mode) for line in problem.lines),
        tuple(problem.in_hand.items()),
        problem.job.limits.max_suppliers,
    )


def _lines(lots: Iterable[Lot]) -> list[Line]:
    found: dict[tuple[int, str], Line] = {}
    for lot in lots:
        for line in lot.problem.lines:
            found.setdefault((line.offer.id, line.mode.mode), line)
    return sorted(found.values(), key=lambda line: line.key)


def _wishes(lots: Iterable[Lot]) -> dict[Wanted, Wish]:
    return {(lot.family, design): wish for lot in lots for design, wish in lot.problem.wishes.items()}


def _not_together(problems: Sequence[Problem]) -> Iterable[Fault]:
    """Why jobs cannot be bought for together, whatever is in stock."""
    first, seen = problems[0], set()
    weights: dict[tuple[str, str, str], tuple[int, str]] = {}
    shelves: dict[str, Problem] = {}
    looked: set[int] = set()
    for problem in problems:
        number, head = problem.job.job.number, problem.job.job
        if number in seen:
            expected = "a number of its own for each job"
            yield NotTogether(place=f"job {number}", found="this number twice", expected=expected)
        seen.add(number)
        if head.date != first.job.job.date:
            expected = f"{first.job.job.date}, the day of job {first.job.job.number}"
            yield NotTogether(place=f"job {number} date", found=str(head.date), expected=expected)
        if head.minimise != first.minimise:
            expected = f"{first.minimise}, as job {first.job.job.number} says"
            yield NotTogether(place=f"job {number} minimise", found=head.minimise, expected=expected)
        shelf = shelves.setdefault(problem.family.code, problem)
        if problem.wishes != shelf.wishes:
            expected = f"the list of job {shelf.job.job.number}: one order fills one shelf"
            yield NotTogether(place=f"job {number} wanted", found="another list for the shelf", expected=expected)
        if id(problem.lines) in looked:
            continue
        looked.add(id(problem.lines))
        for line in problem.lines:
            key = (line.offer.supplier, line.offer.part.number.canonical, line.mode.mode)
            cents, family = weights.setdefault(key, (line.piece_freight_cents, problem.family.code))
            if cents != line.piece_freight_cents:
                found = f"another weight in {family} than in {problem.family.code}"
                place = f"{key[0]} {line.offer.part.number}"
                yield NotTogether(place=place, found=found, expected="one weight for one part number")
