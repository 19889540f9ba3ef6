"""What suppliers.toml may say of how a supplier's sheets are written."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sourcing.reading import Record


class SheetLayout(Record):
    """[supplier.sheet]: how a supplier's sheets are written, where recognition needs help."""

    name: str | None = None
    header_row: Annotated[int, Field(ge=1, le=1_048_576)] | None = None
    decimal: Literal[".", ","] | None = None
    date_order: Literal["dmy", "mdy", "ymd"] | None = None
    encoding: str | None = None
    separator: Annotated[str, Field(min_length=1, max_length=1)] | None = None
