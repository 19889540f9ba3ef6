"""Which row is the header, which column is what, and which rows are none of our business."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from sourcing.prices.declared import SheetLayout
from sourcing.prices.layout import Layout
from sourcing.prices.sheet import Question
from sourcing.prices.words import break_quantity, meaning

from .making import HEAD, codes, csv_bytes, edited, ods_bytes, prices, read, read_rows, xls_bytes, xlsx_bytes


@pytest.mark.parametrize(
    "number, says, price",
    [
        ("Part Number", "Description", "Price"),
        ("Item #", "Part Description", "Dealer Net"),
        ("Artikel-Nr.", "Bezeichnung", "Nettopreis"),
        ("Référence", "Désignation", "Prix HT"),
        ("Código", "Descripción", "Precio neto"),
        ("Codice articolo", "Descrizione", "Prezzo unitario"),
        ("Artikelnummer", "Omschrijving", "Nettoprijs"),
        ("Referência da peça", "Descrição", "Preço líquido"),
        ("Numer części", "Nazwa", "Cena netto"),
        ("Parça No", "Açıklama", "Birim fiyat"),
        ("Артикул", "Наименование", "Цена"),
        ("Код товару", "Назва", "Ціна"),
    ],
)
def test_headers_are_known_in_the_languages_that_suppliers_write(tmp_path, number, says, price):
    sheet = read_rows(tmp_path, [[says, price, number], ["screen", "12.50", "A-1"]])
    assert sheet.status == "read"
    assert sheet.tables[0].columns == {"part_number": number, "description": says, "price": price}
    assert prices(sheet) == {"A-1": "12.50"}


@pytest.mark.parametrize(
    "header, field",
    [
        ("Core Deposit", "core_charge"), ("Pfand", "core_charge"), ("Consigne", "core_charge"),
        ("Qty on hand", "stock"), ("Bestand", "stock"), ("En stock", "stock"), ("Giacenza", "stock"),
        ("VPE", "pack"), ("Pack Qty", "pack"), ("Conditionnement", "pack"),
        ("MOQ", "minimum"), ("Min Order Qty", "minimum"), ("Mindestmenge", "minimum"),
        ("Lead Time (days)", "lead_days"), ("Lieferzeit (Tage)", "lead_days"), ("Délai", "lead_days"),
        ("Valid Until", "valid_until"), ("gültig bis", "valid_until"), ("Valable jusqu'au", "valid_until"),
        ("Break Qty", "quantity"), ("Menge ab", "quantity"), ("Currency", "currency"), ("Währung", "currency"),
        ("Price valid from", "valid_from"), ("Price list", ""), ("Colour", ""),
    ],
)  # fmt: skip
def test_a_header_names_its_field(header, field):
    assert meaning(header)[0] == field


@pytest.mark.parametrize(
    "header", ["5+", "Qty 5", "5-9", "5 – 9", "ab 5", "from 5", "5 +", "5 pcs", "Price 5+", "≥ 5", "ab 5 Stück", "5-5"]
)
def test_a_header_names_a_break(header):
    assert break_quantity(header) == 5


@pytest.mark.parametrize(
    "header", ["Price 2", "2026", "2019-2024", "2020-2020", "9-5", "5-0", "12-14 mm", "5", "Description 5"]
)
def test_a_header_with_a_number_is_not_always_a_break(header):
    assert break_quantity(header) is None


def test_titles_headings_repeated_headers_totals_and_footnotes_are_none_of_our_business(tmp_path):
    rows = [
        ["Price list of a supplier"], [], ["", "All prices net", "2026"], HEAD,
        ["SCREENS"], ["A-1", "screen", "12.50"], [], HEAD, ["", "Plates", ""],
        ["A-2", "plate", "7.00"], ["Total", "", "19.50"], ["Grand total:", "2 items", "19.50"],
        ["", "", ""], ["* Cores within sixty days"], ["Note:", "Prices without tax", ""],
    ]  # fmt: skip
    sheet = read_rows(tmp_path, rows)
    assert (sheet.status, sheet.faults, prices(sheet)) == ("read", (), {"A-1": "12.50", "A-2": "7.00"})
    assert [(row.row, row.description) for row in sheet.rows] == [(6, "screen"), (10, "plate")]
    assert (sheet.tables[0].header_row, sheet.tables[0].rows, sheet.tables[0].price_sum) == (4, 2, Decimal("19.50"))


def test_a_row_that_is_a_part_without_price_is_a_fault_and_not_a_heading(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "screen", "12.50"], ["A-2", "", ""], ["", "loose thing", "3.00"]])
    assert codes(sheet) == [("unread-price", 3), ("unread-row", 4)]
    assert set(sheet.barred) == {"A2"}


def test_a_part_called_total_is_a_part(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["T-9", "Total seal kit", "12.50"], ["", "Total seal kit", "9.00"]])
    assert prices(sheet) == {"T-9": "12.50"}
    assert codes(sheet) == [("unread-row", 3)]


def test_the_same_rows_from_every_kind_of_file(tmp_path):
    rows = [["A supplier"], [], ["", *HEAD, "Stock"], ["", "00123", "screen", 12.1, 4], ["", "A-2", "plate", 7, None]]
    made = [
        xlsx_bytes(rows), ods_bytes(rows), xls_bytes(rows), csv_bytes(rows), csv_bytes(rows, ";"), csv_bytes(rows, "\t"),
        csv_bytes(rows, "|"), csv_bytes(rows, encoding="utf-8-sig"), csv_bytes(rows, encoding="utf-16"),
        csv_bytes(rows, encoding="utf-16-le"),
    ]  # fmt: skip
    for content in made:
        sheet = read(tmp_path, content, name="never believed.txt")
        assert [(row.part_number.spelt, row.price, row.stock, row.row) for row in sheet.rows] == [
            ("00123", Decimal("12.1"), 4, 4), ("A-2", Decimal(7), None, 5)]  # fmt: skip


def test_an_old_encoding_is_told_from_its_bytes_or_declared(tmp_path):
    rows = [["Artikelnummer", "Bezeichnung", "Preis"], ["A-1", "Ölsieb für flache Wanne", "12,50"]]
    assert read_rows(tmp_path, rows, encoding="cp1252", separator=";").rows[0].description == rows[1][1]
    rows = [["Артикул", "Название", "Цена"], ["A-1", "Сетка", "12,50"]]
    layout = Layout.declared({}, SheetLayout(encoding="cp1251"))
    assert read_rows(tmp_path, rows, layout, encoding="cp1251", separator=";").rows[0].description == "Сетка"


def test_an_unknown_encoding_is_refused_by_name(tmp_path):
    sheet = read_rows(tmp_path, [HEAD], Layout.declared({}, SheetLayout(encoding="klingon")))
    assert sheet.status == "refused" and '"klingon"' in str(sheet.faults[0])


def test_sheets_without_a_table_are_passed_over_and_several_tables_are_read(tmp_path):
    book = xlsx_bytes([["Terms"], ["Net 30 days"]], Blocks=[HEAD, ["A-1", "x", 5]], Plates=[HEAD, ["B-1", "y", 6]])
    sheet = read(tmp_path, book)
    assert [(table.sheet, table.rows) for table in sheet.tables] == [("Blocks", 1), ("Plates", 1)]
    only = read(tmp_path, book, Layout.declared({}, SheetLayout(name="Plates")))
    assert prices(only) == {"B-1": "6"}
    missing = read(tmp_path, book, Layout.declared({}, SheetLayout(name="Pumps")))
    assert missing.questions == (Question("sheet", ("Prices", "Blocks", "Plates")),)


def test_a_second_table_below_with_other_columns_is_read_by_its_own_header(tmp_path):
    rows = [HEAD, ["A-1", "screen", "12.50"], [], ["Price", "Part No", "Description"], ["7.00", "B-1", "plate"]]
    sheet = read_rows(tmp_path, rows)
    assert prices(sheet) == {"A-1": "12.50", "B-1": "7.00"}
    assert [table.header_row for table in sheet.tables] == [1, 4]


@pytest.mark.parametrize("one, two", [("Net Price", "Trade Price"), ("Price", "Dealer Price"), ("Price A", "Price B")])
def test_two_prices_that_could_be_ours_raise_a_question(tmp_path, one, two):
    sheet = read_rows(tmp_path, [["Part No", one, two], ["A-1", "5.00", "6.00"]])
    assert (sheet.status, sheet.rows) == ("unsure", ())
    assert sheet.questions == (Question("price", (one, two)),)
    answered = read_rows(tmp_path, [["Part No", one, two], ["A-1", "5.00", "6.00"]], Layout({"price": two}))
    assert prices(answered) == {"A-1": "6.00"}


@pytest.mark.parametrize(
    "ours, other",
    [("Net Price", "List Price"), ("Your price", "MSRP"), ("EK netto", "UVP"), ("Price", "Retail incl. VAT")],
)
def test_our_price_is_told_from_the_list_price(tmp_path, ours, other):
    assert prices(read_rows(tmp_path, [["Part No", other, ours], ["A-1", "9.00", "6.00"]])) == {"A-1": "6.00"}


def test_a_price_with_tax_is_never_taken_unasked(tmp_path):
    sheet = read_rows(tmp_path, [["Part No", "Price incl. VAT"], ["A-1", "9.00"]])
    assert (sheet.status, sheet.questions) == ("unsure", (Question("price", ("Price incl. VAT",)),))


def test_a_running_number_is_no_part_number(tmp_path):
    rows = [["Item", "Part No", "Price"], ["1", "A-1", "5.00"], ["2", "A-2", "6.00"]]
    assert prices(read_rows(tmp_path, rows)) == {"A-1": "5.00", "A-2": "6.00"}


def test_a_plain_quantity_means_stock_where_a_zero_stands_and_is_asked_about_otherwise(tmp_path):
    head = ["Part No", "Qty", "Price"]
    assert read_rows(tmp_path, [head, ["A-1", "0", "5.00"], ["A-2", "3", "6.00"]]).rows[0].stock == 0
    asked = read_rows(tmp_path, [head, ["A-1", "2", "5.00"], ["A-2", "3", "6.00"]])
    assert asked.questions == (Question("stock", ("Qty",)),)
    none = read_rows(tmp_path, [head, ["A-1", "2", "5.00"]], Layout({"stock": ""}))
    assert none.status == "read" and none.rows[0].stock is None


def test_a_declared_layout_that_no_longer_fits_is_said_to_have_changed(tmp_path):
    sheet = read_rows(tmp_path, [HEAD, ["A-1", "x", "5.00"]], Layout({"price": "Nettopreis"}))
    assert sheet.status == "unsure"
    assert sheet.questions == (Question("price", ("Part No", "Description", "Price"), "Nettopreis"),)
    assert codes(sheet) == [("changed-layout", 1)] and '"Nettopreis"' in str(sheet.faults[0])


def test_a_declared_header_row_is_taken(tmp_path):
    rows = [["Part", "Price"], ["Part", "Price"], ["A-1", "5.00"]]
    sheet = read_rows(tmp_path, rows, Layout.declared({}, SheetLayout(header_row=2)))
    assert sheet.tables[0].header_row == 2


def test_every_field_of_a_row(tmp_path):
    head = [
        "Part No",
        "Description",
        "Price",
        "Cur",
        "Core Charge",
        "Stock",
        "Pack",
        "Min Qty",
        "Lead Time",
        "Valid Until",
    ]
    cells = ["A-1", "block", "1,012.50", "EUR", "90", "0", "5 pcs", "10", "2-3 weeks", "2026-09-30"]
    row = read_rows(tmp_path, [head, cells]).rows[0]
    assert (row.price, row.currency, row.core_charge, row.stock) == (Decimal("1012.50"), "EUR", Decimal(90), 0)
    assert (row.pack, row.minimum, row.lead_days, row.valid_until) == (5, 10, 15, date(2026, 9, 30))
    blank = read_rows(tmp_path, [head, ["A-1", "", "5.00", *[""] * 7]]).rows[0]
    assert (blank.currency, blank.core_charge, blank.stock, blank.pack) == ("", None, None, None)
    assert (blank.minimum, blank.lead_days, blank.valid_until) == (None, None, None)


def test_a_list_without_price_or_number_is_refused(tmp_path):
    sheet = read_rows(tmp_path, [["Name", "Born"], ["x", "1999"]])
    assert (sheet.status, codes(sheet)) == ("refused", [("refused-sheet", None)])


def test_hidden_sheets_are_read_like_the_others(tmp_path):
    book = xlsx_bytes([HEAD, ["A-1", "x", 5]], Old=[HEAD, ["A-1", "x", 4]])
    hidden = edited(book, lambda xml: xml.replace(b'name="Old"', b'name="Old" state="hidden"'), "xl/workbook.xml")
    assert codes(read(tmp_path, hidden)) == [("two-prices", 2)]
