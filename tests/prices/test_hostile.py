"""Files that are damaged, locked, crafted, or no price sheets: refused by name, quickly, and never a crash."""

from __future__ import annotations

import os
import zipfile

import pytest

from sourcing.prices import watched
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe
from sourcing.prices.sheet import read_sheet, read_sheets
from sourcing.prices.watched import read_watched

from .making import FIRST_SHEET, HEAD, csv_bytes, edited, prices, read, xlsx_bytes, zipped

GOOD = xlsx_bytes([HEAD, ["A-1", "x", 12.25]])
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def more_rows(rows: bytes) -> bytes:
    return edited(GOOD, lambda xml: xml.replace(b"</sheetData>", rows + b"</sheetData>"))


REFUSED = {
    "empty": (b"", "an empty file"),
    "blank": (b" \r\n\r\n", "an empty file"),
    "web page": (b"\n<!DOCTYPE html><html><body>Your session has expired</body></html>", "a web page"),
    "xml": (b'<?xml version="1.0"?><Workbook/>', "an XML document"),
    "json": (b'{"error": "not found"}', "a JSON document"),
    "pdf": (b"%PDF-1.4 ...", "a PDF document"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(50), "a picture"),
    "binary": (b"Part No,Price\nA-1,5\x00.0\n", "a binary file"),
    "locked workbook": (OLE + bytes(600) + "EncryptedPackage".encode("utf-16-le") + bytes(600), "locked with a password"),
    "damaged old workbook": (OLE + b"\xff" * 6000, "damaged"),
    "cut in half": (GOOD[: len(GOOD) // 2], "damaged or cut-off"),
    "cut at the end": (GOOD[:-30], "damaged or cut-off"),
    "broken markup": (edited(GOOD, lambda xml: xml[:200] + b"\x00\xff<<<>>"), "damaged or cut-off"),
    "another document": (zipped({"word/document.xml": b"<w/>"}), "another kind"),
    "bomb": (more_rows(b" " * 60_000_000), "unpacks beyond all reason"),
    "far cell": (more_rows(b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'), "1048576 rows by 16384 columns"),
    "too many rows": (
        more_rows(b"".join(b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (n, n) for n in range(3, 500_000))), "memory"),
    "open quote": (b'Part No,Price,Description\nA-1,5.00,"12 inch\nA-2,6.00,x\n', "a quotation mark that opens"),
    "wrong encoding": ("Part No;Preis\nA\x81;5,00\n".encode("latin-1"), "not in UTF-8 or WINDOWS-1252"),
    "cells without end": (b";" * 7_000_000, "more cells than any price list"),
    "a register": (b"Name,Born,Address\nX,1999,Road 1\n", "no row of headers"),
}  # fmt: skip


@pytest.fixture(autouse=True)
def _patience(monkeypatch):
    """The clock does not end a child here: with other work beside it, ten seconds of it may be two of this machine's."""
    monkeypatch.setattr(watched, "MOST_SECONDS", 300.0)


def seconds_worked() -> float:
    """What this process, and those that it has ended, have had of the machine."""
    had = os.times()
    return had.user + had.system + had.children_user + had.children_system


@pytest.mark.parametrize("what", REFUSED)
def test_a_file_that_is_no_price_sheet_is_refused_by_name_within_ten_seconds(tmp_path, what):
    content, said = REFUSED[what]
    began = seconds_worked()
    sheet = read(tmp_path, content, name="prices.xlsx")
    assert seconds_worked() - began < 12
    assert (sheet.status, sheet.rows, sheet.barred) == ("refused", (), {})
    assert [fault.code for fault in sheet.faults] == ["refused-sheet"]
    assert said in sheet.faults[0].found and sheet.faults[0].remedy and sheet.faults[0].file


def test_a_missing_file_and_a_folder_are_faults(tmp_path):
    missing, folder = read_sheets([(tmp_path / "none.xlsx", Layout()), (tmp_path, Layout())])
    assert [missing.faults[0].code, folder.faults[0].code] == ["missing-file", "refused-sheet"]


def test_a_million_blank_rows_are_read(tmp_path):
    sheet = read(tmp_path, more_rows(b"".join(b'<row r="%d"/>' % n for n in range(3, 1_000_000))))
    assert prices(sheet) == {"A-1": "12.25"}


def test_a_lone_cell_in_the_last_row_is_read(tmp_path):
    sheet = read(tmp_path, more_rows(b'<row r="1048576"><c r="A1048576" t="inlineStr"><is><t>end</t></is></c></row>'))
    assert prices(sheet) == {"A-1": "12.25"}


def test_entities_are_not_unfolded(tmp_path):
    bomb = b'<!DOCTYPE a [<!ENTITY x "' + b"9" * 1000 + b'"><!ENTITY y "' + b"&x;" * 1000 + b'">]><worksheet'
    spoilt = edited(GOOD, lambda xml: xml.replace(b"<worksheet", bomb, 1).replace(b"12.25", b"&y;"))
    assert prices(read(tmp_path, spoilt)) == {}


def test_an_entry_that_lies_about_its_size_is_refused(tmp_path):
    honest = more_rows(b" " * 5_000_000)
    with zipfile.ZipFile(__import__("io").BytesIO(honest)) as archive:
        size = archive.getinfo(FIRST_SHEET).file_size
    lying = honest.replace(size.to_bytes(4, "little"), (3000).to_bytes(4, "little"))
    assert read(tmp_path, lying).status == "refused"


def test_a_child_that_is_too_slow_or_dies_costs_only_its_own_file(tmp_path, monkeypatch):
    bad = more_rows(b"".join(b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (n, n) for n in range(3, 500_000)))
    results = read_watched([(content, Layout()) for content in (GOOD, bad, GOOD)])
    assert [isinstance(result, Unsafe) or b"refused" in result[:400] for result in results] == [False, True, False]
    monkeypatch.setattr(watched, "MOST_SECONDS", 0.0)
    slow = read_watched([(GOOD, Layout())])[0]
    assert isinstance(slow, Unsafe) and "0 s to read" in slow.found


def test_the_name_of_a_file_is_not_believed(tmp_path):
    for name, content in (("a.csv", GOOD), ("b.xlsx", csv_bytes([HEAD, ["A-1", "x", "12.25"]])), ("c.xls", GOOD)):
        assert prices(read(tmp_path, content, name=name)) == {"A-1": "12.25"}


def test_modules_beside_the_user_are_not_run_by_the_child(tmp_path, monkeypatch):
    (tmp_path / "json.py").write_text("raise SystemExit('run from the working folder')")
    (tmp_path / "sheet.xlsx").write_bytes(GOOD)
    monkeypatch.chdir(tmp_path)
    assert read_sheet(tmp_path / "sheet.xlsx").status == "read"
