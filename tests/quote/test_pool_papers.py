"""The papers of a pool: approved cell by cell, recalculated by other programs, sums that agree, hostile texts."""

from __future__ import annotations

import csv
import io
import os
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from decision.jobs import cost_only
from program.test_together import numbered, one_block
from program.tiny import sold, tiny

from quote.engines import ENGINES, Values, stored, without_values
from quote.hand import TERMS, Opened
from quote.test_papers import HOSTILE, shape, shapes, told
from sourcing.decision.receiving import receiving, receiving_together
from sourcing.folder import Folder
from sourcing.pool.buying import Bought, buy
from sourcing.problem import Problem
from sourcing.program.together import answer_together
from sourcing.quote.charging import charge
from sourcing.quote.orders import orders_for_suppliers, orders_of_pool
from sourcing.quote.poolcharge import dealt_out, job_plans
from sourcing.quote.pooled import alike, pool_cautions
from sourcing.quote.poolpapers import MOST_QUOTES, pool_facts, pool_papers

ROOT = Path(__file__).resolve().parents[2]
APPROVED = Path(__file__).resolve().parent / "approved" / "pool.txt"
THREE = ("exact-block", "core-lost", "backordered")


def bought(*problems: Problem) -> Bought:
    return buy([[problem] for problem in problems], cost_only, answer_together)


@pytest.fixture(scope="module")
def three() -> Bought:
    """Three jobs of the demo, of one day."""
    folder = Folder(ROOT / "catalogs")
    problems: Sequence[Sequence[Problem]] = [folder.problems(ROOT / "scenarios" / f"{name}.toml") for name in THREE]
    return buy(problems, cost_only, answer_together)


@pytest.fixture(scope="module")
def papers(three: Bought) -> dict[str, bytes]:
    return pool_papers(three, "pool-2026-03-24")


def sheet(content: bytes, name: str) -> list[list[object]]:
    return [[cell.value for cell in row] for row in openpyxl.load_workbook(io.BytesIO(content), data_only=True)[name]]


def test_the_papers_are_those_that_were_approved_cell_by_cell(papers: dict[str, bytes]) -> None:
    """After a change that is meant: UPDATE_GOLDEN=1 pytest -n0 tests/quote/test_pool_papers.py, then read the difference."""
    found = re.sub(r"'[^']*catalogs/", "'catalogs/", "\n".join(told(papers)) + "\n")
    if os.environ.get("UPDATE_GOLDEN"):
        APPROVED.write_text(found, encoding="utf-8", newline="\n")
    assert found == APPROVED.read_text(encoding="utf-8")


def test_equal_plans_give_equal_bytes(three: Bought, papers: dict[str, bytes]) -> None:
    assert pool_papers(three, "pool-2026-03-24") == papers


@pytest.mark.parametrize("engine", ENGINES, ids=[engine.__name__ for engine in ENGINES])
@pytest.mark.parametrize("name", ["pool.xlsx", "cores.xlsx"])
def test_another_program_reckons_every_formula_as_we_did(
    name: str, engine: Callable[[Path, Values], Values], papers: dict[str, bytes], tmp_path: Path
) -> None:
    (tmp_path / "ours.xlsx").write_bytes(papers[name])
    expected = stored(tmp_path / "ours.xlsx")
    assert len(expected) >= 3
    found = engine(without_values(tmp_path / "ours.xlsx", tmp_path / "bare.xlsx"), expected)
    assert found == pytest.approx(expected, abs=1e-6)


def test_the_first_sheet_says_status_saving_and_rule(three: Bought, papers: dict[str, bytes]) -> None:
    rows = sheet(papers["pool.xlsx"], "Together")
    said = {row[0]: row[3] for row in rows}
    assert any("Proven: no plan" in str(row[0]) for row in rows)
    assert said["Whole"] == said["Together"] == said["The jobs' shares, added up"] == three.plan.cost / 100
    assert said["Saved"] == pytest.approx(49.63)
    assert any("S. Moriarity" in str(row[0]) for row in rows)


