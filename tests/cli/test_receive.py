"""`sourcing receive`: a sheet filed, its layout kept, what changed, and which open jobs turn."""

from __future__ import annotations

import csv
import json
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from demofolder import ROOT, command, environment
from prices.making import csv_bytes, xlsx_bytes

from cli.conftest import Counter, Said
from sourcing import newsheet as receiving

Run = Callable[..., Said]
EXPECTED = json.loads((ROOT / "tests" / "demo" / "expected.json").read_text(encoding="utf-8"))
LAST = {
    "harbour": "2026-08-31 dealer list.xlsx",
    "saltpan": "2026-10-01 yard list.ods",
    "birkental": "2026-09-01 Preisliste.csv",
}


def taken_out(counter: Counter, supplier: str) -> Path:
    """The supplier's last sheet, moved from the record to the in-tray."""
    filed = counter.catalogs / "price-sheets" / supplier / LAST[supplier]
    return Path(shutil.move(filed, counter.folder / filed.name))


def sheet(counter: Counter, name: str, rows: list[list[object]]) -> Path:
    path = counter.folder / name
    path.write_bytes(xlsx_bytes(rows) if name.endswith(".xlsx") else csv_bytes(rows))
    return path


def quarry(counter: Counter, sourcing: Run, change: Callable[[list[dict[str, str]]], None]) -> Path:
    """Quarry's list of July with something changed."""
    with (counter.catalogs / "price-sheets" / "quarry" / "2026-07-01.csv").open(encoding="utf-8", newline="") as file:
        title = file.readline().strip()
        reader = csv.DictReader(file)
        rows = list(reader)
    change(rows)
    head = list(reader.fieldnames or [])
    return sheet(counter, "quarry october.csv", [[title], head, *([row[name] for name in head] for row in rows)])


def record(counter: Counter, supplier: str) -> list[str]:
    return sorted(path.name for path in (counter.catalogs / "price-sheets" / supplier).iterdir())


def test_the_demos_last_sheet_is_filed_and_the_jobs_turn_as_the_slow_buyer_says(
    counter: Counter, sourcing: Run
) -> None:
    """`tests/demo/expected.json` is found by a buyer that tries everything and shares no code with the package."""
    source = taken_out(counter, "birkental")
    said = sourcing("receive", source, "--supplier", "birkental", "--date", "2026-09-01", "--json")
    assert said.code == 0, said.err
    told = json.loads(said.out)
    assert told["status"] == "filed"
    assert told["filed"] == "catalogs/price-sheets/birkental/2026-09-01 Preisliste.csv"
    assert (counter.folder / told["filed"]).read_bytes() == source.read_bytes()
    jobs = {one["job"]: one for one in told["jobs"]}
    # 1062 is dated October, after the sheet: what it costs now is what it costs in the demo as it stands
    assert jobs["1062"]["after"]["cost"] == EXPECTED["date-autumn.toml"]["cost"]
    assert jobs["1062"]["outcome"] == "differs"
    numbers = {one["part_number"]: one for one in told["changes"]["numbers"]}
    block = numbers["00710-02"]  # 289.00 in March, 352.00 in September
    assert (block["kind"], block["before"], block["after"]) == ("dearer", "289.00", "352.00")
    assert (block["difference"], block["percent"], block["designs"]) == ("63.00", "21.8", ["block-b"])


def test_the_screen_tells_each_job_that_turns_with_both_costs(counter: Counter, sourcing: Run) -> None:
    source = taken_out(counter, "harbour")
    said = sourcing("receive", source, "--supplier", "harbour", "--date", "2026-08-31")
    assert said.code == 0
    assert "Filed: catalogs/price-sheets/harbour/2026-08-31 dealer list.xlsx" in said.out
    assert "Designs touched: block-a" in said.out
    line = next(line for line in said.out.splitlines() if line.startswith("  - 1062: "))
    before, now = line.removeprefix("  - 1062: ").split(" now")[0].split(" before, ")
    # the same two quotes by the front door: without the sheet, and with it
    with_it = json.loads(sourcing("quote", "scenarios/date-autumn.toml", "--json").out)
    taken_out(counter, "harbour")
    without = json.loads(sourcing("quote", "scenarios/date-autumn.toml", "--json").out)
    assert before == f"Block {without['combination']['block'][-1].upper()} {without['totals']['whole']}"
    assert now == f"Block {with_it['combination']['block'][-1].upper()} {with_it['totals']['whole']}"


