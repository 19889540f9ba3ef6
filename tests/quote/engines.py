"""Independent engines that recalculate a workbook from its formulas alone: stored values are taken out first."""

from __future__ import annotations

import re
import shutil
import subprocess
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

Values = dict[tuple[str, str], float]


def stored(workbook: Path) -> Values:
    """What we stored beside each formula."""
    formulas, values = openpyxl.load_workbook(workbook), openpyxl.load_workbook(workbook, data_only=True)
    found: Values = {}
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    found[sheet.title, cell.coordinate] = number(values[sheet.title][cell.coordinate].value)
    return found


def number(value: object) -> float:
    """A cell's value as a number; dates as the days that they are."""
    if hasattr(value, "date"):
        return float(openpyxl.utils.datetime.to_excel(value))
    return float(value)  # type: ignore[arg-type]


def without_values(workbook: Path, target: Path, instead: str = "") -> Path:
    """A copy in which no formula has its stored value: an engine that does not calculate shows nothing, or `instead`."""
    with zipfile.ZipFile(workbook) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            content = old.read(name).decode("utf-8")
            new.writestr(name, re.sub(r"(<f>[^<]*</f>)(?:<v>[^<]*</v>)?", rf"\1{instead}", content))
    return target


def by_formulas(workbook: Path, cells: Values) -> Values:
    library = pytest.importorskip("formulas")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        solved = library.ExcelModel().loads(str(workbook)).finish().calculate()
    return {
        (sheet, cell): float(solved[f"'[{workbook.name}]{sheet.upper()}'!{cell}"].value[0, 0]) for sheet, cell in cells
    }


def by_ironcalc(workbook: Path, cells: Values) -> Values:
    library = pytest.importorskip("ironcalc")
    wrong = without_values(workbook, workbook.with_name("wrong.xlsx"), "<v>-7777</v>")  # it asks for some value
    model = library.load_from_xlsx(str(wrong), "en", "UTC", "en")
    model.evaluate()
    names = [sheet["name"] for sheet in model.get_worksheets_properties()]
    found: Values = {}
    for sheet, cell in cells:
        row, column = openpyxl.utils.cell.coordinate_to_tuple(cell)
        found[sheet, cell] = float(model.get_cell_value(names.index(sheet), row, column))
    return found


def by_office(workbook: Path, cells: Values) -> Values:
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("LibreOffice is not installed")
    out = workbook.parent / "recalculated"
    profile = f"-env:UserInstallation={(workbook.parent / 'profile').as_uri()}"
    subprocess.run([program, "--headless", profile, "--convert-to", "xlsx", "--outdir", str(out), str(workbook)],
                   check=True, capture_output=True, timeout=600)  # fmt: skip
    book = openpyxl.load_workbook(out / workbook.name, data_only=True)
    return {(sheet, cell): number(book[sheet][cell].value) for sheet, cell in cells}


ENGINES: list[Callable[[Path, Values], Values]] = [by_formulas, by_ironcalc, by_office]


def changed(workbook: Path, target: Path, cells: Values) -> Path:
    """A copy in which some cells that hold numbers hold others, as if somebody had typed them."""
    order = openpyxl.load_workbook(workbook, read_only=True).sheetnames
    with zipfile.ZipFile(workbook) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            content = old.read(name).decode("latin-1")
            for (sheet, cell), value in cells.items():
                if name == f"xl/worksheets/sheet{order.index(sheet) + 1}.xml":
                    content, count = re.subn(rf'(<c r="{cell}"[^>]*><v>)[^<]*(</v>)', rf"\g<1>{value!r}\2", content)
                    assert count == 1, f"{cell} holds no number of its own"
            new.writestr(name, content.encode("latin-1"))
    return target
