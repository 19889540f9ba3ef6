"""What the customer pays, line by line: the values, and the sums that follow from them. Cents of the shop's currency.

How they add up, every amount rounded to the cent by itself, halves up (the lines themselves are reckoned in `charging.py`):

consumables  quantity x price.
labour       (base_hours + the hours of the works due) x labour_rate, rounded once.
supplies     share x labour, at most the cap.
discount     an amount or a share of all lines, freight among them, at most all of it. It is spread over what each tax is
             reckoned on in proportion, each part of it rounded.
taxes        each on its goods less their part of the discount: tax_parts on parts, consumables, materials, extras like parts
             and supplies; tax_labour on labour and extras like labour; tax_cores on core charges. Freight is untaxed.
margin       price before tax, less the plan's landed cost, less what the work costs the shop (base hours and works). What is
             left over is paid for in the landed cost; the core charges paid on parts in hand, of which the landed cost counts
             only what comes back, are taken off by themselves; comebacks, waiting and what consumables and supplies cost are
             not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from sourcing.job import Discount, Extra
from sourcing.money import half_up, share_of, to_cents


@dataclass(frozen=True, slots=True)
class PartCharge:
    """A line of parts: bought (`offer`), in hand (`hand` says whence), or the found one kept, at 0.

    `cost_cents` and `factor` are for the shop's eyes. `core_offer` is the number whose core charge was paid on it.
    """

    positions: tuple[str, ...]
    designs: tuple[str, ...]
    offer: int | None = None
    hand: str = ""
    core_offer: int | None = None
    condition: str = ""
    warranty_months: int = 0
    kit: bool = False
    pieces: int = 1
    cost_cents: int = 0
    factor: Decimal = Decimal(1)
    price_cents: int = 0

    @property
    def amount_cents(self) -> int:
        return self.pieces * self.price_cents

    @property
    def key(self) -> str:
        """Its first position: no two lines have it."""
        return self.positions[0]

    @property
    def kept(self) -> bool:
        return self.offer is None and not self.hand

    @property
    def own(self) -> bool:
        """Whether the customer brought it."""
        return self.hand == "customer"


class CoreReason(StrEnum):
    """Why a core charge is the customer's."""

    STAYS = "stays"
    REFUSED = "refused"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class CoreLost:
    """The core charge on so many charged pieces of an offer, for which no old part of the customer's can be given."""

    line: str
    designs: tuple[str, ...]
    offer: int
    reason: CoreReason
    pieces: int
    each_cents: int

    @property
    def amount_cents(self) -> int:
        return self.pieces * self.each_cents


@dataclass(frozen=True, slots=True)
class WorkCharge:
    """Hours of the rebuild (`code` "") or of a task, and its materials or sublet work."""

    code: str
    says: str
    hours: Decimal
    materials_cents: int = 0


@dataclass(frozen=True, slots=True)
class ConsumableCharge:
    """A consumable: so many of a unit at a price."""

    says: str
    quantity: Decimal
    unit: str
    price_cents: int

    @property
    def amount_cents(self) -> int:
        return half_up(self.quantity * self.price_cents)


@dataclass(frozen=True, slots=True)
class Rates:
    """What labour, supplies and taxes are reckoned with."""

    labour: Decimal
    supplies: Decimal
    cap: Decimal | None
    tax_parts: Decimal
    tax_labour: Decimal
    tax_cores: Decimal


@dataclass(frozen=True, slots=True)
class Charge:
    """What the customer pays, line by line, and what stays with the shop. Cents of the shop's currency."""

    parts: tuple[PartCharge, ...]
    work: tuple[WorkCharge, ...]
    cores: tuple[CoreLost, ...]
    consumables: tuple[ConsumableCharge, ...]
    extras: tuple[Extra, ...]
    rates: Rates
    discount: Discount
    freight_cents: int
    core_return_cents: int
    landed_cents: int
    work_cost_cents: int
    stands_until: date
    not_settled: tuple[str, ...] = ()
    paid_cores_cents: int = 0

    @property
    def parts_cents(self) -> int:
        return sum(line.amount_cents for line in self.parts)

    @property
    def materials_cents(self) -> int:
        return sum(line.materials_cents for line in self.work)

    @property
    def consumables_cents(self) -> int:
        return sum(line.amount_cents for line in self.consumables)

    @property
    def cores_cents(self) -> int:
        return sum(line.amount_cents for line in self.cores)

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.work), Decimal(0))

    @property
    def labour_cents(self) -> int:
        return to_cents(self.hours * self.rates.labour)

    @property
    def supplies_cents(self) -> int:
        supplies = share_of(self.labour_cents, self.rates.supplies)
        return supplies if self.rates.cap is None else min(supplies, to_cents(self.rates.cap))

    def extras_cents(self, taxed: str) -> int:
        return sum(to_cents(extra.amount) for extra in self.extras if extra.taxed == taxed)

    @property
    def goods_cents(self) -> int:
        """What tax_parts is reckoned on, before a discount."""
        goods = self.parts_cents + self.consumables_cents + self.materials_cents + self.supplies_cents
        return goods + self.extras_cents("parts")

    @property
    def worked_cents(self) -> int:
        """What tax_labour is reckoned on, before a discount."""
        return self.labour_cents + self.extras_cents("labour")

    @property
    def untaxed_cents(self) -> int:
        return self.freight_cents + self.core_return_cents + self.extras_cents("no")

    @property
    def listed_cents(self) -> int:
        """All lines together."""
        return self.goods_cents + self.worked_cents + self.cores_cents + self.untaxed_cents

    @property
    def discount_cents(self) -> int:
        listed, off = self.listed_cents, self.discount
        return min(listed, to_cents(off.amount) if off.share is None else share_of(listed, off.share))

    def tax_cents(self, goods_cents: int, rate: Decimal) -> int:
        """A tax on some of the lines, less their part of the discount."""
        listed = self.listed_cents
        off = half_up(Fraction(self.discount_cents * goods_cents, listed)) if listed else 0
        return share_of(goods_cents - off, rate)

    @property
    def tax_parts_cents(self) -> int:
        return self.tax_cents(self.goods_cents, self.rates.tax_parts)

    @property
    def tax_labour_cents(self) -> int:
        return self.tax_cents(self.worked_cents, self.rates.tax_labour)

    @property
    def tax_cores_cents(self) -> int:
        return self.tax_cents(self.cores_cents, self.rates.tax_cores)

    @property
    def before_tax_cents(self) -> int:
        return self.listed_cents - self.discount_cents

    @property
    def total_cents(self) -> int:
        return self.before_tax_cents + self.tax_parts_cents + self.tax_labour_cents + self.tax_cores_cents

    @property
    def margin_cents(self) -> int:
        return self.before_tax_cents - self.landed_cents - self.paid_cores_cents - self.work_cost_cents

    @property
    def warranty_months(self) -> int | None:
        """The least warranty of what the shop puts in; None where it puts nothing in. A customer's own part has none."""
        return min((line.warranty_months for line in self.parts if not line.kept and not line.own), default=None)
