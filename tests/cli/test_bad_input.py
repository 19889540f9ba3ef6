"""Bad input: each fault names file, place, what was expected and what to do; code 2; nothing written."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from cli.conftest import Counter, Said

Run = Callable[..., Said]
SHOP, SUPPLIERS = "catalogs/shop.toml", "catalogs/suppliers.toml"
BOOK, PARTS, JOB = "catalogs/larch5/interchange.toml", "catalogs/larch5/parts.csv", "scenarios/exact-block.toml"
QUARRY = "catalogs/price-sheets/quarry/2026-03-09.csv"


@dataclass(frozen=True)
class Case:
    """A text put in place of another in a file of the demo, and the fault that it makes."""

    file: str
    old: str
    new: str
    place: str
    expected: str
    found: str
    remedy: str = ""


CASES = {
    "a key that shop.toml does not have": Case(
        SHOP,
        "labour_rate",
        "labor_rate",
        "labor_rate",
        "only keys of the format",
        '"labor_rate"',
        "Correct the spelling",
    ),
    "a key that a supplier does not have": Case(
        SUPPLIERS,
        "core_return_cost",
        "core_back",
        "supplier[2] (quarry) core_back",
        "only keys of the format",
        '"core_back"',
    ),
    "a key that a freight mode does not have": Case(
        SUPPLIERS,
        "per_kg = 1.10",
        "per_lb = 1.10",
        "supplier[1] (harbour) freight[1] (ground) per_lb",
        "only keys",
        '"per_lb"',
    ),
    "a key that a design does not have": Case(
        BOOK,
        "weight_kg = 2.350",
        "weigth_kg = 2.350",
        "design[1] (block-a) weigth_kg",
        "only keys of the format",
        '"weigth_kg"',
    ),
    "a part in hand with a key of its own": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "shelf", price = 3}\n[limits]',
        "in_hand block price",
        "only keys of the format",
        '"price"',
    ),
    "a part in hand that came from nowhere known": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "found"}\n[limits]',
        "in_hand block source",
        "'received', 'shelf' or 'customer'",
        "'found'",
    ),
    "a part in hand at a position that is not there": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblocks = {design = "block-b", source = "shelf"}\n[limits]',
        "in_hand blocks",
        "a position of larch5",
        '"blocks"',
    ),
    "a part in hand of another position's design": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "plate-2", source = "shelf"}\n[limits]',
        "in_hand block design",
        "one of block-a, block-b",
        '"plate-2"',
    ),
    "a part in hand of a supplier who is not there": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "received", supplier = "quarrel"}\n[limits]',
        "in_hand block supplier",
        "a supplier",
        '"quarrel"',
    ),
    "a part in hand whose number nobody gives a supplier": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "received", part_number = "QB-1200"}\n[limits]',
        "in_hand block supplier",
        "the supplier whose number it is",
        "a part_number without one",
    ),
    "a part in hand whose number parts.csv does not name": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "received", supplier = "quarry", part_number = "QB-1"}\n[limits]',
        "in_hand block part_number",
        "a number that parts.csv gives quarry",
        '"QB-1"',
    ),
    "a part in hand that comes after the job's day": Case(
        JOB,
        "[limits]",
        '[in_hand]\nblock = {design = "block-b", source = "received", came = 2026-03-25}\n[limits]',
        "in_hand block came",
        "a day not after the job's, 2026-03-24",
        "2026-03-25",
    ),
    "a number that cannot be had and is not there": Case(
        JOB,
        'keep = ["plate", "body"]',
        'keep = ["plate"]\nunavailable = ["quarry/QB-12"]',
        "limits unavailable",
        "SUPPLIER/PART_NUMBER, as parts.csv names it",
        '"quarry/QB-12"',
    ),
    "a restock share above one": Case(
        SUPPLIERS,
        "restock_share = 0.15",
        "restock_share = 15",
        "supplier[1] (harbour) restock_share",
        "less than or equal to 1",
        "15",
    ),
    "a table that a job does not have": Case(JOB, "[limits]", "[limit]", "limit", "only keys of the format", '"limit"'),
    "a column that parts.csv does not have": Case(
        PARTS, "warranty_months", "warranty", "row 1, header", "supplier, part_number, fills", '"warranty"'
    ),
    "a rule that names a design that is not there": Case(
        BOOK,
        '["block-a", "plate-1"]',
        '["block-z", "plate-1"]',
        "rule (block-and-plate) allow rows[1]",
        "a design of block",
        '"block-z"',
        "declare what it stands for",
    ),
    "a need that names a design of another position": Case(
        BOOK,
        'need = {plate = ["plate-3"',
        'need = {plate = ["block-c"',
        "rule (tap-slot) need plate",
        "a design of plate",
        '"block-c"',
    ),
    "a when that names nothing known": Case(
        BOOK,
        'when = {pan = ["shallow"]}',
        'when = {sump = ["shallow"]}',
        "rule (shallow-pan) when sump",
        "era, vehicle_era, a fact or a position",
        '"sump"',
    ),
    "a task that replaces a position that is not there": Case(
        BOOK, 'replacing = ["body"]', 'replacing = ["bodies"]', "task (fit-body) replacing", "a position", '"bodies"'
    ),
    "a design fitted in an era that is not there": Case(
        BOOK, 'fitted = ["early"]', 'fitted = ["erly"]', "design (block-a) fitted", "an era", '"erly"'
    ),
    "eras that overlap": Case(
        BOOK,
        'to = "2001-02"',
        'to = "2001-05"',
        "era (mid)",
        "eras that follow each other",
        "early to 2001-05, mid from 2001-03",
        "Correct `from` and `to`",
    ),
    "an era that ends before it begins": Case(
        BOOK,
        'to = "2004-08"',
        'to = "2000-08"',
        "era (mid)",
        "an era that ends after it begins",
        "from 2001-03 to 2000-08",
    ),
    "a design's code used twice": Case(
        BOOK,
        'code = "plate-2"',
        'code = "plate-1"',
        "design",
        "each code once",
        '"plate-1" 2 times',
        "Rename one of the two",
    ),
    "one code for a fact and a position": Case(
        BOOK, 'code = "pan"', 'code = "plate"', "fact or position", "each code once", '"plate" 2 times'
    ),
    "a supplier's code used twice": Case(
        SUPPLIERS, 'code = "quarry"', 'code = "harbour"', "supplier", "each code once", '"harbour" twice'
    ),
    "a second lead": Case(
        BOOK,
        'name = "Range-switch plate"\n',
        'name = "Range-switch plate"\nlead = true\n',
        "position",
        "lead = true on exactly one position",
        "block, plate",
    ),
    "a rule of two kinds": Case(
        BOOK,
        'never = {block = ["block-d"]}',
        'never = {block = ["block-d"]}\nneed = {block = ["block-a"]}',
        "rule (heavy-windings)",
        "exactly one of need, never and allow",
        "need and never",
        "Split the rule in two",
    ),
    "a book in another format": Case(BOOK, "format = 1", "format = 2", "format", "1", "2"),
    "a number that parts.csv lists twice": Case(
        PARTS,
        "harbour,0041102,",
        "harbour,00411-01,",
        "harbour",
        "each number of a supplier once",
        "twice",
        "Keep one of the two rows",
    ),
    "a part that fills a design that is not there": Case(
        PARTS, "0041102,block-b", "0041102,block-q", "row 3, column fills", "a design of larch5", '"block-q"'
    ),
    "a part of a supplier that is not there": Case(
        PARTS, "harbour,0041102", "harbor,0041102", "row 3, column supplier", "a supplier of suppliers.toml", '"harbor"'
    ),
    "a blank condition": Case(
        PARTS, "0041102,block-b,reman", "0041102,block-b,", "row 3, column condition", "a value", "a blank", "Add it"
    ),
    "a negative rate": Case(
        SHOP, "day_cost = 6.00", "day_cost = -6.00", "day_cost", "greater than or equal to 0", "-6.00"
    ),
    "an absurd cost": Case(
        SHOP, "comeback_cost = 850.00", "comeback_cost = 85e12", "comeback_cost", "less than or equal", "8.5E+13"
    ),
    "a cost of no number": Case(
        SHOP, "comeback_cost = 850.00", "comeback_cost = nan", "comeback_cost", "number", "NaN"
    ),
    "a rate in thousandths of a cent": Case(
        SHOP, "day_cost = 6.00", "day_cost = 6.005", "day_cost", "2 decimal places", "6.005"
    ),
    "a negative freight": Case(
        SUPPLIERS,
        "flat = 14.00",
        "flat = -14.00",
        "supplier[1] (harbour) freight[1] (ground) flat",
        "greater than or equal to 0",
        "-14.00",
    ),
    "a core recovery above the whole": Case(
        SUPPLIERS,
        "core_recovery = 0.95",
        "core_recovery = 95",
        "supplier[3] (tallow) core_recovery",
        "less than or equal to 1",
        "95",
    ),
    "a comeback rate above the whole": Case(
        BOOK,
        'comeback_rate = "7/76"',
        'comeback_rate = "76/7"',
        "design[1] (block-a) comeback_rate",
        "a rate from 0 to 1",
        "76/7",
    ),
    "a comeback rate of none": Case(
        BOOK,
        'comeback_rate = "7/76"',
        'comeback_rate = "7/0"',
        "design[1] (block-a) comeback_rate",
        "a number from 0 to 1",
        "7/0",
    ),
    "a family that is not there": Case(
        JOB,
        'family = "larch5"',
        'family = "larch6"',
        "job family",
        "one of the families here: larch5",
        '"larch6"',
        "[job] family",
    ),
    "a unit built in no era": Case(
        JOB,
        'built = "2003-04"',
        'built = "1990-04"',
        "unit",
        "a date in an era: early 1998-02 to 2001-02",
        "1990-04",
        "tag of the unit",
    ),
    "a fact's value that is none": Case(
        JOB, 'pan = "shallow"', 'pan = "flat"', "facts pan", "one of shallow, deep", '"flat"'
    ),
    "a fact that nobody asks": Case(
        JOB, 'pan = "shallow"', 'sump = "flat"', "facts sump", "a fact of larch5", '"sump"'
    ),
    "a found design that is not there": Case(
        JOB, 'block = "block-b"', 'block = "block-q"', "found block", "block-a, block-b", '"block-q"'
    ),
    "a vehicle that is numbered in no way": Case(
        JOB,
        'built = "2003-05"',
        'vin = "0ZZAA11A1"',
        "vehicle vin",
        "17 letters and digits",
        '"0ZZAA11A1"',
        "Read the number again",
    ),
    "a fact of two values": Case(
        JOB,
        'pan = "shallow"',
        'pan = "shallow"\nlever = "tap"',
        "facts lever",
        "statements that agree",
        '"gate" of the vehicle, "tap" of the unit',
    ),
    "a date of no calendar": Case(
        JOB, "date = 2026-03-24", 'date = "24.3.2026"', "job date", "a date written YYYY-MM-DD", "24.3.2026"
    ),
    "a month of no year": Case(JOB, 'built = "2003-04"', 'built = "2003-13"', "unit built", "pattern", "2003-13"),
    "a limit on a position that is not there": Case(
        JOB, '"body"]', '"bodies"]', "limits keep", "a position", '"bodies"'
    ),
    "a limit on a supplier that is not there": Case(
        JOB, "[limits]", '[limits]\navoid_suppliers = ["moon"]', "limits avoid_suppliers", "a supplier", '"moon"'
    ),
    "toml that is none": Case(BOOK, "format = 1", "format == 1", "", "valid TOML", "line 2", "Correct the line named"),
    "a key given twice": Case(
        JOB, "[job]", '[job]\nfamily = "larch5"', "", "valid TOML", "line", "Correct the line named"
    ),
    "a currency without a rate": Case(SHOP, "EUR = 1.12", "SEK = 1.12", "fx", "a rate in shop.toml", "no EUR"),
    "a wanted design twice": Case(
        SHOP, 'design = "screen-d"', 'design = "screen-s"', "wanted", "each code once", '"screen-s" twice'
    ),
    "mark-up steps that fall": Case(SHOP, "up_to = 250", "up_to = 25", "markup", "rising up_to", "50, 25"),
}


def check(said: Said, counter: Counter, before: set[str]) -> list[str]:
    """What every refusal has in common; the fault lines."""
    assert said.code == 2, said
    assert said.out == ""
    assert "Traceback" not in said.err and "defect" not in said.err
    assert counter.files() == before
    lines = said.err.splitlines()
    assert lines
    for line in lines:
        where, _, rest = line.partition(": expected ")
        assert where and rest, line
        assert rest.endswith(".") and ". " in rest, f"no remedy: {line}"
    return lines


@pytest.mark.parametrize("name", CASES)
def test_a_fault_names_file_place_what_was_expected_and_what_to_do(name: str, counter: Counter, sourcing: Run) -> None:
    case = CASES[name]
    counter.change(counter.folder / case.file, case.old, case.new)
    before = counter.files()
    lines = check(sourcing("quote", JOB), counter, before)
    named = [line for line in lines if case.found in line]
    assert named, lines
    where, _, rest = named[0].partition(": expected ")
    assert Path(case.file).name in where
    assert case.place in where
    expected, _, found = rest.partition("; found ")
    assert case.expected in expected
    assert case.found in found
    assert case.remedy in found


@pytest.mark.parametrize("name", CASES)
def test_json_says_nothing_where_there_is_no_answer(name: str, counter: Counter, sourcing: Run) -> None:
    case = CASES[name]
    counter.change(counter.folder / case.file, case.old, case.new)
    before = counter.files()
    check(sourcing("quote", JOB, "--json", "--out", "papers"), counter, before)


@pytest.mark.parametrize("file", [SHOP, SUPPLIERS, BOOK, PARTS, JOB])
@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "cp1252", "cp037"])
def test_a_file_in_a_wrong_encoding_is_named_with_its_line(
    file: str, encoding: str, counter: Counter, sourcing: Run
) -> None:
    path = counter.folder / file
    path.write_bytes((path.read_text(encoding="utf-8") + "# é\n").encode(encoding, errors="replace"))
    before = counter.files()
    lines = check(sourcing("quote", JOB), counter, before)
    assert len(lines) == 1
    assert lines[0].startswith(f"{file}, row ")
    assert "text in UTF-8" in lines[0] and "Save the file again as UTF-8" in lines[0]


@pytest.mark.parametrize("file", [SHOP, SUPPLIERS, PARTS, JOB])
def test_a_missing_file_is_named(file: str, counter: Counter, sourcing: Run) -> None:
    (counter.folder / file).unlink()
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert len(lines) == 1
    assert lines[0].startswith(f"{file}: expected ")


@pytest.mark.parametrize("file", [SHOP, SUPPLIERS, BOOK, PARTS, JOB])
def test_a_folder_where_a_file_should_be_is_a_fault(file: str, counter: Counter, sourcing: Run) -> None:
    (counter.folder / file).unlink()
    (counter.folder / file).mkdir()
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert Path(file).name in lines[0]


@pytest.mark.parametrize("file", [SHOP, BOOK, PARTS, JOB, QUARRY])
def test_an_empty_file_is_a_fault(file: str, counter: Counter, sourcing: Run) -> None:
    (counter.folder / file).write_bytes(b"")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert all(line.startswith(file) for line in lines)


def test_empty_catalogs_name_both_files_that_a_shop_begins_with(counter: Counter, sourcing: Run) -> None:
    shutil.rmtree(counter.catalogs)
    counter.catalogs.mkdir()
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert [line.partition(":")[0] for line in lines] == [SHOP, SUPPLIERS]


def test_no_catalogs_at_all_are_a_fault(counter: Counter, sourcing: Run) -> None:
    lines = check(sourcing("quote", JOB, "--catalogs", "nowhere"), counter, counter.files())
    assert lines[0].startswith("nowhere: expected a folder")


def test_an_empty_family_folder_is_a_family_that_is_not_there(counter: Counter, sourcing: Run) -> None:
    shutil.rmtree(counter.catalogs / "larch5")
    (counter.catalogs / "larch5").mkdir()
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "job family" in lines[0] and "none" in lines[0]


@pytest.mark.parametrize("left", ["nothing", "an empty folder", "empty folders of suppliers"])
def test_a_shop_without_any_price_sheet_is_a_fault(left: str, counter: Counter, sourcing: Run) -> None:
    sheets = counter.catalogs / "price-sheets"
    shutil.rmtree(sheets)
    if left != "nothing":
        sheets.mkdir()
    if left == "empty folders of suppliers":
        for supplier in ("harbour", "quarry", "tallow", "birkental", "saltpan"):
            (sheets / supplier).mkdir()
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "price-sheets" in lines[0]


def test_a_supplier_without_a_sheet_is_said(counter: Counter, sourcing: Run) -> None:
    """A supplier may send no sheet: the others are bought from, and the answer says what could not be looked at."""
    shutil.rmtree(counter.catalogs / "price-sheets" / "quarry")
    said = sourcing("quote", JOB, "--json")
    assert said.code == 0
    says = [reason["says"] for reason in json.loads(said.out)["reasons"]]
    assert any("QB-1200" in words and "no whole price sheet of Quarry Bend Exchange" in words for words in says)


@pytest.mark.parametrize("kind", ["whole", "update"])
def test_two_sheets_of_one_day_are_a_fault(kind: str, counter: Counter, sourcing: Run) -> None:
    folder = counter.catalogs / "price-sheets" / "quarry"
    first = next(path for path in folder.iterdir() if ("update" in path.name) == (kind == "update"))
    shutil.copy(first, first.with_name(f"{first.stem} again.csv"))
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "quarry" in lines[0] and "one whole sheet and one update a day" in lines[0]


@pytest.mark.parametrize(
    "price", ["-269.00", "($269.00)", "269-", "0.00", "$99999999999.00", "1e12", "free", "ask", "#N/A"]
)
def test_a_negative_or_absurd_price_is_never_bought_at_and_its_row_is_said(
    price: str, counter: Counter, sourcing: Run
) -> None:
    """The sheet is the supplier's: one row of it stops no quote, but the number cannot be bought and the answer says so."""
    counter.change(counter.folder / QUARRY, "$269.00", f'"{price}"')
    said = sourcing("quote", JOB, "--json")
    assert said.code == 0, said
    answer = json.loads(said.out)
    assert "QB-1200" not in [purchase["part_number"] for purchase in answer["purchases"]]
    told = [*answer["notes"], *(reason["says"] for reason in answer["reasons"])]
    assert any("2026-03-09.csv, row 4" in words for words in told)


