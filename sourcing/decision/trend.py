"""The same job at every date on which prices changed: what each route costs, and when the choice turned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sourcing.decision import Answer
from sourcing.decision.routes import Route, routes
from sourcing.money import text
from sourcing.problem import Problem


@dataclass(frozen=True, slots=True)
class Move:
    """A part whose first price changed since the date before; None where it could not be bought."""

    supplier: str
    part_number: str
    before_cents: int | None
    after_cents: int | None

    def __str__(self) -> str:
        told = [text(c) if c is not None else "not to be had" for c in (self.before_cents, self.after_cents)]
        return f"{self.supplier} {self.part_number}: {told[0]} to {told[1]}"


@dataclass(frozen=True)
class Moment:
    """One date: the routes, cheapest first; `turned` where another design leads than at the last date with a plan."""

    day: date
    routes: tuple[Route, ...]
    moved: tuple[Move, ...]
    turned: bool

    @property
    def best(self) -> Route | None:
        return self.routes[0] if self.routes and self.routes[0].plan.choice is not None else None


def trend(problems: Iterable[tuple[date, Problem]], answer: Answer) -> list[Moment]:
    """Replay a job: `problems` are the job sealed at each date, in order."""
    moments: list[Moment] = []
    prices: dict[tuple[str, str], int] = {}
    leading: str | None = None
    for day, problem in problems:
        now = {(o.supplier, o.part.number.spelt): o.steps[0].cents for o in problem.offers}
        moved = tuple(
            Move(*key, prices.get(key), now.get(key))
            for key in sorted(prices.keys() | now.keys())
            if moments and prices.get(key) != now.get(key)
        )
        found = routes(problem, answer)
        moment = Moment(day, found, moved, False)
        if moment.best is not None:
            turned = leading is not None and moment.best.design != leading
            leading = moment.best.design
            moment = Moment(day, found, moved, turned)
        moments.append(moment)
        prices = now
    return moments
