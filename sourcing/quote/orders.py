"""An order as its supplier must see it: its own numbers, words, packs, prices and currency, and none of anybody else's."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import PurePath

from sourcing.money import half_up, minor_digits, to_minor
from sourcing.plan import Order, Plan, Purchase
from sourcing.pool.plan import PoolPlan, line_key
from sourcing.prices.export import harmless
from sourcing.problem import grams
from sourcing.quote.sheets.texts import clean
from sourcing.terms import Terms

CONFIRM = "confirm stock"


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A line of an order; amounts in the supplier's smallest coins.

    `steps` are the pieces at each price, where each piece is paid at the step that it falls in; empty otherwise.
    """

    number: str
    description: str
    pack: int
    pieces: int
    unit_minor: Fraction
    total_minor: int
    core_minor: int
    stock: str
    quoted: str
    row: int
    dated: date
    steps: tuple[tuple[int, int], ...] = ()

    @property
    def cores_minor(self) -> int:
        return self.pieces * self.core_minor


@dataclass(frozen=True, slots=True)
class SupplierOrder:
    """One supplier by one way of sending."""

    supplier: str
    name: str
    mode: str
    currency: str
    job: str
    dated: date
    needed_by: date
    promised: bool
    lines: tuple[OrderLine, ...]
    freight_minor: int
    fee_minor: int

    @property
    def parts_minor(self) -> int:
        return sum(line.total_minor for line in self.lines)

    @property
    def cores_minor(self) -> int:
        return sum(line.cores_minor for line in self.lines)

    @property
    def total_minor(self) -> int:
        return self.parts_minor + self.cores_minor + self.freight_minor + self.fee_minor

    @property
    def stem(self) -> str:
        """The name of its files, fit for every file system."""
        return f"order-{in_a_name(self.supplier)}-{in_a_name(self.mode)}"


def orders_for_suppliers(plan: Plan) -> tuple[SupplierOrder, ...]:
    """The plan's orders; their files' names differ."""
    return tuple(_order(plan, order) for order in plan.orders)


def _order(plan: Plan, order: Order) -> SupplierOrder:
    header = plan.problem.job.job

    def weighs(purchase: Purchase) -> int:
        return grams(plan.problem.family, purchase.line.offer)

    return _of(plan.problem.terms[order.supplier], order, header.number, header.date, header.need_by, weighs)


def orders_of_pool(plan: PoolPlan, name: str) -> tuple[SupplierOrder, ...]:
    """A pool's orders, each called by the pool's name; needed by the first day on which a job that gets of it needs it."""
    needed = {one.number: one.problem.job.job.need_by for one in plan.gets}
    day, books = plan.pool.first.job.job.date, {lot.family: lot.problem.family for lot in plan.pool.lots}

    def weighs(purchase: Purchase) -> int:
        family, offer = min(plan.pool.as_known_to[purchase.line.offer.id].items())
        return grams(books[family], offer)

    made = []
    for order in plan.orders:
        numbers = {n for line in order.lines for n, count in plan.pieces.get(line_key(line), {}).items() if count}
        days = [by for number in numbers if (by := needed[number]) is not None]
        made.append(_of(plan.pool.terms[order.supplier], order, name, day, min(days, default=None), weighs))
    return tuple(made)


def _of(
    terms: Terms, order: Order, job: str, day: date, need_by: date | None, weighs: Callable[[Purchase], int]
) -> SupplierOrder:
    return SupplierOrder(
        supplier=order.supplier,
        name=terms.name,
        mode=order.mode,
        currency=terms.currency,
        job=job,
        dated=day,
        needed_by=order.arrives if need_by is None else need_by,
        promised=need_by is not None,
        lines=tuple(_line(purchase) for purchase in order.lines),
        freight_minor=_freight_minor(terms, order, weighs),
        fee_minor=to_minor(terms.given.order_fee, terms.currency),
    )