def test_all_faults_of_a_file_are_told_at_once(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.book, '["block-a", "plate-1"]', '["block-z", "plate-1"]')
    counter.change(counter.book, 'when = {body = ["body-1"', 'when = {body = ["body-9"')
    counter.change(counter.book, 'to = "2001-02"', 'to = "2001-05"')
    counter.change(counter.book, 'code = "jumper-r"', 'code = "jumper-s"')
    told = "\n".join(check(sourcing("quote", JOB), counter, counter.files()))
    for piece in ("block-z", "body-9", "early to 2001-05", '"jumper-s" 2 times'):
        assert piece in told


def test_all_unknown_keys_of_a_file_are_told_at_once(counter: Counter, sourcing: Run) -> None:
    for key in ("labour_rate", "holidays", "quote_days"):
        counter.change(counter.folder / SHOP, f"{key} =", f"x{key} =")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert len(lines) == 3


def test_faults_of_the_shop_and_its_suppliers_are_told_together(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.folder / SHOP, "labour_rate", "labor_rate")
    counter.change(counter.folder / SUPPLIERS, "core_return_cost", "core_back")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert [line.partition(",")[0] for line in lines] == [SHOP, SUPPLIERS]


def test_all_faults_of_the_parts_are_told_at_once(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.parts, "0041102,block-b,reman", "0041102,block-q,reman")
    counter.change(counter.parts, "0041103,block-c,reman", "0041103,block-c,rebuilt")
    counter.change(counter.parts, "harbour,0041105", "harbour,0041104")
    told = "\n".join(check(sourcing("quote", JOB), counter, counter.files()))
    for piece in ("block-q", "rebuilt", '"0041104" twice'):
        assert piece in told


