"""What a person answers about a sheet's layout, laid over what suppliers.toml declares."""

from __future__ import annotations

import codecs
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from sourcing.prices.layout import FIELDS, Layout, is_field


class NoAnswer(ValueError):
    """An answer that cannot be one: says what is wrong with it and how it is written."""


@dataclass(frozen=True, slots=True)
class Answers:
    """Answers by field; what is not answered is None, or missing from `columns`.

    `columns` gives header texts by field; an empty text says that the sheet has no such column.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    sheet: str | None = None
    header_row: int | None = None
    decimal: str | None = None
    date_order: str | None = None
    encoding: str | None = None

    @property
    def of_sheet(self) -> dict[str, str | int]:
        """What belongs under [supplier.sheet], by its key there."""
        said = {"name": self.sheet, "header_row": self.header_row, "decimal": self.decimal,
                "date_order": self.date_order, "encoding": self.encoding}  # fmt: skip
        return {key: value for key, value in said.items() if value is not None}

    @property
    def any(self) -> bool:
        return bool(self.columns or self.of_sheet)

    def over(self, layout: Layout) -> Layout:
        """A layout with these answers in place of what it said."""
        return replace(
            layout,
            columns={**layout.columns, **self.columns},
            sheet=self.sheet if self.sheet is not None else layout.sheet,
            header_row=self.header_row if self.header_row is not None else layout.header_row,
            decimal=self.decimal or layout.decimal,
            date_order=self.date_order or layout.date_order,
            encoding=self.encoding or layout.encoding,
        )


def answers_of(
    columns: Iterable[str],
    sheet: str | None = None,
    header_row: int | None = None,
    decimal: str | None = None,
    date_order: str | None = None,
    encoding: str | None = None,
) -> Answers:
    """Answers as they are typed: each of `columns` is FIELD=HEADER.

    Raises NoAnswer where one is not of that form, names no field of a price sheet, or answers twice.
    """
    given: dict[str, str] = {}
    for typed in columns:
        name, equals, header = typed.partition("=")
        name = name.strip().lower().replace("-", "_").replace(" ", "_")
        if not equals or not is_field(name):
            raise NoAnswer(
                f'"{typed}": expected FIELD=HEADER, with FIELD one of {", ".join(FIELDS)} or 5+ and the like for a break'
            )
        if given.setdefault(name, header.strip()) != header.strip():
            raise NoAnswer(f'{name} is answered twice: "{given[name]}" and "{header.strip()}"')
    if decimal is not None and decimal not in (".", ","):
        raise NoAnswer(f'"{decimal}": expected a decimal mark, "." or ","')
    if date_order is not None and date_order not in ("dmy", "mdy", "ymd"):
        raise NoAnswer(f'"{date_order}": expected dmy, mdy or ymd')
    if encoding is not None and not _known(encoding):
        raise NoAnswer(f'"{encoding}": expected the name of an encoding, such as utf-8 or windows-1252')
    return Answers(given, sheet, header_row, decimal, date_order, encoding)


def _known(encoding: str) -> bool:
    try:
        codecs.lookup(encoding)
    except (LookupError, ValueError):
        return False
    return True
