"""What can be bought on a day, as values: a supplier's part number at its price, and where that price stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from sourcing.prices.parts import Part


@dataclass(frozen=True, slots=True)
class Source:
    """Where a price stands: the paper trail of a quote."""

    file: str
    sheet: str
    row: int
    day: date


@dataclass(frozen=True, slots=True)
class Step:
    """A price from a quantity on: in the supplier's smallest coins, and in cents of the shop."""

    quantity: int
    minor: int
    cents: int


@dataclass(frozen=True)
class Offer:
    """A supplier's part number at its price of the day.

    `steps` ascend by quantity; a quantity below the first cannot be bought. `incremental`: each piece at the price of
    the step that it falls in; otherwise all pieces at the price of the step that the quantity reaches.
    """

    id: int
    part: Part
    description: str
    steps: tuple[Step, ...]
    incremental: bool
    core_minor: int
    core_cents: int
    stock: int | None
    pack: int
    minimum: int
    lead_workdays: int
    valid_until: date | None
    source: Source

    @property
    def supplier(self) -> str:
        return self.part.supplier

    @cached_property
    def smallest(self) -> int:
        """The smallest line: at least the minimum (and the first step), in whole packs."""
        return whole_packs(max(1, self.minimum, self.steps[0].quantity), self.pack)

    def step(self, quantity: int) -> Step:
        return next(step for step in reversed(self.steps) if step.quantity <= quantity)

    def minor(self, quantity: int) -> int:
        """A line's price in the supplier's smallest coins."""
        return self._sum(quantity, [step.minor for step in self.steps])

    def cents(self, quantity: int) -> int:
        """A line's price in cents of the shop."""
        return self._sum(quantity, [step.cents for step in self.steps])

    def base_pieces(self, quantity: int) -> int:
        """Pieces of a line that are paid at the first step's price."""
        if len(self.steps) == 1 or quantity < self.steps[1].quantity:
            return quantity
        return self.steps[1].quantity - 1 if self.incremental else 0

    def priced(self, minor: int, cents: int) -> Offer:
        """The same offer with another first price."""
        first = Step(self.steps[0].quantity, minor, cents)
        return replace(self, steps=(first, *self.steps[1:]))

    def _sum(self, quantity: int, prices: Sequence[int]) -> int:
        if not self.incremental:
            index = max(i for i, step in enumerate(self.steps) if step.quantity <= quantity)
            return quantity * prices[index]
        total = prices[0] * (self.steps[0].quantity - 1)
        for index, step in enumerate(self.steps):
            end = self.steps[index + 1].quantity - 1 if index + 1 < len(self.steps) else quantity
            total += max(0, min(quantity, end) - step.quantity + 1) * prices[index]
        return total


def whole_packs(quantity: int, pack: int) -> int:
    """A quantity raised to whole packs."""
    return -(-quantity // pack) * pack


@dataclass(frozen=True)
class Offers:
    """What is in force on a day: offers, what cannot be bought and why, and what was left out."""

    day: date
    offers: tuple[Offer, ...]
    refused: tuple[tuple[Part, str], ...] = ()
    notes: tuple[str, ...] = ()
