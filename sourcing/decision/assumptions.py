"""Which assumptions carry the decision: one number at a time, and the value at which the choice turns.

With everything else fixed a plan's cost is a straight line in any one of these numbers (to within a cent, where amounts
are rounded one by one), so the cheapest cost is the lower envelope of the plans' lines. The value at which the choice turns is
found by meeting lines: from the plan of now to the plan at the end of the range, then to the best plan where these two
meet, until none is better there (Eisner and Severance, Journal of the ACM 23(4), 1976).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Literal

from sourcing.decision import Answer
from sourcing.plan import Choice, Plan, price
from sourcing.problem import KEPT, Problem
from sourcing.supposed import (
    at_comeback_rate,
    at_core_recovery,
    at_day_cost,
    at_exchange_rate,
    at_labour_cost,
)

Kind = Literal["core_recovery", "comeback_rate", "labour_cost", "day_cost", "exchange_rate"]


@dataclass(frozen=True)
class Assumption:
    """One number that a plan's cost hangs on: what it is of, its value now, and the range that is looked at.

    `of` is a supplier's code, a condition and a design, or a currency; values move by `step`; `at` is the problem at one.
    """

    kind: Kind
    of: tuple[str, ...]
    now: Decimal
    low: Decimal
    high: Decimal
    step: Decimal
    at: Callable[[Decimal], Problem]


@dataclass(frozen=True)
class Turning:
    """The value nearest to now, on one side, from which another combination is cheapest, and the plan that has it."""

    value: Decimal
    plan: Plan


@dataclass(frozen=True)
class Carried:
    """An assumption with the values below and above at which the choice would turn; None where it never does."""

    assumption: Assumption
    below: Turning | None
    above: Turning | None


def assumptions(problem: Problem, plans: tuple[Plan, ...]) -> Iterator[Assumption]:
    """The numbers that what is minimised hangs on, as far as they enter one of the plans that are weighed."""
    share, whole = Decimal("0.001"), problem.minimise == "whole"
    choices = [plan.choice for plan in plans if plan.choice]
    offers = {purchase.line.offer.id: purchase.line.offer for choice in choices for purchase in choice.purchases}
    if problem.minimise != "cash" and problem.cores:
        for code in sorted({offer.supplier for offer in offers.values() if offer.core_cents}):
            now = problem.terms[code].core_recovery
            yield Assumption("core_recovery", (code,), now, Decimal(0), Decimal(1), share,
                             partial(at_core_recovery, problem, code))  # fmt: skip
    if whole:
        lead = problem.family.lead.code
        weighed = [(problem.offer[c.fills[lead]] if lead in c.fills else None, c.combination[lead])
                   for c in choices if lead not in c.in_hand]  # fmt: skip
        for offer, design in dict.fromkeys(weighed):
            if design in problem.family.design:
                condition = KEPT if offer is None else offer.part.condition
                rate = problem.comeback_rate(offer, design)
                now = round(Decimal(rate.numerator) / rate.denominator, 3)
                yield Assumption("comeback_rate", (condition, design), now, Decimal(0), Decimal(1), share,
                                 partial(at_comeback_rate, problem, condition, design))  # fmt: skip
        cent, most = Decimal("0.01"), Decimal(max(0, *(plan.cost for plan in plans))) / 100
        if any(work.hours for work in problem.works):
            now = problem.shop.hour_costs
            yield Assumption(
                "labour_cost", (), now, Decimal(0), max(4 * now, most), cent, partial(at_labour_cost, problem)
            )
        if problem.lines:
            now = problem.shop.day_cost
            yield Assumption("day_cost", (), now, Decimal(0), max(4 * now, most), cent, partial(at_day_cost, problem))
    for currency in sorted(
        {problem.terms[offer.supplier].currency for offer in problem.offers} - {problem.shop.currency}
    ):
        now = problem.shop.fx[currency]
        step = Decimal(1).scaleb(now.adjusted() - 3)
        yield Assumption("exchange_rate", (currency,), now, max(step, now / 2), now * 2, step,
                         partial(at_exchange_rate, problem, currency))  # fmt: skip


def carried_by(assumption: Assumption, plan: Plan, answer: Answer) -> Carried:
    """Where the choice of a plan turns as one assumption moves to either end of its range."""
    lines = _Lines(assumption, answer)
    down, up = (
        int((assumption.now - assumption.low) / assumption.step),
        int((assumption.high - assumption.now) / assumption.step),
    )
    return Carried(assumption, _turning(lines, plan, -1, down), _turning(lines, plan, 1, up))


class _Lines:
    """Plans as lines over an assumption; a value is counted in steps from now, and solved once."""

    def __init__(self, assumption: Assumption, answer: Answer) -> None:
        self._assumption, self._answer = assumption, answer
        self._problems: dict[int, Problem] = {}
        self._best: dict[int, Plan] = {}

    def value(self, steps: int) -> Decimal:
        return self._assumption.now + steps * self._assumption.step

    def best(self, steps: int) -> Plan:
        if steps not in self._best:
            self._best[steps] = self._answer(self._problem(steps))
        return self._best[steps]

    def best_with(self, combination: Mapping[str, str], steps: int) -> Plan:
        """The best plan at a value that holds a combination."""
        problem = self._problem(steps)
        for position, design in combination.items():
            problem = problem.holding(position, design)
        return self._answer(problem)

    def cost(self, plan: Plan, steps: int) -> int:
        """What a plan costs at a value, with what it buys and sends back as it is."""
        assert plan.choice is not None
        problem = self._problem(steps)
        return price(problem, _bought_there(plan.choice, problem))[0].of(problem.minimise)

    def meeting(self, here: Plan, other: Plan, side: int, first: int, last: int) -> int:
        """The first step of `first`..`last` on one side at which `other` is cheaper than `here`; it is at `last`."""
        while first < last:
            middle = (first + last) // 2
            if self.cost(other, side * middle) < self.cost(here, side * middle):
                last = middle
            else:
                first = middle + 1
        return last

    def _problem(self, steps: int) -> Problem:
        if steps not in self._problems:
            self._problems[steps] = self._assumption.at(self.value(steps))
        return self._problems[steps]


def _turning(lines: _Lines, plan: Plan, side: int, far: int) -> Turning | None:
    """Walk from plan to plan away from now, until one is another combination."""
    here, at = plan, 0
    while at < far:
        other = lines.best(side * far)
        until = far
        while other.choice is not None and lines.cost(other, side * until) < lines.cost(here, side * until):
            until = lines.meeting(here, other, side, at + 1, until)
            better = lines.best(side * until)
            if better.choice is None or better.cost >= lines.cost(other, side * until):
                break
            other = better
        else:
            return None
        here, at = lines.best(side * until), until
        if here.choice and plan.choice and here.choice.combination != plan.choice.combination:
            same = lines.best_with(plan.choice.combination, side * until)
            if same.choice is None or same.cost > here.cost:
                return Turning(lines.value(side * until), here)
            here = same
    return None


def _bought_there(choice: Choice, problem: Problem) -> Choice:
    """A choice with its lines as the problem prices them."""
    line = {one.key: one for one in problem.lines}
    return replace(choice, purchases=tuple(replace(p, line=line[p.line.key]) for p in choice.purchases))
