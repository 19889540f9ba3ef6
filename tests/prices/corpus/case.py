"""A sheet of the corpus and what must be read from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sourcing.prices.layout import Layout


@dataclass(frozen=True)
class Case:
    """One sheet.

    `prices`: each number with its price as text (None: it has none of a single piece); `total`: the sum of prices, repeated rows
    included; `faults`: code and row of each; `asks`: the fields of the questions; `tells`: words that must stand in the notes,
    or in the fault of a refused sheet; `fields`: further fields of rows, by number and name.
    """

    name: str
    file: str
    content: bytes
    prices: Mapping[str, str | None] = field(default_factory=dict)
    total: str = "0"
    faults: tuple[tuple[str, int | None], ...] = ()
    status: str = "read"
    asks: tuple[str, ...] = ()
    tells: tuple[str, ...] = ()
    fields: Mapping[tuple[str, str], object] = field(default_factory=dict)
    header_row: int = 1
    layout: Layout = field(default_factory=Layout)