@pytest.mark.parametrize(
    ("file", "shape", "other"),
    [
        (BOOK, ("weight_kg = 2.350", "weigth = 2.350"), ('["block-a", "plate-1"]', '["block-z", "plate-1"]')),
        (SHOP, ("labour_rate", "labor_rate"), ("up_to = 250", "up_to = 25")),
        (SUPPLIERS, ("core_return_cost", "core_back"), ('code = "tallow"', 'code = "quarry"')),
        (JOB, ("base_hours", "base_hour"), ('"body"]', '"bodies"]')),
        (JOB, ('built = "2003-05"', 'vin = "0ZZ"'), ('"body"]', '"bodies"]')),
        (PARTS, ("warranty_months", "warranty"), ("0041102,block-b", "0041102,block-q")),
        (PARTS, ("0041102,block-b,reman", "0041102,block-q,rebuilt"), ("", "")),
    ],
    ids=["book", "shop", "suppliers", "job", "job's vin", "parts' header", "two in one row"],
)
def test_a_fault_of_shape_hides_no_other(
    file: str, shape: tuple[str, str], other: tuple[str, str], counter: Counter, sourcing: Run
) -> None:
    counter.change(counter.folder / file, *shape)
    if other[0]:
        counter.change(counter.folder / file, *other)
    assert len(check(sourcing("quote", JOB), counter, counter.files())) >= 2


