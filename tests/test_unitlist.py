"""A list of units as a spreadsheet saves it: read as job files are, every fault with its row and column."""

from __future__ import annotations

import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest

from sourcing.faults import BadInput, UnknownName
from sourcing.folder import Folder
from sourcing.intake import sealed_all, take_in
from sourcing.job import Job, read_job
from sourcing.unitlist import Unit, read_units

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "scenarios" / "exact-block.toml"
ROW = {
    "job.number": "1042", "job.family": "larch5", "job.customer": "Invented: Ebba Larkfield", "job.date": "2026-03-24",
    "vehicle.built": "2003-05", "vehicle.facts.lever": "gate", "vehicle.facts.module": "white",
    "unit.tag": "tag plate reads L5-3117", "unit.built": "2003-04", "unit.facts.pan": "shallow", "found.block": "block-b",
    "found.plate": "plate-2", "found.screen": "screen-s", "found.body": "body-1", "limits.keep": "plate|body",
    "labour.base_hours": "13.5",
}  # fmt: skip
List = Callable[..., Path]


@pytest.fixture
def written(tmp_path: Path) -> List:
    """Write a list of rows, each the demo's exact-block with some cells changed; further columns where they are named."""

    def write(*rows: dict[str, str], separator: str = ",", encoding: str = "utf-8", first: str = "") -> Path:
        header = list(dict.fromkeys([*ROW, *(name for row in rows for name in row)]))
        lines = [separator.join(header)]
        lines += [separator.join({**ROW, **row}.get(name, "") for name in header) for row in rows]
        path = tmp_path / "units.csv"
        path.write_bytes((first + "\r\n".join(lines) + "\r\n").encode(encoding))
        return path

    return write


def read(path: Path) -> list[Unit]:
    return read_units(path, lambda _: ())


def faults(path: Path, check: Callable[[Job], list[UnknownName]] = lambda _: []) -> list[str]:
    with pytest.raises(BadInput) as refused:
        read_units(path, check)
    return [str(fault).replace(path.as_posix(), "units.csv") for fault in refused.value.faults]


def test_a_row_is_the_job_that_a_job_file_with_the_same_keys_is(written: List) -> None:
    (unit,) = read(written({}))
    assert unit.job == read_job(DEMO)
    assert unit.row == 2


