"""A supplier's terms in the shop's cents: what an order costs to send, and what a core brings back."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sourcing.money import convert, half_up, share_of, to_minor
from sourcing.prices.suppliers import Freight, Supplier
from sourcing.shop import Shop


@dataclass(frozen=True, slots=True)
class Mode:
    """A freight mode: cents of the shop, but the threshold in the supplier's smallest coins."""

    mode: str
    workdays: int
    flat_cents: int
    per_kg_cents: int
    free_over_minor: int | None

    def piece_cents(self, grams: int) -> int:
        """What sending one piece adds: per_kg x its weight, rounded for the piece."""
        return half_up(Decimal(self.per_kg_cents * grams) / 1000)


@dataclass(frozen=True, slots=True)
class Terms:
    """What trading with a supplier costs, in cents of the shop unless a name says minor; `given` as the supplier gives them."""

    code: str
    name: str
    currency: str
    rate: Decimal
    modes: tuple[Mode, ...]
    order_minimum_minor: int
    core_recovery: Decimal
    core_return_cents: int
    given: Supplier
    order_fee_cents: int = 0

    def cents(self, minor: int) -> int:
        """Smallest coins of the supplier in cents of the shop."""
        return convert(minor, self.currency, self.rate)

    def core_credit(self, core_cents: int) -> int:
        """What comes back of a core charge on an accepted core, rounded for each core."""
        return share_of(core_cents, self.core_recovery)

    def restock_cents(self, paid_cents: int) -> int:
        """What the supplier keeps of the price of a part that goes back, rounded for the part."""
        return share_of(paid_cents, self.given.restock_share)

    def takes_back(self, days: int) -> bool:
        """Whether an unused part still goes back so many calendar days after it came."""
        return self.given.return_days is not None and days <= self.given.return_days

    def takes_core(self, days: int) -> bool:
        """Whether a core still goes back so many calendar days after its part came."""
        return self.given.core_days is None or days <= self.given.core_days

    def at_rate(self, rate: Decimal) -> Terms:
        """The same terms where one unit of the supplier's currency costs so much in the shop's."""
        return _converted(self.given, self.currency, rate)


def terms_of(supplier: Supplier, shop: Shop) -> Terms:
    """Convert a supplier's terms; every amount is rounded in its own currency first, then in the shop's."""
    currency = supplier.currency or shop.currency
    return _converted(supplier, currency, shop.rate(currency) or Decimal(1))


def _converted(supplier: Supplier, currency: str, rate: Decimal) -> Terms:

    def cents(amount: Decimal) -> int:
        return convert(to_minor(amount, currency), currency, rate)

    def mode(freight: Freight) -> Mode:
        over = None if freight.free_over is None else to_minor(freight.free_over, currency)
        return Mode(freight.mode, freight.days, cents(freight.flat), cents(freight.per_kg), over)

    return Terms(
        code=supplier.code,
        name=supplier.name,
        currency=currency,
        rate=rate,
        modes=tuple(mode(freight) for freight in supplier.modes),
        order_minimum_minor=to_minor(supplier.order_minimum, currency),
        core_recovery=supplier.core_recovery,
        core_return_cents=cents(supplier.core_return_cost),
        given=supplier,
        order_fee_cents=cents(supplier.order_fee),
    )