def test_a_number_listed_twice_is_named_by_its_row(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.parts, "harbour,0041102,", "harbour,00411-01,")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "row 3" in lines[0]


def test_what_was_expected_is_said_in_the_trades_words(counter: Counter, sourcing: Run) -> None:
    counter.change(counter.folder / SHOP, "comeback_cost = 850.00", "comeback_cost = 850000000.00")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "Decimal(" not in lines[0] and "input should" not in lines[0]


@pytest.mark.parametrize("day", ["9999-12-31", "9999-12-30"])
def test_a_date_at_the_end_of_the_calendar_is_a_fault(day: str, counter: Counter, sourcing: Run) -> None:
    counter.change(counter.job, "date = 2026-03-24", f"date = {day}")
    lines = check(sourcing("quote", JOB), counter, counter.files())
    assert "job date" in lines[0]


def test_a_place_where_nothing_can_be_written_is_said(counter: Counter, sourcing: Run) -> None:
    (counter.folder / "reports").write_text("in the way", encoding="utf-8")
    said = sourcing("quote", JOB)
    assert said.code == 2
    assert "reports" in said.err and "Nothing was written there" in said.err
    assert "Traceback" not in said.err
    assert (counter.folder / "reports").read_text(encoding="utf-8") == "in the way"


def test_a_fault_in_a_process_of_its_own_shows_no_traceback(counter: Counter, process: Run) -> None:
    counter.change(counter.folder / SHOP, "labour_rate", "labor_rate")
    check(process("quote", JOB), counter, counter.files())
