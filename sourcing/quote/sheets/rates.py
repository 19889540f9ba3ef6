"""The rates that stand on the customer's sheet, and the terms that formulas make of them."""

from __future__ import annotations

from dataclasses import dataclass

from sourcing.quote.sheets.cells import Cents, Formula, Percent, Value, cent


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate of the shop that stands on the page: its address and its value."""

    at: str
    value: Value

    @property
    def shown(self) -> Formula:
        return Formula(self.at, self.value if isinstance(self.value, Cents | Percent) else Cents(0))


@dataclass(frozen=True, slots=True)
class Rates:
    """All of them; `by_share`: the discount is a share of the lines, not an amount."""

    labour: Rate
    share: Rate
    cap: Rate
    tax_parts: Rate
    tax_labour: Rate
    tax_cores: Rate
    discount: Rate
    by_share: bool

    def supplies(self, labour: str) -> str:
        """Shop supplies on an amount of labour, as a term."""
        share = cent(f"{labour}*{self.share.at}")
        return f"IF(ISNUMBER({self.cap.at}),MIN({share},{self.cap.at}),{share})"

    def off(self, listed: str) -> str:
        """The discount on all lines, as a term."""
        return cent(f"{listed}*{self.discount.at}") if self.by_share else f"MIN({listed},{self.discount.at})"


def tax(goods: str, listed: str, off: str, rate: str) -> str:
    """A tax on some of the lines less their part of the discount, as a term."""
    part = f"IF({listed}=0,0,{cent(f'({off})*({goods})/{listed}')})"
    return cent(f"(({goods})-{part})*{rate}")
