"""The shop's own rates: labour, mark-up, taxes, currency, and what it would put on its shelf."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Annotated

from pydantic import Field, StringConstraints

from sourcing.faults import BadValue, Fault, RepeatedCode, shown
from sourcing.labels import languages
from sourcing.letterhead import Letterhead
from sourcing.money import minor_digits, to_cents
from sourcing.reading import Code, Count, Day, Price, Record, Share, read_text, toml_of

LETTER_CURRENCIES = ("USD", "CAD", "MXN")  # where the shop does not name its paper
Currency = Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
Factor = Annotated[Decimal, Field(gt=0, le=100, allow_inf_nan=False)]


class Supplies(Record):
    """Shop supplies: a share of the labour, up to a cap."""

    share: Share = Decimal(0)
    cap: Price | None = None


class Markup(Record):
    """A step of the mark-up: the factor for parts that cost up to `up_to` each; the last step has no end."""

    up_to: Price | None = None
    factor: Factor


class Wanted(Record):
    """A design that the shop would put on its shelf: how many pieces, and what a piece is worth there."""

    design: Code
    pieces: Count
    worth: Price


class Shop(Record):
    """shop.toml."""

    currency: Currency
    labour_rate: Price = Decimal(0)
    labour_cost: Price | None = None
    comeback_cost: Price = Decimal(0)
    day_cost: Price = Decimal(0)
    holidays: list[Day] = []
    tax_parts: Share = Decimal(0)
    tax_labour: Share = Decimal(0)
    tax_cores: Share = Decimal(0)
    quote_days: Annotated[int, Field(ge=0, le=3650)] = 30
    worth_changing: Price = Decimal(0)
    mixed_share: Share = Decimal("0.1")
    shop_supplies: Supplies = Supplies()
    fx: dict[Currency, Annotated[Decimal, Field(gt=0, le=1_000_000, allow_inf_nan=False)]] = {}
    markups: list[Markup] = Field(default=[], alias="markup")
    wanted: list[Wanted] = []
    letterhead: Letterhead = Letterhead()

    @property
    def letter(self) -> bool:
        """Whether papers are set up for letter rather than A4; each fits one page on either."""
        paper = self.letterhead.paper
        return self.currency in LETTER_CURRENCIES if paper is None else paper == "letter"

    @property
    def hour_costs(self) -> Decimal:
        """What an hour costs the shop; where the shop does not say, what it charges."""
        return self.labour_rate if self.labour_cost is None else self.labour_cost

    @cached_property
    def closed(self) -> frozenset[object]:
        return frozenset(self.holidays)

    @property
    def day_cents(self) -> int:
        return to_cents(self.day_cost)

    def rate(self, currency: str) -> Decimal | None:
        """What one unit of a currency costs in the shop's; None where shop.toml does not say."""
        return Decimal(1) if currency == self.currency else self.fx.get(currency)


def read_shop(path: Path) -> Shop:
    """Read shop.toml. Raises BadInput with every fault of the file."""
    return shop_of(read_text(path), path)


def shop_of(text: str, path: Path, logo: bool = True) -> Shop:
    """The same for a text at hand, which need not stand in the file of that name; `logo`: whether its picture is looked for."""

    def faults(shop: Shop) -> Iterator[Fault]:
        yield from _faults(shop, shown(path))
        if logo:
            yield from shop.letterhead.open_logo(path.parent, shown(path))

    return toml_of(text, path, Shop, faults)


def _faults(shop: Shop, file: str) -> Iterator[Fault]:
    if minor_digits(shop.currency) != 2:
        yield BadValue(file=file, place="currency", found=shop.currency,
                       expected="a currency with two decimals (a shop's plan is reckoned in hundredths)",
                       remedy="Keep the shop's books in such a currency; suppliers may use any.")  # fmt: skip
    ends = [step.up_to for step in shop.markups]
    if ends and (ends[-1] is not None or None in ends[:-1]):
        yield BadValue(file=file, place="markup", found="steps that leave some cost without a factor",
                       expected="up_to on every step but the last")  # fmt: skip
    bounded = [end for end in ends if end is not None]
    if bounded != sorted(set(bounded)):
        yield BadValue(file=file, place="markup", found=", ".join(map(str, bounded)), expected="rising up_to")
    yield from repeated_wanted(shop.wanted, file)
    if shop.letterhead.language not in languages():
        yield BadValue(file=file, place="letterhead language", found=f'"{shop.letterhead.language}"',
                       expected=f"one of {', '.join(languages())}")  # fmt: skip


def repeated_wanted(wanted: Sequence[Wanted], file: str) -> Iterator[Fault]:
    """A design wanted twice in one list."""
    seen: set[str] = set()
    for item in wanted:
        if item.design in seen:
            yield RepeatedCode(file=file, place="wanted", found=f'"{item.design}" twice',
                               remedy="Add the pieces up in one entry.")  # fmt: skip
        seen.add(item.design)
