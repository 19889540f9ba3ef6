"""How an answer is laid out on the screen, a job's as a pool's: its orders, totals, long lists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from sourcing.cli.lines import bullet
from sourcing.money import text
from sourcing.plan import Order, Purchase
from sourcing.quote.told import Total


def orders_laid(
    orders: Sequence[Order], told: Callable[[Order], str], line: Callable[[Purchase], Iterable[str]]
) -> Iterator[str]:
    """Each order, below it what is bought on it: the lines of a purchase, the first one less far in than what explains it."""
    if not orders:
        yield "  nothing is bought"
    for order in orders:
        yield f"  {told(order)}"
        for purchase in order.lines:
            first, *further = line(purchase)
            yield f"    {first}"
            yield from (f"      {said}" for said in further)


def totals_laid(totals: Iterable[Total], width: int) -> Iterator[str]:
    """What a plan costs, sum by sum; `width` holds the largest amount."""
    for total in totals:
        yield f"  {total.name:<20}{text(total.cents):>{width}}" + ("  <- minimised" if total.minimised else "")


def at_most(said: Sequence[str], most: int) -> Iterator[str]:
    """A list as items, its tail counted where it is long."""
    yield from map(bullet, said[:most])
    if len(said) > most:
        yield f"  and {len(said) - most} more (--json lists all)"
