"""What a cell says: part numbers kept as text, amounts never guessed, breaks as columns and as rows."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

import pytest

from sourcing.prices.amounts import Unread, amount_of, number_of
from sourcing.prices.cells import stock_of
from sourcing.prices.declared import SheetLayout
from sourcing.prices.layout import Layout
from sourcing.prices.sheet import PriceBreak, Question

from .making import HEAD, codes, edited, prices, read, read_rows, xlsx_bytes


def test_part_numbers_stay_as_they_are_written(tmp_path):
    spelt = ["00123", "5E5", "1/2-3", "AB 12-34", "1.10", "0"]
    sheet = read_rows(tmp_path, [HEAD, *([number, "", "5.00"] for number in spelt)])
    assert [row.part_number.spelt for row in sheet.rows] == spelt


def test_part_numbers_stored_as_numbers_lose_their_decimal_point(tmp_path):
    sheet = read(tmp_path, xlsx_bytes([HEAD, [10000, "", 5], [123456789012, "", 6], [12.5, "", 7]]))
    assert list(prices(sheet)) == ["10000", "123456789012", "12.5"]


def test_zeros_that_a_number_format_shows_are_kept(tmp_path):
    book = xlsx_bytes(
        [HEAD, [123, "", 5], [71002, "", 6], [77, "", 7]], {(1, 0): "00000", (2, 0): "000-0000", (3, 0): "0"}
    )
    assert list(prices(read(tmp_path, book))) == ["00123", "007-1002", "77"]


def test_numbers_that_a_spreadsheet_has_spoilt_are_reported(tmp_path):
    sheet = read(tmp_path, xlsx_bytes([HEAD, [date(2026, 12, 3), "", 5], [1234567890123456789, "", 6], ["A-1", "", 7]]))
    assert codes(sheet) == [("unread-row", 2), ("unread-row", 3)]
    assert "beyond recovery" in str(sheet.faults[0])
    assert codes(read_rows(tmp_path, [HEAD, ["1.23E+05", "", "5.00"]])) == [("unread-row", 2)]


@pytest.mark.parametrize(
    "texts, expected",
    [
        (["12.50", "1,234.50"], ["12.50", "1234.50"]),
        (["12,50", "1.234,50"], ["12.50", "1234.50"]),
        (["1 234,50", "7,00"], ["1234.50", "7.00"]),
        (["1'234.50", "7.00"], ["1234.50", "7.00"]),
        (["12.50", "1,234"], ["12.50", "1234"]),
        (["12,50", "1.234"], ["12.50", "1234"]),
        (["1,234,567", "7"], ["1234567", "7"]),
        (["$12.50", "US$ 1,234.50"], ["12.50", "1234.50"]),
        (["12,50 €", "EUR 7"], ["12.50", "7"]),
        (["12,-", "7,50 EUR"], ["12", "7.50"]),
        (["0,125", "1,234"], ["0.125", "1.234"]),
    ],
)
def test_prices_as_text(tmp_path, texts, expected):
    sheet = read_rows(tmp_path, [HEAD, *([f"A-{n}", "", text] for n, text in enumerate(texts))], separator=";")
    assert (sheet.status, sheet.faults, list(prices(sheet).values())) == ("read", (), expected)


def test_an_open_decimal_mark_is_asked_about_and_can_be_declared(tmp_path):
    rows = [HEAD, ["A-1", "", "1,234"], ["A-2", "", "5"]]
    asked = read_rows(tmp_path, rows, separator=";")
    assert (asked.status, asked.questions) == ("unsure", (Question("decimal", (".", ",")),))
    assert (
        prices(read_rows(tmp_path, rows, Layout.declared({}, SheetLayout(decimal=",")), separator=";"))["A-1"]
        == "1.234"
    )
    assert (
        prices(read_rows(tmp_path, rows, Layout.declared({}, SheetLayout(decimal=".")), separator=";"))["A-1"] == "1234"
    )


def test_commas_that_separate_prove_that_decimals_are_written_with_a_point(tmp_path):
    rows = [HEAD, ["A-1", "", "52.765"], ["A-2", "", "96.753"]]
    sheet = read_rows(tmp_path, rows)
    assert (sheet.decimal, prices(sheet)) == (".", {"A-1": "52.765", "A-2": "96.753"})
    for separator in ";\t|":
        assert read_rows(tmp_path, rows, separator=separator).questions == (Question("decimal", (".", ",")),)


def test_commas_that_separate_prove_nothing_of_amounts_in_quotation_marks(tmp_path):
    for text in ('A-1,"52.765"\n', 'A-1,"52,765"\n', 'A-1,52.765\nA-2,"52,765"\n', 'A-1,"$ 52.765"\n'):
        sheet = read(tmp_path, f"Part No,Price\n{text}".encode())
        assert sheet.questions == (Question("decimal", (".", ",")),), text


def test_a_comma_that_an_amount_proves_is_believed_whatever_separates(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "", "52.765"], ["A-2", "", "9,50"]])
    assert (sheet.decimal, prices(sheet)) == (",", {"A-1": "52765", "A-2": "9.50"})


def test_a_sheet_tells_the_marks_of_its_amounts_and_numbers_need_none(tmp_path):
    assert read(tmp_path, xlsx_bytes([HEAD, ["A-1", "", 52.765]])).decimal == ""
    for texts, mark in ((["5", "7"], ""), (["5", "7.25"], "."), (["5", "7,25"], ","), (["5.25", "7,25"], ",.")):
        rows = [HEAD, *([f"A-{n}", "", text] for n, text in enumerate(texts))]
        assert read_rows(tmp_path, rows, separator=";").decimal == mark


def test_in_a_column_of_mixed_marks_only_what_is_certain_is_read(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "", "12.50"], ["A-2", "", "7,25"], ["A-3", "", "1,234"]], separator=";")
    assert prices(sheet) == {"A-1": "12.50", "A-2": "7.25"}
    assert codes(sheet) == [("unread-price", 4)]


@pytest.mark.parametrize(
    "cell",
    ["", "0", "0.00", "-5.00", "(12.50)", "-12,50", "call", "on request", "n/a", "-", "10 for 95.00", "12.50 / 10.00", "1.2.3",
     "12 50", "1,23,456", "100000000", "12.50%", "NaN", "1e5", "TBA"],
)  # fmt: skip
def test_what_is_no_price_is_a_fault_and_never_a_zero(tmp_path, cell):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "x", cell], ["A-2", "y", "5.00"]], separator=";")
    assert codes(sheet) == [("unread-price", 2)]
    assert (set(sheet.barred), prices(sheet)) == ({"A1"}, {"A-2": "5.00"})
    assert sheet.faults[0].file and sheet.faults[0].place == "Price" and sheet.faults[0].remedy


def test_numbers_are_read_as_they_were_typed():
    assert [str(number_of(value)) for value in (12.1, 0.1 + 0.2, 1.005, 10000.0, 512.3000000000001)] == [
        "12.1", "0.3", "1.005", "10000", "512.3"]  # fmt: skip
    for value in (0, -1, 1e9, float("nan"), float("inf"), True is None):
        assert not isinstance(amount_of(value, "."), Decimal)


def test_error_cells_and_formulas_without_a_value_are_faults_and_not_blanks(tmp_path):
    head = [*HEAD, "Stock", "5+"]
    book = xlsx_bytes([head, ["A-1", "x", 12.25, 1, 11.5], ["A-2", "y", 8.5, 2, 7.25], ["A-3", "z", 6, 3, 5]])
    spoilt = edited(book, lambda xml: xml.replace(b'<c r="C2"><v>12.25</v>', b'<c r="C2" t="e"><v>#REF!</v>')
                    .replace(b'<c r="E3"><v>7.25</v>', b'<c r="E3"><f>C3*0.9</f><v></v>'))  # fmt: skip
    sheet = read(tmp_path, spoilt)
    assert codes(sheet) == [("unread-price", 2), ("unread-cell", 3)]
    assert [fault.found for fault in sheet.faults] == ["#REF!", "a formula without a stored value"]
    assert list(prices(sheet)) == ["A-3"]


@pytest.mark.parametrize(
    "head, cell", [("Stock", "many"), ("Stock", "2.5"), ("Stock", "-1"), ("Pack", "0"), ("Min Qty", "a few"),
                   ("Lead Time", "soon"), ("Valid Until", "31.02.2026"), ("Core Charge", "ask"), ("5+", "call"), ("5+", "0")],
)  # fmt: skip
def test_another_cell_that_cannot_be_read_bars_its_number(tmp_path, head, cell):
    sheet = read_rows(tmp_path, [[*HEAD, head], ["A-1", "x", "5.00", cell], ["A-2", "y", "6.00", ""]])
    assert codes(sheet) == [("unread-cell", 2)]
    assert (list(prices(sheet)), sheet.faults[0].place) == (["A-2"], head)


def test_breaks_as_columns(tmp_path):
    head = [*HEAD, "5-9", "10+"]
    rows = [["A-1", "", "5.00", "4.50", "4.00"], ["A-2", "", "6.00", "", "5.00"], ["A-3", "", "", "3.00", ""]]
    sheet = read_rows(tmp_path, [head, *rows])
    assert [row.breaks for row in sheet.rows] == [
        (PriceBreak(5, Decimal("4.50")), PriceBreak(10, Decimal("4.00"))),
        (PriceBreak(10, Decimal("5.00")),),
        (PriceBreak(5, Decimal("3.00")),),
    ]
    assert (sheet.rows[2].price, sheet.tables[0].price_sum) == (None, Decimal("14.00"))


def test_a_column_of_breaks_from_one_is_the_price(tmp_path):
    sheet = read_rows(tmp_path, [["Part No", "1-4", "5+"], ["A-1", "5.00", "4.50"]])
    assert (sheet.rows[0].price, sheet.rows[0].breaks) == (Decimal("5.00"), (PriceBreak(5, Decimal("4.50")),))


def test_breaks_that_hold_for_one_quantity_only(tmp_path):
    sheet = read_rows(tmp_path, [["Part No", "1-1", "2-2", "3-4"], ["A-1", "5.00", "4.50", "4.00"]])
    assert sheet.rows[0].price == Decimal("5.00")
    assert sheet.rows[0].breaks == (PriceBreak(2, Decimal("4.50")), PriceBreak(3, Decimal("4.00")))


def test_breaks_as_rows(tmp_path):
    head = ["Part No", "Qty From", "Price", "Stock"]
    rows = [head, ["A-1", "1", "5.00", "8"], ["A-1", "5", "4.50", ""], ["", "10", "4.00", ""], ["B-1", "5", "2.00", ""]]
    sheet = read_rows(tmp_path, rows)
    assert [(row.part_number.spelt, row.price, row.stock, row.row) for row in sheet.rows] == [
        ("A-1", Decimal("5.00"), 8, 2), ("B-1", None, None, 5)]  # fmt: skip
    assert sheet.rows[0].breaks == (PriceBreak(5, Decimal("4.50")), PriceBreak(10, Decimal("4.00")))
    assert sheet.tables[0].rows == 4


def test_breaks_as_rows_that_contradict_each_other_bar_the_number(tmp_path):
    head = ["Part No", "Qty From", "Price", "Stock"]
    sheet = read_rows(tmp_path, [head, ["A-1", "5", "4.50", ""], ["A-1", "5", "4.40", ""]])
    assert codes(sheet) == [("two-prices", 3)]
    sheet = read_rows(tmp_path, [head, ["A-1", "1", "4.50", "3"], ["A-1", "5", "4.40", "4"]])
    assert (codes(sheet), sheet.rows) == ([("two-prices", 3)], ())


def test_a_number_at_two_prices_is_barred_and_the_fault_names_both_rows(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["AB 1-2", "x", "5.00"], ["C", "y", "6.00"], ["ab12", "x", "5.50"]])
    assert codes(sheet) == [("two-prices", 4)]
    assert sheet.faults[0].found == "5.00 in row 2 and 5.50 in row 4"
    assert (set(sheet.barred), list(prices(sheet))) == ({"AB12"}, ["C"])
    assert sheet.tables[0].rows == 3


def test_a_number_that_stands_twice_alike_counts_once(tmp_path):
    sheet = read_rows(tmp_path, [[*HEAD, "Stock"], ["A-1", "x", "5.00", "3"], ["A-1", "called y", "5.0", "3"]])
    assert (sheet.faults, prices(sheet), sheet.tables[0].rows) == ((), {"A-1": "5.00"}, 2)
    other = read_rows(tmp_path, [[*HEAD, "Stock"], ["A-1", "x", "5.00", "3"], ["A-1", "x", "5.00", "4"]])
    assert codes(other) == [("two-prices", 3)]


def test_a_good_row_does_not_save_a_number_that_a_bad_row_bars(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "x", "5.00"], ["A-1", "x", "call"]])
    assert (codes(sheet), sheet.rows, set(sheet.barred)) == ([("unread-price", 3)], (), {"A1"})


@pytest.mark.parametrize(
    "head, cell, ours, currency",
    [("Price (EUR)", "5", "", "EUR"), ("Price $", "5", "CAD", "CAD"), ("Price", "$5.00", "", "USD"), ("Price", "£5.00", "", "GBP"),
     ("Price", "$5.00", "EUR", "USD"), ("Price", "5.00 CHF", "", "CHF"), ("Price", "5.00", "EUR", "")],
)  # fmt: skip
def test_the_currency_that_a_sheet_names(tmp_path, head, cell, ours, currency):
    sheet = read_rows(tmp_path, [["Part No", head], ["A-1", cell]], Layout(currency=ours))
    assert (sheet.rows[0].currency, sheet.tables[0].currency) == (currency, currency)


def test_two_currencies_in_one_row_bar_it(tmp_path):
    sheet = read_rows(tmp_path, [["Part No", "Cur", "Price"], ["A-1", "EUR", "£5.00"]])
    assert codes(sheet) == [("unread-cell", 2)]


def test_dates_come_through_as_dates(tmp_path):
    head = [*HEAD, "Valid Until"]
    book = xlsx_bytes([head, ["A-1", "", 5, date(2026, 9, 30)], ["A-2", "", 5, datetime(2026, 10, 1)]])
    assert [row.valid_until for row in read(tmp_path, book).rows] == [date(2026, 9, 30), date(2026, 10, 1)]
    rows = [head, ["A-1", "", "5.00", "04/05/2026"], ["A-2", "", "5.00", "25/12/2026"], ["A-3", "", "5.00", "1.2.26"]]
    assert [row.valid_until for row in read_rows(tmp_path, rows).rows] == [
        date(2026, 5, 4),
        date(2026, 12, 25),
        date(2026, 2, 1),
    ]
    asked = read_rows(tmp_path, rows[:2])
    assert asked.questions == (Question("date_order", ("dmy", "mdy")),)
    declared = read_rows(tmp_path, rows[:2], Layout.declared({}, SheetLayout(date_order="mdy")))
    assert declared.rows[0].valid_until == date(2026, 4, 5)


@pytest.mark.parametrize(
    ("cell", "pieces"),
    [(12, 12), ("0", 0), ("10+", 10), (">10", 10), ("over 25", 25), ("mehr als 5", 5), ("out of stock", 0), ("Nein", 0), ("нет", 0),
     ("épuisé", 0), ("yes", None), ("In stock", None), ("call", None), ("auf Anfrage", None), ("есть", None), ("-", None),
     ("✓", None), ("", None)],
)  # fmt: skip
def test_stock_is_read_from_numbers_and_from_words(cell: object, pieces: int | None) -> None:
    """A word that says some are there is stock that is not stated: it can be bought, and the quote says to confirm it."""
    assert stock_of(cell, "") == pieces  # type: ignore[arg-type]


@pytest.mark.parametrize("cell", ["Tuesday", "12 or 13", "-3", 2.5, "see page 4"])
def test_what_is_no_stock_is_not_guessed(cell: object) -> None:
    assert isinstance(stock_of(cell, ""), Unread)  # type: ignore[arg-type]