def test_what_no_offer_of_a_job_depends_on_leaves_it_untouched(counter: Counter, sourcing: Run) -> None:
    source = quarry(counter, sourcing, lambda rows: None)
    source.write_bytes(source.read_bytes() + b"\r\n")
    told = json.loads(sourcing("receive", source, "--supplier", "quarry", "--date", "2026-07-02", "--json").out)
    assert told["status"] == "filed" and told["changes"]["numbers"] == []
    assert told["jobs"] == []


def test_an_unsure_sheet_is_not_filed_and_the_command_offered_files_it(counter: Counter, sourcing: Run) -> None:
    rows = [["Part No", "Net price east", "Net price west", "Stock"],
            *([f"QB-1{n}00", 200 + n, 210 + n, 3] for n in range(1, 6))]  # fmt: skip
    sheet(counter, "two prices.xlsx", rows)
    words = [
        "receive",
        "two prices.xlsx",
        "--supplier",
        "quarry",
        "--date",
        "2026-10-05",
        "--update",
        "--scenarios",
        "none",
    ]
    before = counter.files()
    said = sourcing(*words)
    assert said.code == 4 and "Nothing was filed." in said.out
    assert counter.files() == before
    offered = [line.strip() for line in said.out.splitlines() if line.startswith("  sourcing receive")]
    assert len(offered) == 2
    answered = sourcing(*shlex.split(offered[1])[1:])
    assert answered.code == 0
    assert "2026-10-05 update two prices.xlsx" in record(counter, "quarry")
    assert 'price = "Net price west"' in answered.out
    # every older sheet is still read, and the new price counts
    assert sourcing("quote", "scenarios/date-spring.toml", "--json").code == 0
    told = json.loads(sourcing("prices", "block-a", "--json").out)
    last = next(one for one in told["parts"] if one["part_number"] == "QB-1100")["dates"][-1]
    assert (last["date"], last["price"]) == ("2026-10-05", "211.00")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("web.xls", b"<html><table><tr><td>Part No</td></tr></table></html>", "a web page"),
        ("empty.csv", b"", "an empty file"),
    ],
)
def test_a_refused_file_is_not_filed(name: str, content: bytes, words: str, counter: Counter, sourcing: Run) -> None:
    (counter.folder / name).write_bytes(content)
    before = counter.files()
    said = sourcing("receive", name, "--supplier", "quarry", "--date", "2026-10-05")
    assert said.code == 4 and "REFUSED" in said.out and words in said.out and "Nothing was filed." in said.out
    assert counter.files() == before


def test_a_sheet_that_lacks_more_than_a_tenth_asks_whether_it_is_an_update(counter: Counter, sourcing: Run) -> None:
    def shorten(rows: list[dict[str, str]]) -> None:
        rows[:] = [row for row in rows if row["Item No"].startswith("QB")][:-3]

    source = quarry(counter, sourcing, shorten)
    words = ["receive", source, "--supplier", "quarry", "--date", "2026-10-05", "--scenarios", "none"]
    said = sourcing(*words)
    assert said.code == 4
    assert "UNSURE: is this an update?" in said.out and "3 (15 percent) are missing here" in said.out
    assert "--update" in said.out and "--whole" in said.out
    told = json.loads(sourcing(*words, "--json").out)
    assert (told["status"], told["questions"]) == ("unsure", [{"field": "update", "choices": ["--update", "--whole"]}])
    assert "quarry october" not in " ".join(record(counter, "quarry"))
    whole = json.loads(sourcing(*words, "--whole", "--json").out)
    assert (whole["status"], whole["update"], whole["changes"]["counts"]["gone"]) == ("filed", False, 3)


def test_the_same_file_again_changes_nothing(counter: Counter, sourcing: Run) -> None:
    source = taken_out(counter, "saltpan")
    words = ["receive", source, "--supplier", "saltpan", "--date", "2026-10-01", "--scenarios", "none"]
    assert sourcing(*words).code == 0
    before = {name: (counter.folder / name).read_bytes() for name in counter.files()}
    said = sourcing(*words)
    assert said.code == 0 and "Filed already, byte for byte" in said.out and "Nothing was changed." in said.out
    assert {name: (counter.folder / name).read_bytes() for name in counter.files()} == before


def test_another_whole_sheet_of_that_day_is_a_fault_that_says_what_to_do(counter: Counter, sourcing: Run) -> None:
    source = quarry(counter, sourcing, lambda rows: rows.reverse())
    said = sourcing("receive", source, "--supplier", "quarry", "--date", "2026-07-01")
    assert said.code == 2
    assert "2026-07-01.csv" in said.err and "add --update" in said.err


