"""The currency of each row: as its own column, its amounts or the header name it."""

from __future__ import annotations

from sourcing.prices import bulk
from sourcing.prices.grid import Cell
from sourcing.prices.layout import Layout
from sourcing.prices.legend import Legend
from sourcing.prices.words import currency_named


def row_currencies(legend: Legend) -> bulk.Texts:
    """Each row's currency; None where it names several."""
    header, layout = legend.header, legend.layout
    named: list[list[str]] = []
    if "currency" in header.columns:
        said = legend.below[header.columns["currency"]]
        named.append(bulk.told(said.values, lambda cell: _stated(cell, layout)))
    for amounts in legend.money.values():
        if amounts.text is not None:
            continue
        told = bulk.told(amounts.whole.cells, lambda cell: _beside(cell, layout))
        if any(told):
            named.append(told)
    if not named:
        return [legend.currency] * legend.count
    if len(named) == 1 and not ("" in named[0] and legend.currency):
        return named[0]
    if len(named) == 1:
        return [name or legend.currency for name in named[0]]
    together = [set(names) - {""} for names in zip(*named, strict=True)]
    return [legend.currency if not names else names.pop() if len(names) == 1 else None for names in together]


def row_currency(legend: Legend, cells: list[Cell]) -> tuple[str, str]:
    """A row's currency, and what is doubtful about it."""
    layout = legend.layout
    named = {_stated(legend.header.cell(cells, "currency"), layout)}
    named |= {_beside(cells[column], layout) for column in legend.money if column < len(cells)}
    named.discard("")
    if not named:
        return legend.currency, ""
    return (named.pop(), "") if len(named) == 1 else ("", " and ".join(sorted(named)))


def _stated(cell: Cell, layout: Layout) -> str:
    """The currency that a cell of the column of currencies names."""
    said = str(cell).strip()
    return currency_named(said, layout.currency) or said.upper() if said else ""


def _beside(cell: Cell, layout: Layout) -> str:
    """The currency that stands beside an amount."""
    if type(cell) is str and cell and not (cell[0].isdigit() and cell[-1].isdigit()):
        return currency_named(cell, layout.currency)
    return ""