def test_each_job_is_a_row_with_what_it_gets_its_share_and_its_arrival(papers: dict[str, bytes]) -> None:
    rows = sheet(papers["pool.xlsx"], "Jobs")
    head = next(n for n, row in enumerate(rows) if row[0] == "Job")
    jobs = {row[0]: dict(zip(rows[head], row, strict=True)) for row in rows[head + 1 :]}
    assert list(jobs) == ["1042", "1043", "1105"]
    assert (
        jobs["1105"]["Solenoid block"] == "Block B, seven solenoids, round plug - new, Birkental Ersatzteile 00710-02"
    )
    assert jobs["1105"]["Range-switch plate"] == "Range-switch plate, six tracks - the found one goes back in"
    assert str(jobs["1105"]["All here"])[:10] == "2026-04-03" and str(jobs["1042"]["All here"])[:10] == "2026-03-31"
    for share, turn, less in ((job["Share  "], job["In its turn  "], job["Less  "]) for job in jobs.values()):
        assert share + less == pytest.approx(turn) and less > 0  # type: ignore[operator]


def test_the_list_of_jobs_can_be_filtered_and_keeps_its_headings_in_sight(papers: dict[str, bytes]) -> None:
    jobs = openpyxl.load_workbook(io.BytesIO(papers["pool.xlsx"]))["Jobs"]
    assert jobs.freeze_panes == "B4" and jobs.auto_filter.ref.startswith("A3:")
    assert jobs.protection.sheet and not jobs.protection.autoFilter  # openpyxl: False is "not locked"


def test_every_sheet_is_set_up_for_printing(papers: dict[str, bytes]) -> None:
    for name, content in papers.items():
        for one in openpyxl.load_workbook(io.BytesIO(content)) if name.endswith("xlsx") else ():
            assert one.print_title_rows and one.print_area, (name, one.title)
            assert one.sheet_properties.pageSetUpPr.fitToPage
            assert one.oddFooter.left.text and one.protection.sheet


def test_the_box_is_sorted_by_a_list_that_adds_up_to_the_order(three: Bought, papers: dict[str, bytes]) -> None:
    rows = list(csv.DictReader(io.StringIO(papers["sorting.csv"].decode("utf-8-sig"))))
    screens = [(row["job"], row["pieces"], row["goes_to"]) for row in rows if row["part_number"] == "QB-7010"]
    assert screens == [
        ("1042", "1", "Oil screen"), ("1043", "1", "Oil screen"), ("1105", "1", "Oil screen"),
        ("", "1", "the shelf: no job needs it"),
    ]  # fmt: skip
    assert sum(int(row["pieces"]) for row in rows) == sum(purchase.quantity for purchase in three.plan.purchases)
    drawn = sheet(papers["bench-papers.xlsx"], "Sorting")
    assert sum(row[5] for row in drawn if isinstance(row[5], int)) == sum(int(row["pieces"]) for row in rows)


def test_a_core_says_which_job_it_comes_from_and_who_gets_it(papers: dict[str, bytes]) -> None:
    rows = [row for row in sheet(papers["cores.xlsx"], "Cores") if row[0] in ("1042", "1105")]
    assert [(row[0], row[2], row[4], row[5], row[10]) for row in rows] == [
        ("1042", "Block B, seven solenoids, round plug", "Quarry Bend Exchange", "QB-1200", 180),
        ("1105", "Block B, seven solenoids, round plug", "Quarry Bend Exchange", "QB-1200", 180),
    ]


def test_a_pool_of_one_is_received_and_ordered_as_its_job_by_itself() -> None:
    problem = Folder(ROOT / "catalogs").problems(ROOT / "scenarios" / "substitute-with-plate.toml")[0]
    plan, pool = cost_only(problem), bought(problem).plan
    assert [one for _, one in receiving_together(pool)] == list(receiving(plan))
    assert orders_of_pool(pool, plan.problem.job.number) == orders_for_suppliers(plan)
    assert charge(job_plans(pool)["1047"]).total_cents == charge(plan).total_cents


