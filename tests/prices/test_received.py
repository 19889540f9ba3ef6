"""The price sheets of the demo and of the worked shops: each is read, and no row is lost."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sourcing.prices.layout import Layout
from sourcing.prices.sheet import read_sheets
from sourcing.prices.suppliers import read_suppliers

ROOT = Path(__file__).resolve().parents[2]
WORKED = ROOT.parent / "shared" / "worked"


def test_the_demo_sheets_lose_no_row():
    suppliers = read_suppliers(ROOT / "catalogs" / "suppliers.toml")
    paths = sorted((ROOT / "catalogs" / "price-sheets").glob("*/*.*"))
    assert paths
    for sheet in read_sheets([(path, suppliers[path.parent.name].layout("USD")) for path in paths]):
        assert (sheet.status, sheet.faults, sheet.questions) == ("read", (), ()), sheet.file
        assert sheet.rows and sum(table.rows for table in sheet.tables) == len(sheet.rows)


def test_the_demo_sheets_need_no_declaration():
    paths = sorted((ROOT / "catalogs" / "price-sheets").glob("*/*.*"))
    suppliers = read_suppliers(ROOT / "catalogs" / "suppliers.toml")
    told = read_sheets([(path, suppliers[path.parent.name].layout("USD")) for path in paths])
    untold = read_sheets(
        [(path, Layout(currency=suppliers[path.parent.name].layout("USD").currency)) for path in paths]
    )
    assert [sheet.rows for sheet in told] == [sheet.rows for sheet in untold]


def rows_of(path: Path) -> int:
    if path.suffix == ".csv":
        with path.open(encoding="utf-8-sig", newline="") as stream:
            return sum(any(cells) for cells in csv.reader(stream)) - 1
    from openpyxl import load_workbook

    sheet = load_workbook(path, read_only=True).active
    return sum(any(cell is not None for cell in cells) for cells in sheet.iter_rows(values_only=True)) - 1


def test_the_worked_sheets_lose_no_row():
    paths = sorted(WORKED.glob("*/catalogs/price-sheets/*/*.*"))
    if not paths:
        pytest.skip("the worked shops lie beside the repository, and are not there")
    for path, sheet in zip(paths, read_sheets([(path, Layout()) for path in paths]), strict=True):
        assert (sheet.status, sheet.faults, len(sheet.rows)) == ("read", (), rows_of(path)), path
