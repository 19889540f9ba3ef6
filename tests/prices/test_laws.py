"""Laws: rows written in any layout that we claim, and read back, are the rows."""

from __future__ import annotations

import tempfile
from datetime import date
from decimal import Decimal
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sourcing.partnumber import canonical
from sourcing.prices.amounts import AMOUNT, Unread, amount_of, decided_mark, mark_needed
from sourcing.prices.grid import Grid
from sourcing.prices.layout import Layout
from sourcing.prices.lines import Lines
from sourcing.prices.text import text_grid
from sourcing.prices.understood import understood
from sourcing.prices.workbook import workbook_grids

from .making import csv_bytes, ods_bytes, read, xls_bytes, xlsx_bytes

TITLES = {
    "part_number": ("Part Number", "Item No", "Artikelnummer", "Référence"),
    "description": ("Description", "Bezeichnung", "Désignation"),
    "price": ("Net Price", "Price", "Nettopreis", "Prix HT"),
    "core_charge": ("Core Charge", "Pfand"),
    "stock": ("Stock", "On Hand", "Bestand"),
    "pack": ("Pack", "VPE"),
    "minimum": ("Min Qty", "MOQ"),
    "lead_days": ("Lead Days", "Lieferzeit (Tage)"),
    "valid_until": ("Valid Until", "gültig bis"),
    "5": ("5+", "5-9", "ab 5"),
    "10": ("10+", "Qty 10"),
}
numbers = st.from_regex(r"[A-Z0-9]{1,4}(-[A-Z0-9]{1,4})?", fullmatch=True).filter(
    lambda text: any(c.isdigit() for c in text))  # fmt: skip
money = st.integers(1, 9_999_999).map(lambda cents: Decimal(cents) / 100)
optional = {"core_charge": money, "stock": st.integers(0, 999), "pack": st.integers(1, 50), "minimum": st.integers(1, 50),
            "lead_days": st.integers(0, 60), "5": money, "10": money,
            "valid_until": st.dates(date(2020, 1, 1), date(2039, 12, 31))}  # fmt: skip
texts = st.sampled_from(["", "block, rebuilt", "Sieb für flache Wanne", '5" hose; long'])
row = st.fixed_dictionaries(
    {"part_number": numbers, "description": texts, "price": money},
    optional=optional,
)


def grouped(amount: Decimal, mark: str, thousands: str) -> str:
    return f"{amount:,.2f}".replace(",", "T").replace(".", mark).replace("T", thousands)


@st.composite
def layouts(draw):
    """A header, a way to write amounts and dates, and what stands around and between the rows."""
    names = draw(st.permutations(sorted(TITLES)))
    titles = {name: draw(st.sampled_from(TITLES[name])) for name in names}
    mark = draw(st.sampled_from(".,"))
    thousands = draw(st.sampled_from(["", " ", "'", "," if mark == "." else "."]))
    before = draw(st.sampled_from([[], [["A supplier"]], [["Prices 2026"], [], ["All prices net"]]]))
    between = draw(st.sampled_from([[], ["HEADING"], [""], ["again"]]))
    after = draw(st.sampled_from([[], [["* a footnote"]], [[], ["Note: all prices without tax"]]]))
    return names, titles, mark, thousands, before, between, after, draw(st.integers(0, 2))


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(row, min_size=1, max_size=8, unique_by=lambda r: canonical(r["part_number"])), layouts(),
       st.sampled_from(["csv", "csv;", "tab", "utf-16", "xlsx", "xls", "ods"]))  # fmt: skip