@pytest.mark.parametrize(
    "words",
    [["--date", "1.4.2026"], ["--date", "2026-02-30"], ["--date", "2026-04-01", "--update", "--whole"],
     ["--date", "2026-04-01", "--column", "price"]],
)  # fmt: skip
def test_wrong_usage_is_code_2_and_files_nothing(words: list[str], counter: Counter, sourcing: Run) -> None:
    source = quarry(counter, sourcing, lambda rows: None)
    before = counter.files()
    assert sourcing("receive", source, "--supplier", "quarry", *words).code == 2
    assert counter.files() == before


def test_an_unknown_supplier_and_a_missing_file_are_told_by_name(counter: Counter, sourcing: Run) -> None:
    source = quarry(counter, sourcing, lambda rows: None)
    said = sourcing("receive", source, "--supplier", "nobody", "--date", "2026-10-05")
    assert said.code == 2 and "harbour" in said.err and '"nobody"' in said.err
    said = sourcing("receive", "not-there.csv", "--supplier", "quarry", "--date", "2026-10-05")
    assert said.code == 2 and "not-there.csv" in said.err
    assert not (counter.catalogs / "price-sheets" / "nobody").exists()


def test_a_sheet_older_than_the_one_in_force_says_that_it_has_no_more_say(counter: Counter, sourcing: Run) -> None:
    source = quarry(counter, sourcing, lambda rows: None)
    source.write_bytes(source.read_bytes() + b"\r\n")
    said = sourcing("receive", source, "--supplier", "quarry", "--date", "2026-05-01", "--scenarios", "none")
    assert said.code == 0
    assert "A later whole sheet is on file, 2026-07-01.csv" in said.out


def jobs_in(counter: Counter) -> int:
    return len(list((counter.folder / "scenarios").glob("*.toml")))


def test_ctrl_c_in_the_look_at_jobs_leaves_the_sheet_filed_and_says_so(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest, asked = receiving.rebought, []

    def stopped(*words: object) -> object:
        asked.append(words)
        if len(asked) == 3:
            raise KeyboardInterrupt
        return honest(*words)

    monkeypatch.setattr(receiving, "rebought", stopped)
    source = taken_out(counter, "harbour")
    said = sourcing("receive", source, "--supplier", "harbour", "--date", "2026-08-31")
    assert said.code == 5
    assert f"Stopped: the sheet is filed; {jobs_in(counter) - 2} jobs were not looked at." in said.err
    assert LAST["harbour"] in record(counter, "harbour")


def test_a_job_that_cannot_be_read_is_named_and_the_others_are_looked_at(counter: Counter, sourcing: Run) -> None:
    (counter.folder / "scenarios" / "broken.toml").write_text("[job\n", encoding="utf-8")
    source = taken_out(counter, "harbour")
    said = sourcing("receive", source, "--supplier", "harbour", "--date", "2026-08-31")
    assert said.code == 0
    assert "broken.toml could not be looked at" in said.out
    assert f"of {jobs_in(counter) - 1} would be bought differently" in said.out


def test_the_first_sheet_of_a_new_shop_is_received(counter: Counter, sourcing: Run) -> None:
    shutil.rmtree(counter.catalogs / "price-sheets")
    source = ROOT / "catalogs" / "price-sheets" / "harbour" / LAST["harbour"]
    said = sourcing("receive", source, "--supplier", "harbour", "--date", "2026-08-31")
    assert said.code == 0, said.err
    assert "first sheet in force" in said.out
    assert record(counter, "harbour") == [LAST["harbour"]]
    assert ".receive.lock" in {path.name for path in (counter.catalogs / "price-sheets").iterdir()}


def test_two_commands_at_once_file_one_sheet(counter: Counter, sourcing: Run) -> None:
    source = taken_out(counter, "saltpan")
    words = command("receive", source, "--supplier", "saltpan", "--date", "2026-10-01", "--scenarios", "none", "--json")
    runs = [subprocess.Popen(words, stdout=subprocess.PIPE, env=environment(), encoding="utf-8") for _ in range(2)]
    told = [json.loads(run.communicate()[0]) for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    assert sorted(one["status"] for one in told) == ["filed", "filed already"]
    assert record(counter, "saltpan") == ["2026-03-20 yard list.ods", LAST["saltpan"]]
