"""What a supplier's new sheet changed: new, gone, dearer, cheaper, and other terms, by how much, and for which designs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from sourcing.faults import Fault
from sourcing.prices.offers import Source
from sourcing.prices.parts import Part
from sourcing.prices.rows import PriceRow

Standing = Mapping[str, tuple[PriceRow, Source] | Fault]
# Terms besides the price; the core charge and the stock first, because they turn choices most often.
TERMS = ("core_charge", "stock", "breaks", "pack", "minimum", "lead_days", "valid_until")

_UNSAID = {"core_charge": Decimal(0), "pack": 1, "minimum": 1}


class Kind(StrEnum):
    """What became of a number, by the price of its first piece."""

    NEW = "new"
    GONE = "gone"
    BARRED = "barred"  # it stands in the sheet, and has lost its usable price
    DEARER = "dearer"
    CHEAPER = "cheaper"
    TERMS = "terms"  # the same price on other terms


@dataclass(frozen=True, slots=True)
class Change:
    """One number before and after; None where it had no price. `fills`: the designs that it is, by family."""

    part_number: str
    description: str
    before: PriceRow | None
    after: PriceRow | None
    kind: Kind
    why: str = ""
    fills: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def price_before(self) -> Decimal | None:
        return None if self.before is None else first_price(self.before)

    @property
    def price_after(self) -> Decimal | None:
        return None if self.after is None else first_price(self.after)

    @property
    def difference(self) -> Decimal | None:
        """What a first piece costs more, in the supplier's currency; None where it has no two prices."""
        if self.price_before is None or self.price_after is None:
            return None
        return self.price_after - self.price_before

    @property
    def percent(self) -> Decimal | None:
        """The difference in percent of the price before, to a tenth."""
        if self.difference is None or not self.price_before:
            return None
        return (100 * self.difference / self.price_before).quantize(Decimal("0.1"))

    @property
    def terms(self) -> dict[str, tuple[object, object]]:
        """Each term that changed: before and after."""
        if self.before is None or self.after is None:
            return {}
        pairs = {name: (getattr(self.before, name), getattr(self.after, name)) for name in TERMS}
        return {name: pair for name, pair in pairs.items() if _meant(name, pair[0]) != _meant(name, pair[1])}

    @property
    def designs(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(design for _, designs in self.fills for design in designs))


@dataclass(frozen=True, slots=True)
class Changes:
    """Everything that changed, by part number; `same` counts the numbers that did not."""

    changes: tuple[Change, ...]
    same: int

    def of(self, kind: Kind) -> list[Change]:
        return [change for change in self.changes if change.kind == kind]

    @property
    def ours(self) -> list[Change]:
        """Those of numbers that parts.csv names."""
        return [change for change in self.changes if change.fills]

    @property
    def designs(self) -> dict[str, list[Change]]:
        """Each design of ours that is touched, with the changes of its parts."""
        touched: dict[str, list[Change]] = {}
        for change in self.changes:
            for design in change.designs:
                touched.setdefault(design, []).append(change)
        return dict(sorted(touched.items()))


def _meant(name: str, value: object) -> object:
    """What a term means where nothing is said: no core charge, packs and a minimum of one."""
    return _UNSAID.get(name) if value is None else value


def first_price(row: PriceRow) -> Decimal:
    """What the first pieces of a number cost: its price, or where that starts above one piece its first break's."""
    return row.price if row.price is not None else row.breaks[0].price


def changes(before: Standing, after: Standing, parts: Mapping[str, Sequence[Part]], supplier: str) -> Changes:
    """What differs between two standings of one supplier's prices.

    Parameters
    ----------
    before, after : prices by canonical number, as `PriceRecord.standing` gives them
    parts : each family's parts
    """
    fills = _fills(parts, supplier)
    found: list[Change] = []
    same = 0
    for number in sorted(before.keys() | after.keys()):
        old, new = before.get(number), after.get(number)
        change = _change(number, old, new, fills.get(number, ()))
        if change is not None:
            found.append(change)
        elif new is not None:
            same += 1
    return Changes(tuple(found), same)


def _fills(parts: Mapping[str, Iterable[Part]], supplier: str) -> dict[str, tuple[tuple[str, tuple[str, ...]], ...]]:
    named: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {}
    for family, listed in sorted(parts.items()):
        for part in listed:
            if part.supplier == supplier:
                key = part.number.canonical
                named[key] = (*named.get(key, ()), (family, part.fills))
    return named


def _change(
    number: str,
    old: tuple[PriceRow, Source] | Fault | None,
    new: tuple[PriceRow, Source] | Fault | None,
    fills: tuple[tuple[str, tuple[str, ...]], ...],
) -> Change | None:
    before = old[0] if isinstance(old, tuple) else None
    after = new[0] if isinstance(new, tuple) else None
    told = after or before
    if told is None:
        return None
    why = str(new) if isinstance(new, Fault) else ""
    change = Change(str(told.part_number), told.description, before, after, _kind(before, after, new), why, fills)
    return change if change.kind != Kind.TERMS or change.terms else None


def _kind(before: PriceRow | None, after: PriceRow | None, new: object) -> Kind:
    if before is None:
        return Kind.NEW
    if after is None:
        return Kind.GONE if new is None else Kind.BARRED
    more = first_price(after) - first_price(before)
    return Kind.DEARER if more > 0 else Kind.CHEAPER if more < 0 else Kind.TERMS
