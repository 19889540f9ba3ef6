"""The price sheets in catalogs/ are the ones that make_sheets.py writes."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__).resolve().parent


def load_make_sheets() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_sheets", HERE / "make_sheets.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_sheets"] = module
    spec.loader.exec_module(module)
    return module


make_sheets = load_make_sheets()


def test_no_sheet_is_missing_and_none_is_left_over() -> None:
    folder = make_sheets.SHEETS_FOLDER
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert there == set(make_sheets.price_sheets())


@pytest.mark.parametrize("name", sorted(make_sheets.price_sheets()))
def test_a_sheet_has_the_bytes_that_the_script_writes(name: str) -> None:
    assert (make_sheets.SHEETS_FOLDER / name).read_bytes() == make_sheets.price_sheets()[name]