def test_rows_written_in_any_layout_and_read_back_are_the_rows(rows, layout, kind):
    names, titles, mark, thousands, before, between, after, left = layout

    def cell(name, value):
        if value is None:
            return ""
        if kind in ("xlsx", "xls", "ods"):
            return (
                value.isoformat() if isinstance(value, date) else float(value) if isinstance(value, Decimal) else value
            )
        return grouped(value, mark, thousands) if isinstance(value, Decimal) else str(value)

    margin = [""] * left
    head = [*margin, *(titles[name] for name in names)]
    grid = [*before, head]
    for one in rows:
        for line in between:
            grid.append(head if line == "again" else [*margin, line])
        grid.append([*margin, *(cell(name, one.get(name)) for name in names)])
    grid += after
    write = {
        "csv": lambda: csv_bytes(grid),
        "csv;": lambda: csv_bytes(grid, ";", "cp1252"),
        "tab": lambda: csv_bytes(grid, "\t"),
        "utf-16": lambda: csv_bytes(grid, "|", "utf-16"),
        "xlsx": lambda: xlsx_bytes(grid),
        "xls": lambda: xls_bytes(grid),
        "ods": lambda: ods_bytes(grid),
    }
    content = write[kind]()
    with tempfile.TemporaryDirectory() as folder:
        sheet = read(Path(folder), content)
    assert (sheet.status, sheet.faults) == ("read", ())
    assert len(sheet.rows) == len(rows)
    for one, found in zip(rows, sheet.rows, strict=True):
        assert found.part_number.spelt == one["part_number"]
        assert found.description == one["description"]
        assert found.price == one["price"]
        assert {str(step.quantity): step.price for step in found.breaks} == {q: one[q] for q in ("5", "10") if q in one}
        for name in ("core_charge", "stock", "pack", "minimum", "lead_days", "valid_until"):
            assert getattr(found, name) == one.get(name)
    assert sheet.tables[0].price_sum == sum(one["price"] for one in rows)
    grids = workbook_grids(content) if kind in ("xlsx", "xls", "ods") else [text_grid(content)]
    assert understood(grids, Layout()) == understood(grids, Layout(), careful=True)


# Cells that are a price, nearly one, or none: what is read at once must be what is read row by row.
odd = st.one_of(
    money.map(str), st.sampled_from(["", "0", "0.00", "-", "call", "1.234", "12,50", "$5", "5 EUR",
                                      "1e3", "007", " 5 ", "TOTAL", "5\n6", "=1"]),
    st.floats(allow_nan=True), st.integers(-5, 10**9),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.one_of(numbers, odd), odd, odd, odd, odd), min_size=1, max_size=12), st.booleans())
def test_columns_read_at_once_are_the_rows_read_by_themselves(rows, text):
    head = ["Part No", "Price", "Core Charge", "Stock", "5+"]
    cells = [head, *([str(cell) if text else cell for cell in row] for row in rows)]
    lines = Lines(text=text)
    lines.take(cells)
    grid = Grid("S", range(1, len(cells) + 1), cells, text=text, lines=lines)
    assert understood([grid], Layout()) == understood([grid], Layout(), careful=True)


@given(st.lists(st.lists(odd, min_size=1, max_size=4), min_size=1, max_size=12), st.integers(0, 3))
def test_a_column_as_lines_says_what_its_cells_say(rows, column):
    lines = Lines()
    for row in rows:
        lines.take([row])
    told = lines.of(column, 0)
    if told is not None and told[1]:
        assert told[0].split("\n") == [row[column] if column < len(row) else "" for row in rows]


@given(st.lists(money, min_size=1, max_size=20), st.sampled_from(".,"), st.sampled_from(["", " ", "'", "other"]))
def test_amounts_written_one_way_are_read_as_they_were(amounts, mark, thousands):
    thousands = {".": ",", ",": "."}[mark] if thousands == "other" else thousands
    texts = [grouped(amount, mark, thousands) for amount in amounts]
    decided = decided_mark(texts)
    assert decided == mark
    assert [amount_of(text, decided) for text in texts] == amounts


@given(st.text(alphabet="0123456789.,- '€$()/x", max_size=12), st.sampled_from([".", ",", "", "?", "!"]))
def test_an_amount_is_read_by_its_own_digits_or_not_at_all(text, mark):
    value = amount_of(text, mark)
    assert value is None or isinstance(value, (Decimal, Unread))
    if isinstance(value, Decimal):
        assert value > 0
        written = "".join(c for c in text if c.isdigit()).lstrip("0")
        assert f"{value:f}".replace(".", "").lstrip("0") == written
        body = AMOUNT.fullmatch(text.strip())
        assert body and (mark_needed(body["body"]) != "?" or mark in (".", ","))
