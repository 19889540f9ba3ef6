"""`sourcing read`: what a sheet would be read as, one clear question, and nothing changed."""

from __future__ import annotations

import csv
import json
import shlex
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from prices.making import csv_bytes, xlsx_bytes

from cli.conftest import Counter, Said
from sourcing.prices.sheet import read_sheet

Run = Callable[..., Said]
TWO_PRICES = [["Part No", "Description", "Net price east", "Net price west"],
              ["QB-1", "Block", 200.5, 210.5], ["QB-2", "Plate", 84, 88]]  # fmt: skip
GERMAN = [["Preisliste, gültig ab 01.10.2026"], [], ["Artikelnr.", "Bezeichnung", "EK netto", "Bestand"],
          ["00710-02", "Ventilblock, grün", "1.202,50", "5"], ["00710-03", "Ventilblock", "auf Anfrage", "2"],
          ["00710-04", "Rad", "99,00", "viele"], ["Alle Preise ohne MwSt."]]  # fmt: skip


def put(counter: Counter, name: str, content: bytes) -> Path:
    path = counter.folder / name
    path.write_bytes(content)
    return path


def test_every_demo_sheet_is_read_and_nothing_is_changed(counter: Counter, sourcing: Run) -> None:
    before = {name: (counter.folder / name).read_bytes() for name in counter.files()}
    sheets = sorted((counter.catalogs / "price-sheets").glob("*/*.*"))
    said = sourcing("read", "--json", *sheets)
    assert said.code == 0
    told = [json.loads(line) for line in said.out.splitlines()]
    assert [one["file"] for one in told] == [path.relative_to(counter.folder).as_posix() for path in sheets]
    assert {one["status"] for one in told} == {"read"}
    assert {name: (counter.folder / name).read_bytes() for name in counter.files()} == before


def test_the_object_of_a_sheet_has_the_fields_of_the_formats(counter: Counter, sourcing: Run) -> None:
    path = put(counter, "liste.csv", csv_bytes(GERMAN, ";", "cp1252"))
    said = sourcing("read", "--json", path)
    [line] = said.out.splitlines()
    told = json.loads(line)
    assert said.code == 0
    assert list(told) == ["file", "status", "tables", "faults", "questions"]
    [table] = told["tables"]
    # 1,202.50 alone: one price is words, one row has a stock that is no number
    assert table == {
        "sheet": "", "header_row": 3, "rows": 1, "price_sum": "1202.50", "currency": "",
        "columns": {"part_number": "Artikelnr.", "description": "Bezeichnung", "price": "EK netto", "stock": "Bestand"},
    }  # fmt: skip
    assert [(fault["row"], fault["column"], fault["found"]) for fault in told["faults"]] == [
        (5, "EK netto", '"auf Anfrage"'),
        (6, "Bestand", '"viele"'),
    ]
    assert all(
        list(fault) == ["code", "sheet", "row", "column", "found", "expected", "remedy"] for fault in told["faults"]
    )
    assert told["questions"] == []


def test_the_screen_says_which_column_is_what_and_names_every_row_not_understood(
    counter: Counter, sourcing: Run
) -> None:
    said = sourcing("read", put(counter, "liste.csv", csv_bytes(GERMAN, ";", "cp1252")))
    assert said.code == 0
    for words in ("headers in row 3", '<-  "EK netto"', "comma, as in 1.234,50", "1, their prices add up to 1202.50",
                  "row 5, EK netto", '"auf Anfrage"', "row 6, Bestand", "sourcing receive liste.csv"):  # fmt: skip
        assert words in said.out.replace(f"{counter.folder.as_posix()}/", ""), words


def test_two_prices_are_one_question_and_each_command_offered_answers_it(counter: Counter, sourcing: Run) -> None:
    put(counter, "two prices.xlsx", xlsx_bytes(TWO_PRICES))
    said = sourcing("read", "two prices.xlsx")
    assert said.code == 4
    assert "Which column is the price that you pay for one piece?" in said.out
    commands = [line.strip() for line in said.out.splitlines() if line.startswith("  sourcing read")]
    assert len(commands) == 2
    sums = []
    for command in commands:
        answered = sourcing(*shlex.split(command)[1:], "--json")
        assert answered.code == 0, command
        sums.append(json.loads(answered.out)["tables"][0]["price_sum"])
    assert sums == ["284.50", "298.50"]


@pytest.mark.parametrize(
    ("rows", "words", "sums"),
    [
        ([["Part No", "Price"], ["A-1", "1.250"], ["A-2", "2.500"]],
         '"1.250" is 1.250 with a point, 1250 with a comma.', ["3.750", "3750.00"]),
        ([["Part No", "Price", "Valid until"], ["A-1", "12.50", "3/4/2026"]],
         '"3/4/2026" is 3 April as dmy, 4 March as mdy.', ["12.50", "12.50"]),
    ],
    ids=["decimal mark", "order of day and month"],
)  # fmt: skip
def test_a_mark_that_is_open_is_asked_with_what_each_answer_would_make_of_a_cell(
    rows: list[list[str]], words: str, sums: list[str], counter: Counter, sourcing: Run
) -> None:
    put(counter, "open.csv", csv_bytes(rows, ";"))
    said = sourcing("read", "open.csv")
    assert said.code == 4 and words in " ".join(said.out.split())
    commands = [line.strip() for line in said.out.splitlines() if line.startswith("  sourcing read")]
    answered = [sourcing(*shlex.split(command)[1:], "--json") for command in commands]
    assert [one.code for one in answered] == [0, 0]
    assert [json.loads(one.out)["tables"][0]["price_sum"] for one in answered] == sums


