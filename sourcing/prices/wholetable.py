"""A table's rows read all at once, as columns of texts; and which of them need a closer look."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from sourcing.prices import bulk
from sourcing.prices.currencies import row_currencies
from sourcing.prices.legend import Legend
from sourcing.prices.paid import for_one


def read_at_once(legend: Legend) -> dict[str, bulk.Told]:
    """Each column of rows as texts, None where a cell needs a closer look."""
    columns, below = legend.header.columns, legend.below
    spelt, keys = bulk.numbers(below[columns["part_number"]])
    texts: dict[str, bulk.Told] = {"number": spelt, "key": keys, "currency": row_currencies(legend)}
    steps: list[tuple[int, bulk.Told]] = []
    if "price" in columns:
        texts["price"] = _amounts(legend, columns["price"])
    if "description" in columns:
        texts["description"] = bulk.descriptions(below[columns["description"]])
    for name, column, parse in legend.readers:
        if name.isdigit():
            steps.append((int(name), _amounts(legend, column)))
        elif name == "core_charge":
            texts[name] = _amounts(legend, column, zero=True)
        elif name in ("stock", "pack", "minimum"):
            texts[name] = bulk.counts(below[column], parse, 0 if name == "stock" else 1)
        else:
            texts[name] = bulk.by_value(below[column].values, parse)
    units = texts.pop("price_unit", None)
    if units is not None or legend.header.price_pieces != 1:
        texts["price"] = _for_one(legend, texts.get("price", [""] * legend.count), units)
        steps = [(quantity, _for_one(legend, prices, units)) for quantity, prices in steps]
    if steps:
        texts["breaks"] = _joined_steps(steps)
    return texts


def doubtful_rows(legend: Legend, texts: dict[str, bulk.Told]) -> Sequence[int]:
    """The rows, by their index below the header, that must be read by themselves."""
    if 1 in legend.header.breaks or "price" not in texts:
        return range(legend.count)
    doubtful: set[int] = set()
    for name, column in texts.items():
        needed = name in ("number", "price")
        if isinstance(column, str):
            if needed and (column[:1] in ("", "\n") or column[-1:] == "\n" or "\n\n" in column):
                doubtful.update(at for at, text in enumerate(column.split("\n")) if not text)
            continue
        if None in column:
            doubtful.update(at for at, text in enumerate(column) if text is None)
        if needed and "" in column:
            doubtful.update(at for at, text in enumerate(column) if text == "")
    grid = legend.grid
    if grid.doubtful:
        doubtful.update(at for at in range(legend.count) if grid.numbers[legend.start + at] in grid.doubtful)
    return sorted(doubtful)


def _amounts(legend: Legend, column: int, zero: bool = False) -> bulk.Told:
    return legend.money[column].amounts(legend.marks.of[column], zero)


def _for_one(legend: Legend, prices: bulk.Told, units: bulk.Told | None) -> bulk.Texts:
    """Prices for many pieces as the price of one."""
    said = bulk.texts(units) if units is not None else [""] * legend.count
    pieces = legend.header.price_pieces
    return [price if not price else None if unit is None else str(for_one(Decimal(price), int(unit or pieces)))
            for price, unit in zip(bulk.texts(prices), said, strict=True)]  # fmt: skip


def _joined_steps(steps: list[tuple[int, bulk.Told]]) -> bulk.Told:
    """Break columns, each with its quantity, as one column of steps."""
    told = [_step_texts(quantity, texts) for quantity, texts in sorted(steps, key=lambda step: step[0])]
    if len(told) == 1:
        return told[0]
    rows = zip(*map(bulk.texts, told), strict=True)
    if all(isinstance(texts, str) for texts in told):
        return list(map(" ".join, rows))
    return [None if None in row else " ".join(filter(None, row)) for row in rows]


def _step_texts(quantity: int, prices: bulk.Told) -> bulk.Told:
    """A break column's prices with their quantity; lines only where no price is blank."""
    if isinstance(prices, str) and prices[:1] not in ("", "\n") and prices[-1] != "\n" and "\n\n" not in prices:
        return f"{quantity}:" + prices.replace("\n", f"\n{quantity}:")
    return [None if text is None else f"{quantity}:{text}" if text else "" for text in bulk.texts(prices)]
