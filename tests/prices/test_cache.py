"""Parsed sheets are kept by content, and the cache is never in the way."""

from __future__ import annotations

import sqlite3
import subprocess
import sys

import pytest

from sourcing.prices import understood as reading
from sourcing.prices.cache import Cache, sheet_key
from sourcing.prices.kept import packed, unpacked
from sourcing.prices.layout import Layout
from sourcing.prices.sheet import read_sheet, read_sheets

from .making import HEAD, csv_bytes, xlsx_bytes

ROWS = [
    [*HEAD, "Core Charge", "Stock", "Valid Until", "5+"],
    ["00123", "block é", "512.30", "90", "0", "2026-09-30", "500"], ["A-2", "", "call", "", "", "", ""],
    ["A-3", "", "5.00", "", "", "", ""], ["A-3", "", "6.00", "", "", "", ""],
]  # fmt: skip


@pytest.fixture
def parsed(monkeypatch):
    """The number of times that a sheet was understood from its cells."""
    counted = []
    understand = reading.understood_text
    monkeypatch.setattr(
        reading, "understood_text", lambda content, layout: counted.append(1) or understand(content, layout)
    )
    return counted


def test_a_sheet_is_parsed_once_and_is_the_same_from_the_cache(tmp_path, parsed):
    cache = Cache(tmp_path / "kept" / "sheets.sqlite3")
    path = tmp_path / "a.csv"
    path.write_bytes(csv_bytes(ROWS))
    first, second = read_sheet(path, None, cache), read_sheet(path, None, cache)
    assert (first, len(parsed)) == (second, 1)
    assert {number: fault.code for number, fault in second.barred.items()} == {"A2": "unread-price", "A3": "two-prices"}


def test_another_name_another_layout_and_another_content(tmp_path, parsed):
    cache = Cache(tmp_path / "sheets.sqlite3")
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_bytes(csv_bytes(ROWS))
    read_sheet(tmp_path / "a.csv", None, cache)
    moved = read_sheet(tmp_path / "b.csv", None, cache)
    assert len(parsed) == 1 and moved.file.endswith("b.csv") and all(f.file == moved.file for f in moved.faults)
    read_sheet(tmp_path / "a.csv", Layout(currency="EUR"), cache)
    assert len(parsed) == 2
    (tmp_path / "a.csv").write_bytes(csv_bytes(ROWS[:-1]))
    assert len(read_sheet(tmp_path / "a.csv", None, cache).rows) == 2
    assert len(parsed) == 3


def test_a_broken_cache_is_quietly_no_cache(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(csv_bytes(ROWS))
    wanted = read_sheet(path)
    broken, folder, shut = tmp_path / "broken.sqlite3", tmp_path / "folder", tmp_path / "file" / "sheets.sqlite3"
    broken.write_bytes(b"this is no database" * 100)
    folder.mkdir()
    (tmp_path / "file").write_text("a file where a folder should be")
    for place in (broken, folder, shut):
        assert read_sheet(path, None, Cache(place)) == wanted
    assert broken.read_bytes().startswith(b"this is no database")


def test_a_damaged_entry_is_parsed_again(tmp_path, parsed):
    path = tmp_path / "a.csv"
    path.write_bytes(csv_bytes(ROWS))
    cache = Cache(tmp_path / "sheets.sqlite3")
    wanted = read_sheet(path, None, cache)
    for spoilt in (b"", b"{}", "text", packed(wanted)[:-20], packed(wanted).replace(b"512.30", b"512.31")):
        with sqlite3.connect(cache.path) as database:
            database.execute("UPDATE parsed SET parsed = ?", (spoilt,))
        database.close()
        assert read_sheet(path, None, cache) == wanted


def test_what_is_kept_has_the_same_form_again(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(csv_bytes(ROWS))
    sheet = read_sheet(path)
    assert packed(unpacked(packed(sheet))) == packed(sheet)


def test_a_refused_sheet_is_not_kept(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"<html>")
    cache = Cache(tmp_path / "sheets.sqlite3")
    assert read_sheet(path, None, cache).status == "refused"
    assert cache.get(sheet_key(b"<html>", Layout())) is None


def test_the_folder_can_be_named(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCING_CACHE", str(tmp_path / "mine"))
    assert Cache().path == tmp_path / "mine" / "sheets.sqlite3"
    monkeypatch.delenv("SOURCING_CACHE")
    assert Cache().path.name == "sheets.sqlite3"


def test_many_processes_write_at_once(tmp_path):
    code = (
        "import sys; from pathlib import Path; from sourcing.prices import cache; from sourcing.prices.cache import Cache\n"
        "cache._PATIENCE = 300.0  # however slow this machine is\n"
        "c = Cache(Path(sys.argv[1]))\n"
        "for n in range(40): c.put(f'{sys.argv[2]}-{n}', b'x' * 2000); assert c.get(f'{sys.argv[2]}-{n}')"
    )
    place = str(tmp_path / "sheets.sqlite3")
    running = [subprocess.Popen([sys.executable, "-c", code, place, str(n)]) for n in range(4)]
    assert [child.wait() for child in running] == [0] * 4
    assert all(Cache(tmp_path / "sheets.sqlite3").get(f"{n}-{m}") for n in range(4) for m in range(40))


def test_many_sheets_in_one_go_keep_their_order(tmp_path):
    asked = []
    for n in range(6):
        path = tmp_path / f"{n}.x"
        rows = [HEAD, [f"A-{n}", "", 5.5]]
        path.write_bytes(xlsx_bytes(rows) if n % 2 else b"" if n == 4 else csv_bytes(rows))
        asked.append((path, Layout()))
    sheets = read_sheets(asked)
    assert [sheet.rows[0].part_number.spelt if sheet.rows else "" for sheet in sheets] == [
        "A-0",
        "A-1",
        "A-2",
        "A-3",
        "",
        "A-5",
    ]


def test_a_kept_sheet_is_told_without_what_reads_cells(tmp_path):
    path, place = tmp_path / "a.csv", tmp_path / "sheets.sqlite3"
    path.write_bytes(csv_bytes(ROWS))
    read_sheet(path, None, Cache(place))
    code = (
        "import sys; from pathlib import Path; from sourcing.prices.sheet import read_sheet; "
        "from sourcing.prices.cache import Cache\n"
        "assert read_sheet(Path(sys.argv[1]), None, Cache(Path(sys.argv[2]))).row_of('00123').stock == 0\n"
        "print(' '.join(sys.modules))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code, str(path), str(place)], capture_output=True, text=True, check=True
    ).stdout.split()
    for name in ("understood", "table", "header", "words", "text"):
        assert f"sourcing.prices.{name}" not in loaded
    assert not {"numpy", "pandas", "openpyxl", "python_calamine"} & set(loaded)