def test_a_look_alike_that_would_break_any_unit_is_one_to_be_told() -> None:
    """Block-2 would do in the unit whose lever is a gate, not in the one with a tap: the card must tell it."""
    rules = [{"when": {"lever": ["tap"]}, "need": {"block": ["block-1"]}}]
    facts = [{"code": "lever", "ask": "Which lever?", "values": ["gate", "tap"]}]
    from sourcing.book.rules import Setting

    def unit(number: str, lever: str) -> Problem:
        return tiny(["block"], ["block-1", "block-2"], [sold("s", "A", "block-1", 5)], facts=facts, rules=rules,
                    job={"number": number}, setting=Setting("e", "e", {"lever": lever}),
                    unit={"built": "2001-01", "facts": {"lever": lever}})  # fmt: skip

    gate, tap = unit("1", "gate"), unit("2", "tap")
    ((_, alone),) = receiving_together(bought(gate).plan)
    ((_, both),) = receiving_together(bought(gate, tap).plan)
    assert (alone.breaking, alone.fitting) == ((), ("block-2",))
    assert (both.breaking, both.fitting) == (("block-2",), ())
    assert both.pieces == 2


def test_cautions_of_all_units_are_said_once_the_gravest_first(three: Bought) -> None:
    said = pool_cautions(alike(three.plan))
    assert said[0][0].code == "start-in-gear" and said[-1][0].code == "who-decides"
    assert len({caution.says for caution, _ in said}) == len(said)
    assert said[0][1] == ["1042", "1043", "1105"]


FLAT = {"s": {"freight": [{"mode": "ground", "days": 0, "flat": 9}]}}


def test_a_quote_charges_the_price_and_the_freight_of_the_joint_order() -> None:
    # Five at the break cost 9.00 each, not 10.00; 9.00 of freight are 1.80 for each of five.
    problem = one_block(sold("s", "A", "block-1", 10, {5: 9}), suppliers=FLAT)
    plans = job_plans(bought(*numbered(problem, *"12345")).plan)
    charged = [charge(plan) for plan in plans.values()]
    assert [one.parts[0].cost_cents for one in charged] == [900] * 5
    assert [one.freight_cents for one in charged] == [180] * 5


def test_freight_is_dealt_out_to_the_cent_by_what_each_gets() -> None:
    # 10.00 of 30.00 and 20.00 of 30.00 of the goods: 3.00 and 6.00 of 9.00.
    small = one_block(sold("s", "A", "block-1", 10), suppliers=FLAT)
    large = tiny(["block"], ["block-2"], [sold("s", "B", "block-2", 20)], suppliers=FLAT, job={"number": "2"})
    plans = job_plans(bought(small, large).plan)
    assert {number: plan.totals.freight for number, plan in plans.items()} == {"1": 300, "2": 600}
    assert dealt_out(100, {"a": 1, "b": 1, "c": 1}) == {"a": 34, "b": 33, "c": 33}
    assert dealt_out(7, {"a": 0, "b": 0}) == {"a": 4, "b": 3}
    assert dealt_out(7, {}) == {}


def test_freight_and_core_returns_of_the_quotes_add_up_to_the_orders(three: Bought) -> None:
    plans = job_plans(three.plan).values()
    assert sum(plan.totals.freight for plan in plans) == three.plan.totals.freight
    assert sum(plan.totals.core_return for plan in plans) == three.plan.totals.core_return
    assert sum(plan.totals.core_credit for plan in plans) == three.plan.totals.core_credit


def test_an_old_part_that_goes_back_against_anothers_piece_settles_its_own_jobs_core_charge(three: Bought) -> None:
    # 1105 gives its block against a piece of 1043, whose own is burnt: only 1043 pays for a core.
    lost = {number: charge(plan).cores_cents for number, plan in job_plans(three.plan).items()}
    assert lost == {"1042": 0, "1043": 180_00, "1105": 0}