def test_a_list_without_headers_is_one_question_with_one_answer(counter: Counter, sourcing: Run) -> None:
    put(counter, "bare.csv", csv_bytes([["A-1", "Block", "12,50"], ["A-2", "Plate", "13,50"]], ";"))
    said = sourcing("read", "bare.csv")
    assert said.code == 4
    assert 'Is it laid out so: part number under "A", price under "C"?' in said.out
    [command] = [line for line in said.out.splitlines() if line.startswith("  sourcing read")]
    answered = json.loads(sourcing(*shlex.split(command)[1:], "--json").out)
    assert (answered["status"], answered["tables"][0]["price_sum"]) == ("read", "26.00")


def test_the_question_stands_in_the_object_with_its_choices(counter: Counter, sourcing: Run) -> None:
    said = sourcing("read", "--json", put(counter, "two.xlsx", xlsx_bytes(TWO_PRICES)))
    told = json.loads(said.out)
    assert (said.code, told["status"]) == (4, "unsure")
    assert told["questions"] == [{"field": "price", "choices": ["Net price east", "Net price west"]}]


def test_a_layout_that_has_changed_is_said_with_one_command_for_all_its_columns(
    counter: Counter, sourcing: Run
) -> None:
    put(counter, "neu.csv", csv_bytes(GERMAN, ";", "cp1252"))
    said = sourcing("read", "neu.csv", "--supplier", "birkental")
    assert said.code == 4
    assert "The layout has changed" in said.out and 'price stood under "Nettopreis"' in said.out.replace("\n ", "")
    [command] = [line for line in said.out.splitlines() if line.startswith("  sourcing read")]
    assert sourcing(*shlex.split(command)[1:]).code == 0


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("web.xls", b"<html><body><table><tr><td>Part No</td><td>Price</td></tr></table></body></html>", "a web page"),
        ("empty.csv", b"", "an empty file"),
        ("notes.txt", b"Call the supplier\nabout the blocks\n", "no row of headers"),
    ],
)
def test_what_is_no_price_sheet_is_refused_by_name(
    name: str, content: bytes, words: str, counter: Counter, sourcing: Run
) -> None:
    path = put(counter, name, content)
    said = sourcing("read", path)
    assert said.code == 4
    assert "REFUSED" in said.out and words in said.out
    told = json.loads(sourcing("read", "--json", path).out)
    assert told["status"] == "refused" and words in told["faults"][0]["found"]


def test_a_missing_file_is_wrong_usage_and_the_others_are_still_read(counter: Counter, sourcing: Run) -> None:
    good = put(counter, "good.csv", csv_bytes([["Part No", "Price"], ["A-1", "12.50"]]))
    said = sourcing("read", "--json", "not-there.csv", good)
    assert said.code == 2
    assert [json.loads(line)["status"] for line in said.out.splitlines()] == ["refused", "read"]
    assert "not-there.csv" in sourcing("read", "not-there.csv").out


@pytest.mark.parametrize(
    "words",
    [["--column", "price"], ["--column", "colour=Red"], ["--column", "price=A", "--column", "price=B"],
     ["--decimal", ";"], ["--date-order", "dym"], ["--supplier", "nobody"]],
)  # fmt: skip
def test_an_answer_that_cannot_be_one_is_wrong_usage(words: list[str], counter: Counter, sourcing: Run) -> None:
    path = put(counter, "good.csv", csv_bytes([["Part No", "Price"], ["A-1", "12.50"]]))
    said = sourcing("read", path, *words)
    assert said.code == 2
    assert words[1] in said.err or "twice" in said.err


def test_a_long_list_of_faults_is_cut_and_says_how_many_more(counter: Counter, sourcing: Run) -> None:
    rows = [["Part No", "Price"], ["A-0", "12.50"], *([f"A-{n}", "call"] for n in range(1, 31))]
    path = put(counter, "calls.csv", csv_bytes(rows))
    said = sourcing("read", path, "--most", "10")
    assert said.out.count('found "call"') == 10
    assert "and 20 more (--json lists all)" in said.out
    assert len(json.loads(sourcing("read", "--json", path).out)["faults"]) == 30


def test_the_rows_written_are_the_rows_read_and_run_no_formula(counter: Counter, sourcing: Run) -> None:
    # Text that begins with = + - @ is run as a formula by spreadsheet programs; the apostrophe before it is the common
    # guard (OWASP, "CSV Injection").
    rows = [["Part No", "Description", "Price", "Core", "10+"],
            ["00123", "=HYPERLINK(1)", "1234.505", "12.00", "1000.10"], ["-5", "@home", "7", "", ""]]  # fmt: skip
    path = put(counter, "rows.csv", csv_bytes(rows))
    said = sourcing("read", path, "--rows", "out.csv")
    assert said.code == 0 and "out.csv" in said.out
    with (counter.folder / "out.csv").open(encoding="utf-8", newline="") as file:
        written = list(csv.DictReader(file))
    assert [
        (row["part_number"], row["description"], row["price"], row["core_charge"], row["10+"]) for row in written
    ] == [
        ("00123", "'=HYPERLINK(1)", "1234.505", "12.00", "1000.10"),
        ("-5", "'@home", "7", "", ""),
    ]
    again = read_sheet(counter.folder / "out.csv")
    first = read_sheet(path)
    assert [(row.part_number, row.price, row.core_charge, row.breaks) for row in again.rows] == [
        (row.part_number, row.price, row.core_charge, row.breaks) for row in first.rows
    ]
    assert first.rows[0].price == Decimal("1234.505")


def test_no_shop_is_needed_to_look_at_a_sheet(tmp_path: Path, sourcing: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.csv").write_bytes(csv_bytes([["Part No", "Price"], ["A-1", "12.50"]]))
    assert sourcing("read", "list.csv").code == 0
    assert sourcing("read", "list.csv", "--supplier", "harbour").code == 2