@pytest.mark.parametrize("separator", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_list_is_read_as_spreadsheets_save_it(written: List, separator: str, encoding: str) -> None:
    (unit,) = read(written({"unit.tag": "Größe 3 ½"}, separator=separator, encoding=encoding))
    assert unit.job.unit.tag == "Größe 3 ½"
    assert unit.job.limits.keep == ["plate", "body"]


def test_a_line_that_says_the_separator_is_no_row(written: List) -> None:
    (unit,) = read(written({}, separator=";", first="sep=;\r\n"))
    assert unit.job.number == "1042"


def test_a_decimal_comma_is_a_decimal_mark_where_commas_part_no_cells(written: List) -> None:
    (unit,) = read(written({"labour.base_hours": "13,5", "readings.winding": "12,6"}, separator=";"))
    assert (unit.job.labour.base_hours, unit.job.readings) == (Decimal("13.5"), {"winding": Decimal("12.6")})


def test_a_blank_cell_is_a_key_that_is_left_out(written: List) -> None:
    (unit,) = read(written({"unit.built": "", "limits.keep": " ", "vehicle.built": "", "job.need_by": ""}))
    assert unit.job.unit_undated and unit.job.limits.keep == [] and unit.job.job.need_by is None


def test_a_bar_alone_is_an_empty_list_and_a_blank_none(written: List) -> None:
    some, none = read(written({"limits.cores": "|", "job.number": "1"}, {"job.number": "2"}))
    assert some.job.limits.cores == []
    assert none.job.limits.cores is None


def test_marks_and_parts_in_hand_have_columns_of_their_own(written: List) -> None:
    row = {"found.block": "", "found.block.solenoids": "7", "in_hand.screen.design": "screen-s",
           "in_hand.screen.source": "shelf", "in_hand.screen.cost": "15.80", "quote.discount": "5 %"}  # fmt: skip
    (unit,) = read(written(row))
    assert unit.job.found["block"] == {"solenoids": "7"}
    assert unit.job.in_hand["screen"].cost == Decimal("15.80")
    assert unit.job.quote.discount.share == Decimal("0.05")


def test_a_count_stands_for_like_units_numbered_from_one(written: List) -> None:
    units = read(written({"count": "3"}, {"count": "", "job.number": "7"}, {"count": "1", "job.number": "8"}))
    assert [unit.job.number for unit in units] == ["1042-1", "1042-2", "1042-3", "7", "8"]
    assert [unit.row for unit in units] == [2, 2, 2, 3, 4]
    assert all(unit.job.unit == units[0].job.unit for unit in units)


@pytest.mark.parametrize("count", ["0", "-1", "2.5", "many", "999999999999"])
def test_a_count_that_is_none_is_a_fault_of_its_row_and_column(written: List, count: str) -> None:
    (told,) = faults(written({"count": count}))
    assert told.startswith("units.csv, row 2, column count: expected a whole number from 1 to 200000; found ")


def test_an_unknown_column_is_a_fault(written: List) -> None:
    told = faults(written({"unit.colour": "", "wanted": "x", "limits": "x", "found": "x", "found.a.b.c": ""}))
    assert [line.split(":")[0] for line in told] == [
        f"units.csv, row 1, column {name}" for name in ("unit.colour", "wanted", "limits", "found", "found.a.b.c")
    ]
    assert 'such as "unit.facts.lever", or "count"; found "unit.colour".' in told[0]


def test_a_column_that_must_be_there_or_stands_twice_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "units.csv"
    path.write_text("job.number,job.date,job.date\n1,2026-03-24,2026-03-24\n", encoding="utf-8")
    assert faults(path) == [
        "units.csv, row 1, column job.date: expected each column once; found this header twice. Correct the value.",
        "units.csv, row 1, column job.family: expected this column. Add it.",
    ]


def test_every_fault_names_row_and_column_and_like_ones_are_told_once(written: List) -> None:
    bad = {"job.date": "24.03.2026"}
    path = written(
        {}, {"job.number": "2", **bad}, {"job.number": "", "unit.built": "May 2003"}, {"job.number": "4", **bad}
    )
    assert faults(path) == [
        'units.csv, row 3, column job.date: expected a date written YYYY-MM-DD; found "24.03.2026" (so too in row 5). Correct the'
        " value.",
        "units.csv, row 4, column job.number: expected a value; found a blank cell. Add it.",
        'units.csv, row 4, column unit.built: expected a month written YYYY-MM; found "May 2003". Correct the value.',
    ]


def test_a_list_that_is_not_there_is_a_fault() -> None:
    folder = Folder(ROOT / "catalogs")
    path = ROOT / "nowhere.csv"
    with pytest.raises(BadInput) as refused:
        take_in(folder, [path])
    assert "expected a list of units" in str(refused.value)


def test_names_are_checked_beside_the_book_once_for_like_rows(written: List) -> None:
    folder, rows = Folder(ROOT / "catalogs"), [{"job.number": str(n), "found.plate": "plate-99"} for n in range(10)]
    with pytest.raises(BadInput) as refused:
        take_in(folder, [written({}, *rows, {"job.number": "x", "vehicle.facts.lever": "twist"})])
    told = [str(fault) for fault in refused.value.faults]
    assert len(told) == 2
    assert (
        ", row 3, column found.plate: " in told[0] and '"plate-99" (so too in rows 4, 5, 6, 7, 8 and 4 more)' in told[0]
    )
    assert ', row 13, column vehicle.facts.lever: expected one of gate, tap; found "twist".' in told[1]


def test_a_unit_of_no_era_names_its_row(written: List) -> None:
    folder = Folder(ROOT / "catalogs")
    units = take_in(folder, [written({}, {"job.number": "2", "unit.built": "1950-01"})])
    with pytest.raises(BadInput) as refused:
        sealed_all(folder, units)
    assert [fault.row for fault in refused.value.faults] == [3]


def test_a_row_with_more_cells_than_headers_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "units.csv"
    path.write_text("job.number,job.family,job.date\n1,larch5,2026-03-24,,\n2,larch5,2026-03-24,x\n", encoding="utf-8")
    assert faults(path) == ["units.csv, row 3: expected 3 cells; found 4 cells. Correct the value."]


@pytest.mark.parametrize("content", [b"", b"\r\n\r\n", b"job.number,job.family,job.date\r\n"])
def test_a_list_without_units_is_a_fault(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "units.csv"
    path.write_bytes(content)
    assert len(faults(path)) == 1


def test_files_folders_and_lists_go_together(written: List, tmp_path: Path) -> None:
    jobs = tmp_path / "jobs"
    jobs.mkdir()
    for name in ("core-lost", "backordered"):
        (jobs / f"{name}.toml").write_bytes((ROOT / "scenarios" / f"{name}.toml").read_bytes())
    units = take_in(Folder(ROOT / "catalogs"), [jobs, DEMO, written({"job.number": "9"})])
    assert [unit.job.number for unit in units] == ["1105", "1043", "1042", "9"]


def test_a_folder_without_jobs_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as refused:
        take_in(Folder(ROOT / "catalogs"), [tmp_path])
    assert "expected job files (*.toml) in this folder" in str(refused.value)


def test_like_jobs_are_sealed_once_and_each_keeps_its_own_name(written: List) -> None:
    folder = Folder(ROOT / "catalogs")
    rows = [{"job.number": str(n), "unit.tag": f"tag {n}", "labour.base_hours": str(n)} for n in range(3)]
    units = take_in(folder, [written(*rows, {"job.number": "other", "limits.keep": "body"})])
    sealed = [problems[0] for problems in sealed_all(folder, units)]
    assert [problem.job.number for problem in sealed] == ["0", "1", "2", "other"]
    assert [problem.job.unit.tag for problem in sealed][:3] == ["tag 0", "tag 1", "tag 2"]
    assert sealed[0].lines is sealed[1].lines and sealed[0].fitting is sealed[2].fitting
    assert sealed[3].lines is not sealed[0].lines


def test_the_list_that_the_demos_readme_shows_is_read(tmp_path: Path) -> None:
    shown = (ROOT / "scenarios" / "README.md").read_text(encoding="utf-8").splitlines()
    first = next(n for n, line in enumerate(shown) if line.startswith("    job.number,"))
    path = tmp_path / "units.csv"
    path.write_text("\n".join(line.strip() for line in shown[first : first + 3]), encoding="utf-8")
    folder = Folder(ROOT / "catalogs")
    sealed = sealed_all(folder, take_in(folder, [path]))
    assert [len(problems) for problems in sealed] == [1] * 5  # nothing that a rule asks for is left open
    assert sealed[0][0].job.limits.keep == ["block", "body"]


def test_twenty_thousand_rows_are_read_in_some_seconds(written: List) -> None:
    path = written(*({"job.number": f"R{n}", "unit.tag": f"tag {n}"} for n in range(20_000)))
    folder = Folder(ROOT / "catalogs")
    folder.prices  # noqa: B018  (the sheets' own reading is no part of it)
    started = time.process_time()
    units = take_in(folder, [path])
    assert len(sealed_all(folder, units)) == 20_000
    assert time.process_time() - started < 10