def test_many_jobs_get_no_quotes_one_by_one_and_a_checklist_for_each_kind() -> None:
    problem = one_block(sold("s", "A", "block-1", 10), suppliers=FLAT)
    made = pool_papers(bought(*numbered(problem, *(f"{n:03}" for n in range(MOST_QUOTES + 1)))), "many")
    assert not [name for name in made if name.startswith("quote-customer")]
    book = openpyxl.load_workbook(io.BytesIO(made["bench-papers.xlsx"]))
    assert book.sheetnames == ["Receiving card", "Sorting", "Release checklist"]
    assert book["Release checklist"]["A1"].value == "Release checklist, 41 jobs (first 000, last 040)"


def test_a_kit_that_is_parted_between_jobs_is_charged_once() -> None:
    kit = sold("s", "K", "block-1 + plate-1", 30)
    one = tiny(
        ["block", "plate"], ["block-1", "plate-1"], [kit], found={"plate": "plate-1"}, limits={"keep": ["plate"]}
    )
    other = tiny(["block", "plate"], ["block-1", "plate-1"], [kit], found={"block": "block-1"},
                 limits={"keep": ["block"]}, job={"number": "2"})  # fmt: skip
    result = bought(one, other)
    assert [purchase.quantity for purchase in result.plan.purchases] == [1]
    assert [charge(plan).parts_cents for plan in job_plans(result.plan).values()] == [15_00, 15_00]
    assert len(pool_papers(result, "kit")) == 8


def test_nothing_bought_has_papers_too() -> None:
    kept = one_block(sold("s", "A", "block-1", 5), found={"block": "block-1"}, limits={"keep": ["block"]})
    made = pool_papers(bought(*numbered(kept, "1", "2")), "none")
    assert not [name for name in made if name.startswith("order-")]
    assert pool_facts(bought(*numbered(kept, "1", "2"))).arrival == "now"


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_text_of_a_file_runs_or_is_lost_in_any_paper(text: str, opened: Opened) -> None:
    quoted, short = f'"{text}"', f'"{text[:100]}"'
    changes = [
        ('"Invented: A. Person"', quoted), ('"Block one"', quoted), ('"Northgate Invented"', quoted), ('"Fit the block"', quoted),
        ('"Oak four-speed"', short), ('"the one era"', short), ('"Look at the tracks first."', quoted),
        ('number = "77"', f'number = "{text[:60]}"'), ('built = "2001-01"', f'built = "2001-01"\ntag = {quoted}'),
        ('keep = ["block", "plate", "screen"]', 'keep = ["plate"]'),
        ("core_return_cost = 12.00", f"core_return_cost = 12.00\ncore_days = 30\ncore_needs = {quoted}"),
    ]  # fmt: skip
    plain = pool_papers(_two(opened(changes[-2], TERMS)), "plain")
    hostile = pool_papers(_two(opened(*changes)), "plain")
    allowed = set().union(*(shapes(content) for name, content in plain.items() if name.endswith("xlsx")))
    for name, content in hostile.items():
        if name.endswith(".csv"):
            for row in csv.reader(io.StringIO(content.decode("utf-8-sig"))):
                assert not any(re.match(r"[=+\-@\t\r](?![\d.]+$)", cell) for cell in row), row
            continue
        for one in openpyxl.load_workbook(io.BytesIO(content)):
            for line in one:
                for cell in line:
                    assert cell.hyperlink is None
                    if cell.data_type == "f":
                        assert shape(cell.value) in allowed, (name, one.title, cell.coordinate)
                    elif isinstance(cell.value, str):
                        assert all(sign.isprintable() or sign == "\u200d" for sign in cell.value)
                        assert cell.quotePrefix or cell.number_format == "@"
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            assert packed.testzip() is None
            assert not any(b'TargetMode="External"' in packed.read(part) for part in packed.namelist())


def _two(problem: Problem) -> Bought:
    """The job and another like it."""
    head = problem.job.job.model_copy(update={"number": f"{problem.job.job.number[:50]} b"})
    return bought(problem, replace(problem, job=problem.job.model_copy(update={"job": head})))
