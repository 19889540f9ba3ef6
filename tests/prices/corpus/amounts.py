"""What may stand where a price is looked for."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from prices.making import csv_bytes, edited, xlsx_bytes
from sourcing.prices.layout import Layout

from .case import Case

HEAD = ["Part No", "Description", "Net Price"]


def listed(*texts: str) -> bytes:
    return csv_bytes([HEAD, *([f"LB-{20 + n}", "block", text] for n, text in enumerate(texts))], ";")


def priced(*texts: str) -> dict[str, str | None]:
    return {f"LB-{20 + n}": text for n, text in enumerate(texts) if text}


def spoilt_cells() -> bytes:
    book = xlsx_bytes([[*HEAD, "Stock"], ["LB-20", "x", 12.25, 1], ["LB-21", "y", 8.5, 2], ["LB-22", "z", 6, 3]])
    return edited(book, lambda xml: xml.replace(b'<c r="C2"><v>12.25</v>', b'<c r="C2" t="e"><v>#DIV/0!</v>')
                  .replace(b'<c r="C3"><v>8.5</v>', b'<c r="C3"><f>C2*2</f>'))  # fmt: skip


def formulas() -> bytes:
    book = xlsx_bytes([HEAD, ["LB-20", "x", 12.25]])
    return edited(book, lambda xml: xml.replace(b"<v>12.25</v>", b"<f>10+2.25</f><v>12.25</v>"))


SHEETS = [
    Case(
        "words for a price, blanks, zeros and dashes",
        "list.csv",
        listed("on request", "", "0.00", "-", "call", "n/a", "auf Anfrage", "12.50"),
        priced(*[""] * 7, "12.50"),
        "12.50",
        tuple(("unread-price", row) for row in range(2, 9)),
    ),
    Case(
        "currency signs and codes before and after",
        "list.csv",
        listed("$12.50", "US$ 1,234.50", "USD 7", "9.00 USD"),
        priced("12.50", "1234.50", "7", "9.00"),
        "1263.00",
    ),
    Case("a comma for thousands", "list.csv", listed("1,234.50", "7.25"), priced("1234.50", "7.25"), "1241.75"),
    Case("a point for thousands", "list.csv", listed("1.234,50", "7,25"), priced("1234.50", "7.25"), "1241.75"),
    Case("a blank for thousands", "list.csv", listed("1 234,50", "7,25"), priced("1234.50", "7.25"), "1241.75"),
    Case("an apostrophe for thousands", "list.csv", listed("1'234.50", "7.25"), priced("1234.50", "7.25"), "1241.75"),
    Case("a mark that stays open is asked about", "list.csv", listed("1,234", "5"), status="unsure", asks=("decimal",)),
    Case(
        "marks that differ: only what is certain is read",
        "list.csv",
        listed("12.50", "7,25", "1,234"),
        priced("12.50", "7.25", ""),
        "19.75",
        (("unread-price", 4),),
    ),
    Case(
        "two prices in one cell",
        "list.csv",
        listed("12.50 / 11.00", "7.25"),
        priced("", "7.25"),
        "7.25",
        (("unread-price", 2),),
    ),
    Case(
        "prices for a hundred pieces",
        "list.csv",
        csv_bytes([["Part No", "Price per 100"], ["LB-20", "12.50"]]),
        {"LB-20": "0.125"},
        "0.125",
        tells=("prices hold for 100 pieces",),
    ),
    Case(
        "a column that says for how many pieces a price holds",
        "list.csv",
        csv_bytes(
            [
                ["Artikelnummer", "Preis", "Preiseinheit"],
                ["LB-20", "12,50", "100"],
                ["LB-21", "7,25", "1"],
                ["LB-22", "5,00", "C"],
            ],
            ";",
        ),
        {"LB-20": "0.125", "LB-21": "7.25", "LB-22": "0.05"},
        "7.425",
    ),
    Case(
        "a currency for each row",
        "list.csv",
        csv_bytes([["Part No", "Price", "Currency"], ["LB-20", "12.50", "EUR"], ["LB-21", "7.25", "USD"]]),
        {"LB-20": "12.50", "LB-21": "7.25"},
        "19.75",
        fields={("LB-20", "currency"): "EUR", ("LB-21", "currency"): "USD"},
    ),
    Case(
        "dates from and until which a price holds",
        "list.xlsx",
        xlsx_bytes(
            [[*HEAD, "Effective Date", "Expiry Date"], ["LB-20", "x", 12.5, date(2026, 3, 1), date(2026, 9, 30)]]
        ),
        {"LB-20": "12.5"},
        "12.5",
        tells=("dates from which prices hold",),
        fields={("LB-20", "valid_from"): date(2026, 3, 1), ("LB-20", "valid_until"): date(2026, 9, 30)},
    ),
    Case(
        "dates from which prices hold, in an order that stays open",
        "list.csv",
        csv_bytes([[*HEAD, "Effective"], ["LB-20", "x", "12.50", "04/05/2026"], ["LB-21", "x", "7.00", "at once"]]),
        {"LB-20": "12.50", "LB-21": "7.00"},
        "19.50",
        tells=("left out",),
        fields={("LB-20", "valid_from"): None},
    ),
    Case(
        "error cells and a formula without a stored value, by name",
        "list.xlsx",
        spoilt_cells(),
        {"LB-22": "6"},
        "6",
        (("unread-price", 2), ("unread-price", 3)),
    ),
    Case("formulas with their stored values", "list.xlsx", formulas(), {"LB-20": "12.25"}, "12.25"),
    Case(
        "weeks, minimums and a dollar that is another dollar",
        "list.csv",
        csv_bytes([[*HEAD, "MOQ", "Lead time (weeks)"], ["LB-20", "x", "$12.50", "10", "2-3"]]),
        {"LB-20": "12.50"},
        "12.50",
        fields={
            ("LB-20", "minimum"): 10,
            ("LB-20", "lead_days"): 15,
            ("LB-20", "currency"): "CAD",
            ("LB-20", "price"): Decimal("12.50"),
        },
        layout=Layout(currency="CAD"),
    ),
]
