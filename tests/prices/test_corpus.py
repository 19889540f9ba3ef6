"""The corpus: every sheet is read as it must be, at once and row by row alike."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sourcing.prices.grid import Grid
from sourcing.prices.preflight import Unsafe, kind_of
from sourcing.prices.text import text_grid
from sourcing.prices.understood import understood
from sourcing.prices.workbook import workbook_grids

from .corpus import SHEETS
from .making import codes, prices, read


def test_there_is_a_sheet_for_every_trait():
    assert len({case.name for case in SHEETS}) == len(SHEETS) >= 60
    assert {case.file.rpartition(".")[2] for case in SHEETS} == {"xlsx", "xls", "ods", "csv", "tsv", "txt"}


@pytest.mark.parametrize("case", SHEETS, ids=lambda case: case.name)
def test_a_sheet_of_the_corpus_is_read_as_it_must_be(tmp_path, case):
    sheet = read(tmp_path, case.content, case.layout, case.file)
    assert (sheet.status, tuple(question.field for question in sheet.questions)) == (case.status, case.asks), (
        sheet.faults
    )
    said = " / ".join([*sheet.notes, *map(str, sheet.faults)])
    assert [words for words in case.tells if words not in said] == [], said
    if case.faults or case.status == "read":
        assert [(code, row if case.status != "refused" else None) for code, row in codes(sheet)] == list(case.faults), (
            said
        )
    assert {number: price and Decimal(price) for number, price in prices(sheet).items()} == {
        number: price and Decimal(price) for number, price in case.prices.items()
    }
    if case.status == "read":
        assert sum(table.price_sum for table in sheet.tables) == Decimal(case.total)
        assert sheet.tables[0].header_row == case.header_row
        assert sum(table.rows for table in sheet.tables) == len(sheet.stood) >= len(sheet.rows)
        assert all(table.confidence >= 0.6 for table in sheet.tables)
    rows = {row.part_number.spelt: row for row in sheet.rows}
    assert {(number, name): getattr(rows[number], name) for number, name in case.fields} == dict(case.fields)


def grids(content: bytes) -> list[Grid]:
    try:
        return [text_grid(content)] if kind_of(content) == "text" else workbook_grids(content)
    except (Unsafe, Exception):
        return []


@pytest.mark.parametrize("case", [case for case in SHEETS if case.status == "read"], ids=lambda case: case.name)
def test_a_sheet_read_at_once_and_row_by_row_is_the_same(case):
    cells = grids(case.content)
    assert cells
    at_once, careful = understood(cells, case.layout), understood(cells, case.layout, careful=True)
    assert at_once == careful
