"""What the sheets of a supplier that are on file are read as by a layout that is typed."""

from __future__ import annotations

from pathlib import Path

from sourcing.faults import BadInput
from sourcing.prices.cache import Cache
from sourcing.prices.dated import dated_sheets
from sourcing.prices.layout import Layout
from sourcing.prices.sheet import read_sheet
from sourcing.prices.sheetwords import bought_words, field_words, in_words
from sourcing.prices.suppliers import suppliers_of
from sourcing.shop import read_shop

NEWEST = 3  # sheets that are looked at


def sheets_read(catalogs: Path, text: str, code: str) -> tuple[str, ...]:
    """A line for each of the newest sheets, where `text` stood in suppliers.toml. Raises BadInput."""
    supplier = suppliers_of(text, catalogs / "suppliers.toml").get(code)
    if supplier is None:
        return ()
    currency = read_shop(catalogs / "shop.toml").currency
    filed, _ = dated_sheets(catalogs / "price-sheets" / code)
    newest = [(one.path, supplier.layout(currency, one.day)) for one in reversed(filed[-NEWEST:])]
    return tuple(f"{path.name}: {_read(path, layout)}" for path, layout in newest)


def _read(path: Path, layout: Layout) -> str:
    try:
        sheet = read_sheet(path, layout, Cache())
    except BadInput as error:
        return str(error.faults[0])
    if sheet.questions:
        open_ones = ", ".join(field_words(question.field).replace("_", " ") for question in sheet.questions)
        return f"a question would be open, and no price of it would count: {open_ones}"
    if sheet.status != "read":
        return f"refused. {in_words(sheet.faults[0])}" if sheet.faults else "refused"
    return bought_words(sheet)
