"""The sheet of the decision: charts of the spreadsheet's own, over cells that hold what was solved."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import openpyxl
import pytest

from quote.hand import Opened, block_and_screen
from quote.studied import cost_only, moments_of, studied, study_of
from sourcing.decision.break_even import cost_at
from sourcing.decision.study import decide
from sourcing.quote.pictures import break_even_picture, trend_picture
from sourcing.quote.words import assumption_named, value_told
from sourcing.quote.workbook import quote_bytes, write_quote

CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
JOB = "substitute-with-plate"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("quote") / "quote.xlsx"
    write_quote(studied(JOB).plan, path, studied(JOB), moments_of(JOB))
    return path


def charts(book: Path) -> list[ET.Element]:
    with zipfile.ZipFile(book) as packed:
        names = [name for name in packed.namelist() if re.fullmatch(r"xl/charts/chart\d+\.xml", name)]
        return [ET.fromstring(packed.read(name)) for name in sorted(names)]


def cells(book: Path, reference: str) -> list[object]:
    """What stands in the cells that a chart refers to, row by row."""
    sheet, _, area = reference.rpartition("!")
    found = openpyxl.load_workbook(book)[sheet.strip("'")][area.replace("$", "")]
    rows = found if isinstance(found, tuple) else ((found,),)
    return [cell.value for row in rows for cell in row]


def series(chart: ET.Element) -> list[tuple[str, str, str]]:
    """References of each series: its name, its places, its values."""
    return [
        tuple(next(one.iter(f"{CHART}{part}")).findtext(f".//{CHART}f", "") for part in ("tx", "xVal", "yVal"))  # type: ignore[misc]
        for one in chart.iter(f"{CHART}ser")
    ]


def test_the_sheet_is_the_third_and_comes_only_when_asked_for(book: Path, tmp_path: Path) -> None:
    assert openpyxl.load_workbook(book).sheetnames == ["Quote", "Parts and sources", "Decision", "Rules checked"]
    write_quote(studied(JOB).plan, tmp_path / "plain.xlsx")
    assert openpyxl.load_workbook(tmp_path / "plain.xlsx").sheetnames == ["Quote", "Parts and sources", "Rules checked"]


def test_each_chart_has_words_for_who_cannot_see_it(book: Path) -> None:
    with zipfile.ZipFile(book) as packed:
        drawing = ET.fromstring(packed.read("xl/drawings/drawing2.xml"))
    told = [one.get("descr", "") for one in drawing.iter(f"{DRAWING}cNvPr")]
    assert len(told) == len(charts(book)) == 3
    assert break_even_picture(studied(JOB).turns[0]).says in told[0]
    assert trend_picture(moments_of(JOB)).says in told[2]


def test_the_break_evens_chart_draws_the_cells_of_its_pieces(book: Path) -> None:
    found = studied(JOB).turns[0]
    drawn = series(charts(book)[0])
    assert len(drawn) == len(found.pieces) + 1  # and the price now
    for piece, (_, places, values) in zip(found.pieces, drawn, strict=False):
        costs = [cost_at(found.problem, piece, found.offer.id, end) for end in (piece.low, piece.high)]
        assert cells(book, places) == pytest.approx([piece.low / 100, piece.high / 100])
        assert cells(book, values) == pytest.approx([cost / 100 for cost in costs])
    name, places, values = drawn[-1]
    assert cells(book, name) == ["the price now"]
    assert cells(book, places) == pytest.approx([found.offer.steps[0].minor / 100])
    assert cells(book, values) == pytest.approx([studied(JOB).plan.cost / 100])


def test_the_trends_chart_draws_each_route_as_steps_between_the_dates(book: Path) -> None:
    picture = trend_picture(moments_of(JOB))
    runs = [(line.name, run) for line in picture.series for run in line.corners()]
    drawn = series(charts(book)[2])
    assert len(drawn) == len(runs)
    for (name, run), (named, places, values) in zip(runs, drawn, strict=True):
        assert cells(book, named) == [name]
        assert [day.toordinal() for day in cells(book, places)] == [point.at for point in run]  # type: ignore[attr-defined]
        assert cells(book, values) == pytest.approx([point.value / 100 for point in run])


def test_the_series_of_a_chart_differ_without_colour(book: Path) -> None:
    for chart in charts(book):
        looks: dict[str, set[tuple[str, str]]] = {}
        for one in chart.iter(f"{CHART}ser"):
            name = one.findtext(f"./{CHART}tx//{CHART}v", "")
            dash = next((e.get("val", "") for e in one.iter() if e.tag.endswith("}prstDash")), "solid")
            sign = next(e.get("val", "") for e in one.iter(f"{CHART}symbol"))
            looks.setdefault(name, set()).add((dash, sign))
        assert all(len(found) == 1 for found in looks.values())
        assert len({next(iter(found)) for found in looks.values()}) == len(looks)
        colours = {e.get("val", "") for e in chart.iter() if e.tag.endswith("}srgbClr")}
        assert colours and all(len({c[:2], c[2:4], c[4:]}) == 1 for c in colours)  # greys only


def test_a_name_stands_in_the_legend_once(book: Path) -> None:
    for chart in charts(book):
        names = [one.findtext(f"./{CHART}tx//{CHART}v", "") for one in chart.iter(f"{CHART}ser")]
        gone = {int(e.find(f"{CHART}idx").get("val")) for e in chart.iter(f"{CHART}legendEntry")}  # type: ignore[union-attr, arg-type]
        shown = [name for place, name in enumerate(names) if place not in gone]
        assert sorted(shown) == sorted(set(names))


def test_the_sheet_holds_no_formula_and_says_so(book: Path) -> None:
    sheet = openpyxl.load_workbook(book)["Decision"]
    assert [cell.coordinate for row in sheet for cell in row if cell.data_type == "f"] == []
    assert "a spreadsheet cannot solve again" in str(sheet["A2"].value)


def test_every_route_stands_with_its_cost_or_its_reason(book: Path) -> None:
    rows = [[cell.value for cell in row] for row in openpyxl.load_workbook(book)["Decision"]]
    comparison = studied(JOB).comparison
    for route in comparison.routes:
        row = next(row for row in rows if f"({route.design})" in str(row[0]))
        if route.plan.choice is None:
            assert row[2] == "no plan" and route.reasons[0].says in row[9]
        else:
            assert row[2] == pytest.approx(route.plan.cost / 100)


def test_the_printed_sheet_is_one_page_wide_and_leaves_the_last_part_out(book: Path) -> None:
    sheet = openpyxl.load_workbook(book)["Decision"]
    last = next(row[0].row for row in sheet if str(row[0].value).startswith("Points that the step lines"))
    assert sheet.sheet_properties.pageSetUpPr.fitToPage and sheet.page_setup.fitToHeight == 0
    assert sheet.page_setup.orientation == "landscape" and sheet.print_title_rows == "$1:$1"
    assert int(sheet.print_area.rpartition("$")[2]) < last


def test_equal_decisions_give_equal_bytes() -> None:
    plan = studied(JOB).plan
    assert quote_bytes(plan, studied(JOB), moments_of(JOB)) == quote_bytes(plan, studied(JOB), moments_of(JOB))


@pytest.mark.parametrize("text", ["=1+1", "+1", "@SUM(1)", "http://example.invalid/x", '<b>&\\"', "a\\u0001b"])
def test_no_text_of_a_file_becomes_a_formula_or_a_link(text: str, opened: Opened, tmp_path: Path) -> None:
    quoted = f'"{text}"'
    problem = opened(('"Block one"', quoted), ('"Northgate Invented"', quoted), ('"Solenoid block"', quoted),
                     ('number = "77"', f'number = {quoted}'))  # fmt: skip
    plan = block_and_screen(problem)
    write_quote(plan, tmp_path / "quote.xlsx", study_of(plan))
    for row in openpyxl.load_workbook(tmp_path / "quote.xlsx")["Decision"]:
        for cell in row:
            assert cell.hyperlink is None and cell.data_type != "f"
            if isinstance(cell.value, str):
                assert cell.value.isprintable() and (cell.quotePrefix or cell.number_format == "@")
    for chart in charts(tmp_path / "quote.xlsx"):
        for reference in (part for one in series(chart) for part in one):
            assert reference.startswith("Decision!$")


def test_what_the_decision_hangs_on_stands_beside_the_value_that_turns_it(tmp_path: Path) -> None:
    decided = decide(studied(JOB).plan, cost_only, thoroughly=True)
    write_quote(decided.plan, tmp_path / "quote.xlsx", decided)
    drawn = openpyxl.load_workbook(tmp_path / "quote.xlsx")["Decision"]
    rows = {row[0]: row for row in drawn.iter_rows(values_only=True) if row[0]}
    assert decided.assumptions
    for carried in decided.assumptions:
        one, row = carried.assumption, rows[assumption_named(carried.assumption, decided.plan.problem)]
        sides = [value_told(one, side.value) if side else "never" for side in (carried.below, carried.above)]
        assert list(row[2:5]) == [value_told(one, one.now), *sides]
        assert bool(row[9]) == any((carried.below, carried.above))