def _line(purchase: Purchase) -> OrderLine:
    offer, pieces = purchase.line.offer, purchase.quantity
    total = offer.minor(pieces)
    source = offer.source
    sheet = f", {source.sheet}" if source.sheet else ""
    return OrderLine(
        number=str(offer.part.number),
        description=offer.description,
        pack=offer.pack,
        pieces=pieces,
        unit_minor=Fraction(total, pieces) if offer.incremental else Fraction(offer.step(pieces).minor),
        total_minor=total,
        core_minor=offer.core_minor,
        stock=CONFIRM if offer.stock is None else f"{offer.stock} stated",
        quoted=f"{PurePath(source.file.replace(chr(92), '/')).name}{sheet}",
        row=source.row,
        dated=source.day,
        steps=_steps(purchase) if offer.incremental else (),
    )


def _steps(purchase: Purchase) -> tuple[tuple[int, int], ...]:
    """Pieces and price at each step that a line of incremental breaks passes through."""
    steps, found = purchase.line.offer.steps, []
    for index, step in enumerate(steps):
        begins = 1 if index == 0 else step.quantity
        ends = steps[index + 1].quantity - 1 if index + 1 < len(steps) else purchase.quantity
        pieces = min(purchase.quantity, ends) - begins + 1
        if pieces > 0:
            found.append((pieces, step.minor))
    return tuple(found)


def _freight_minor(terms: Terms, order: Order, weighs: Callable[[Purchase], int]) -> int:
    """What the supplier's terms charge for sending, in its own coins: the plan's freight before it is converted."""
    mode = order.lines[0].line.mode
    if mode.free_over_minor is not None and order.subtotal_minor >= mode.free_over_minor:
        return 0
    given = next(mode for mode in terms.given.modes if mode.mode == order.mode)
    per_kg = to_minor(given.per_kg, terms.currency)
    weighed = sum(purchase.quantity * half_up(Decimal(per_kg * weighs(purchase)) / 1000) for purchase in order.lines)
    return to_minor(given.flat, terms.currency) + weighed


def in_a_name(code: str) -> str:
    """A code as a piece of a file's name; what had to be changed is told apart by its letters' numbers."""
    plain = re.sub(r"[^\w-]+", "-", code).strip("-")[:40]
    return plain if plain == code else f"{plain}-{_digest(code)}".strip("-")


def _digest(code: str) -> str:
    from hashlib import sha256

    return sha256(code.encode("utf-8")).hexdigest()[:6]


HEADERS = ("job", "date", "supplier", "mode", "needed_by", "line", "part_number", "description", "pack", "packs", "pieces",
           "unit_price", "line_total", "core_charge_each", "core_charges", "currency", "price_file_and_sheet", "price_row",
           "price_date", "stock")  # fmt: skip


def order_csv(order: SupplierOrder) -> bytes:
    """An order as CSV for another program: UTF-8 with its mark, and no cell that a spreadsheet program would run."""
    digits = minor_digits(order.currency)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADERS)
    for number, line in enumerate(order.lines, 1):
        cells = [
            order.job, order.dated.isoformat(), order.name, order.mode, order.needed_by.isoformat(), str(number), line.number,
            line.description, str(line.pack), str(line.pieces // line.pack), str(line.pieces),
            coins(line.unit_minor, digits, 4), coins(line.total_minor, digits), coins(line.core_minor, digits),
            coins(line.cores_minor, digits), order.currency, line.quoted, str(line.row), line.dated.isoformat(), line.stock,
        ]  # fmt: skip
        writer.writerow([harmless(clean(cell).strip()) for cell in cells])
    return out.getvalue().encode("utf-8-sig")


def coins(minor: int | Fraction, digits: int, finer: int = 0) -> str:
    """Smallest coins as an amount; a fraction of a coin, as breaks can leave it, with some decimals more."""
    amount = Fraction(minor)
    if amount.denominator != 1:
        digits, amount = digits + finer, Fraction(half_up(amount, finer))
    return f"{Decimal(int(amount)).scaleb(-digits):.{digits}f}"
