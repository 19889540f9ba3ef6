"""A design's prices as tables: now, and at each date on which something changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sourcing.money import text
from sourcing.prices.history import History, Point
from sourcing.prices.sheetwords import money


def now_table(listed: Sequence[History], currency: str) -> list[list[str]]:
    """What each part costs now, the cheapest first; the header in front."""
    head = ["supplier", "part number", "condition", f"now {currency}", "own currency", "before", "core charge", "stock",
            "valid until", ""]  # fmt: skip
    dear = 10**12
    ordered = sorted(listed, key=lambda one: (bool(one.now.why), one.now.price_cents or dear, one.part.supplier))
    return [head, *(_now_line(history, currency) for history in ordered)]


def _now_line(history: History, currency: str) -> list[str]:
    now, before = history.now, history.before
    own = "" if history.currency == currency or now.price is None else f"{money(now.price)} {history.currency}"
    was = "" if before is None or before.price_cents is None else text(before.price_cents)
    kit = f"kit: {' + '.join(history.part.fills)}" if history.is_kit else ""
    return [
        history.supplier_name, history.part.number.spelt, history.part.condition, _cents(now.price_cents), own, was,
        _cents(now.core_cents) if now.core_cents else "", "" if now.stock is None else str(now.stock),
        now.valid_until.isoformat() if now.valid_until else "", "; ".join(part for part in (kit, now.why) if part),
    ]  # fmt: skip


def _cents(cents: int | None) -> str:
    return "-" if cents is None else text(cents)


def part_words(history: History) -> str:
    """A part by its supplier and number, and what is in it where it is a kit."""
    kit = f", kit {' + '.join(history.part.fills)}" if history.is_kit else ""
    return f"{history.supplier_name} {history.part.number}{kit}"


def turns_of(history: History, currency: str) -> Iterator[tuple[str, str, str]]:
    """Each date on which something changed: the date, the price ("-" where there is none), and what is to be said."""
    previous: Point | None = None
    for point in history.turns:
        yield (point.day.isoformat(), *_turn(history, point, previous, currency))
        previous = point


def _turn(history: History, point: Point, previous: Point | None, currency: str) -> tuple[str, str]:
    if point.price is None or point.price_cents is None:
        return "-", point.why
    told = []
    if previous is not None and previous.price is not None and previous.price != point.price:
        told.append(
            f"{point.price - previous.price:+.2f}" + ("" if history.currency == currency else f" {history.currency}")
        )
    if point.core_charge and (previous is None or previous.core_charge != point.core_charge):
        told.append(f"core {money(point.core_charge)}")
    if point.stock is not None and (previous is None or previous.stock != point.stock):
        told.append(f"stock {point.stock}")
    if point.valid_until is not None:
        told.append(f"until {point.valid_until.isoformat()}")
    if point.why:
        told.append(point.why)
    return text(point.price_cents), ", ".join(told)
