"""The fields of a supplier: its terms, and how its price sheets are laid out."""

from __future__ import annotations

from sourcing.page.fields import Field, Kind
from sourcing.prices.layout import FIELDS

SUPPLIER = Kind("supplier", "supplier", "Suppliers", "Who sells to you, on what terms.")
LAYOUT = Kind(
    "layout",
    "layout",
    "Layouts of sheets",
    "Which column of a supplier's sheets is what, where it is not recognised. Filing a sheet writes here what was answered for "
    "it; correct it where an answer was wrong. The sheets on file are read anew by it.",
    fixed=True,
)
FREIGHT = (
    Field("mode", "Called"),
    Field("days", "Working days", "number", mode="numeric"),
    Field("flat", "Fixed charge", "number", mode="decimal"),
    Field("per_kg", "For each kg", "number", mode="decimal"),
    Field("free_over", "Free from", "number", mode="decimal"),
)
SHEET = (
    Field("name", "Name of the sheet in the workbook"),
    Field("header_row", "Row of the headers", "number", mode="numeric"),
    Field("decimal", "Decimal mark", "pick", options=((".", "point: 12.50"), (",", "comma: 12,50")), blank="found by itself"),
    Field("date_order", "3/4/2026 means", "pick", options=(("dmy", "3 April"), ("mdy", "March 4"), ("ymd", "year first")),
          blank="found by itself"),
    Field("encoding", "Encoding of a text file"),
    Field("separator", "Sign between columns"),
)  # fmt: skip
_COLUMNS = (
    f"A line for each: price = Net price. Without a header its sheets have no such column. A break: 10+ = From 10. "
    f"Columns: {', '.join(field.replace('_', ' ') for field in FIELDS)}."
)


def supplier_fields() -> list[Field]:
    """The fields of a supplier's terms."""
    return [
        Field("code", "Code", needed=True, hint="Your short word for it; also the name of its folder of sheets."),
        Field("name", "Name", needed=True),
        Field("currency", "Its currency", hint="Three letters. Nothing: yours."),
        Field("lead_days", "Working days until it sends", "number", "Where its sheet says nothing.", default=0, mode="numeric"),
        Field("freight", "Ways of sending", "table", "None: you fetch it at its counter, free, the same day.",
              columns=FREIGHT, least=3, one="Way of sending"),
        Field("order_minimum", "Least that the parts of an order come to", "number", default=0, mode="decimal"),
        Field("order_fee", "Paid once on each order", "number", default=0, mode="decimal"),
        Field("core_recovery", "Share of a core charge that comes back", "number", "From 0 to 1. Nothing: all of it.",
              mode="decimal"),
        Field("core_return_cost", "Cost of sending cores back", "number", "Once, where any goes back.", default=0,
              mode="decimal"),
        Field("core_days", "Days within which a core is taken", "number", "Nothing: no end.", mode="numeric"),
        Field("core_needs", "The state that a core must be in"),
        Field("return_days", "Days within which a part is taken back", "number", "Nothing: not at all.", mode="numeric"),
        Field("restock_share", "Share of its price that the supplier keeps", "number", "From 0 to 1.", mode="decimal"),
        Field("breaks", "Price breaks", "pick", default="all-units", options=(
            ("all-units", "all pieces at the price of the step reached"),
            ("incremental", "each piece at the price of its own step"),
        )),
    ]  # fmt: skip


def layout_fields() -> list[Field]:
    """The fields of how a supplier's sheets are laid out, now and before."""
    return [
        Field("columns", "Columns", "headers", _COLUMNS),
        Field("sheet", "How its sheets are written", "group", "Nothing said: found by itself.", columns=SHEET),
        Field("earlier", "Layouts that held until a day", "table",
              "Older sheets on file are read by them; filing a sheet that is laid out otherwise adds one.", spare=False,
              one="Earlier layout",
              columns=(
                  Field("until", "Until", "date"),
                  Field("columns", "Columns", "headers"),
                  Field("sheet", "How they are written", "group", columns=SHEET),
              )),
    ]  # fmt: skip
