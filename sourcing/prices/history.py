"""What each supplier's part for a design cost at every date in the record of prices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING

from sourcing.faults import BadInput, Fault
from sourcing.prices.changes import Standing, first_price
from sourcing.prices.dated import sheets_in_force
from sourcing.prices.offers import Source
from sourcing.prices.parts import Part
from sourcing.prices.record import PriceRecord
from sourcing.prices.rows import PriceRow

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Point:
    """A part on one date. Amounts are in the supplier's currency, `_cents` in the shop's; None where there is no price.

    `why` says why it cannot be bought on that day, though it may have a price: sold out, or past its last day.
    """

    day: date
    price: Decimal | None = None
    price_cents: int | None = None
    core_charge: Decimal | None = None
    core_cents: int | None = None
    stock: int | None = None
    valid_until: date | None = None
    source: Source | None = None
    why: str = ""

    @property
    def says(self) -> tuple[object, ...]:
        """Everything but the date and the place in a sheet: equal on two dates where nothing changed."""
        return (self.price, self.core_charge, self.stock, self.valid_until, self.why)


@dataclass(frozen=True)
class History:
    """One part that fills a design, over every date in the record."""

    family: str
    design: str
    part: Part
    supplier_name: str
    currency: str
    points: tuple[Point, ...]

    @property
    def is_kit(self) -> bool:
        return len(self.part.fills) > 1

    @property
    def now(self) -> Point:
        return self.points[-1]

    @cached_property
    def turns(self) -> tuple[Point, ...]:
        """The first point, and each that says something else than the one before it."""
        pairs = zip(self.points, self.points[1:], strict=False)
        return (*self.points[:1], *(after for before, after in pairs if before.says != after.says))

    @property
    def before(self) -> Point | None:
        """The last point at another price than now; None where there was none."""
        priced = [point for point in self.points if point.price is not None]
        return next((point for point in reversed(priced) if point.price != self.now.price), None)


def histories(
    record: PriceRecord, parts: Sequence[Part], design: str, family: str, terms: Mapping[str, tuple[str, str]]
) -> tuple[list[History], list[Fault]]:
    """Every part that fills a design, single ones before kits and then by supplier; and why a day could not be read.

    Parameters
    ----------
    parts : the family's parts
    terms : name and currency of each supplier, by code
    """
    standings = _Standings(record)
    days = record.days()
    found = []
    for part in sorted(parts, key=lambda part: (len(part.fills) > 1, part.supplier, part.number.canonical)):
        if design in part.fills and days:
            name, currency = terms[part.supplier]
            points = tuple(_point(record, standings, part, day) for day in days)
            found.append(History(family, design, part, name, currency, points))
    return found, standings.unread


class _Standings:
    """A supplier's prices on a day; days with the same sheets in force are laid together once."""

    def __init__(self, record: PriceRecord) -> None:
        self._record = record
        self._known: dict[tuple[object, ...], Standing | None] = {}
        self.unread: list[Fault] = []

    def of(self, supplier: str, day: date) -> Standing | None:
        """None where a sheet in force cannot be read."""
        key = (supplier, *(sheet.path for sheet in sheets_in_force(self._record.sheets[supplier], day)))
        if key not in self._known:
            try:
                self._known[key] = self._record.standing(supplier, day)
            except BadInput as error:
                self._known[key] = None
                self.unread += [fault for fault in error.faults if fault not in self.unread]
        return self._known[key]


def _point(record: PriceRecord, standings: _Standings, part: Part, day: date) -> Point:
    standing = standings.of(part.supplier, day)
    if standing is None:
        return Point(day, why="the sheet in force cannot be read")
    row = standing.get(part.number.canonical)
    if isinstance(row, Fault):
        return Point(day, why=f"no usable price: {row.found or row.expected}")
    if row is None:
        return Point(day, why="not in the sheet in force" if standing else "no sheet in force yet")
    return _priced(record, part, day, *row)


def _priced(record: PriceRecord, part: Part, day: date, row: PriceRow, source: Source) -> Point:
    price = first_price(row)
    core = row.core_charge
    why = ""
    if row.stock == 0:
        why = "sold out"
    if row.valid_until is not None and row.valid_until < day:
        why = f"the price ended on {row.valid_until.isoformat()}"
    return Point(
        day, price, record.in_cents(price, part.supplier), core,
        None if core is None else record.in_cents(core, part.supplier), row.stock, row.valid_until, source, why,
    )  # fmt: skip


COLUMNS = ("family", "design", "supplier", "part_number", "kit", "condition", "date", "price", "currency",
           "shop_price", "core_charge", "shop_core_charge", "stock", "valid_until", "why", "file", "sheet", "row")  # fmt: skip


def cells(listed: Iterable[History]) -> Iterator[tuple[object, ...]]:
    """One line for each part and date, by `COLUMNS`; shop amounts are decimals."""
    for history in listed:
        part = history.part
        for point in history.points:
            where = point.source
            yield (
                history.family, history.design, part.supplier, part.number.spelt,
                " + ".join(part.fills) if history.is_kit else "", part.condition, point.day, point.price,
                history.currency, _decimal(point.price_cents), point.core_charge, _decimal(point.core_cents),
                point.stock, point.valid_until, point.why, where.file if where else "", where.sheet if where else "",
                where.row if where else None,
            )  # fmt: skip


def _decimal(cents: int | None) -> Decimal | None:
    return None if cents is None else Decimal(cents).scaleb(-2)


def frame(listed: Iterable[History]) -> pd.DataFrame:
    """The histories as a table for a notebook: one row for each part and date.

    Dates are datetime64, amounts floats (they are for looking at; the tool itself counts in whole cents), stock and row whole
    numbers that may be missing.
    """
    import pandas as pd

    table = pd.DataFrame(list(cells(listed)), columns=list(COLUMNS))
    for name in ("date", "valid_until"):
        table[name] = pd.to_datetime(table[name])
    for name in ("price", "shop_price", "core_charge", "shop_core_charge"):
        table[name] = table[name].astype(float)
    for name in ("stock", "row"):
        table[name] = table[name].astype("Int64")
    return table
