"""Buying for many jobs from the command line: one object, one screen, one set of papers, one exit code."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from demofolder import command, environment

from cli.conftest import Counter, Said
from sourcing.book.fitting import Reason
from sourcing.cli import buy as buying
from sourcing.cli.poolscreen import told
from sourcing.cli.progress import Progress, solver_told
from sourcing.cli.stopping import Stopping
from sourcing.plan import Proof, Status
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan
from sourcing.program import solver

Run = Callable[..., Said]
THREE = ("exact-block", "core-lost", "backordered")  # jobs of one day


def paths(counter: Counter, *names: str) -> list[Path]:
    return [counter.folder / "scenarios" / f"{name}.toml" for name in names]


def money(text: str) -> Decimal:
    return Decimal(text)


def test_three_jobs_of_one_day_cost_less_together_and_shares_add_up(counter: Counter, sourcing: Run) -> None:
    said = sourcing("buy", *paths(counter, *THREE), "--json")
    assert said.code == 0 and said.err == ""
    told = json.loads(said.out)
    singly = sourcing("quote", *paths(counter, *THREE), "--json").out.splitlines()
    alone = {job["job"]: money(job["totals"]["whole"]) for job in map(json.loads, singly)}
    assert told["status"] == "proven"
    # The demo's stock is enough for all three: one after another each costs what its own quote says.
    assert {job["job"]: money(job["alone"]) for job in told["jobs"]} == alone
    assert sum(money(job["share"]) for job in told["jobs"]) == money(told["totals"]["whole"])
    assert all(money(job["share"]) <= alone[job["job"]] for job in told["jobs"])
    assert money(told["saved"]) == sum(alone.values()) - money(told["totals"]["whole"]) > 0


def test_json_alone_writes_no_papers_and_the_screen_does(counter: Counter, sourcing: Run) -> None:
    sourcing("buy", *paths(counter, *THREE), "--json")
    assert not (counter.folder / "reports").exists()
    said = sourcing("buy", *paths(counter, *THREE))
    assert said.code == 0
    assert "Workbook: reports/pool-2026-03-24/pool.xlsx" in said.out
    written = {path.name for path in (counter.folder / "reports" / "pool-2026-03-24").iterdir() if path.is_file()}
    assert written - {".quote.lock"} == {
        "pool.xlsx", "cores.xlsx", "bench-papers.xlsx", "sorting.csv", "order-birkental-parcel.xlsx",
        "order-birkental-parcel.csv", "order-quarry-ground.xlsx", "order-quarry-ground.csv",
        *(f"quote-customer-{number}.xlsx" for number in ("1042", "1043", "1105")),
    }  # fmt: skip


def test_the_screen_says_who_gets_what_who_pays_what_and_where_cores_go(counter: Counter, sourcing: Run) -> None:
    out = sourcing("buy", *paths(counter, *THREE)).out
    assert "proven: no plan for these jobs together is cheaper by a cent" in out
    assert "Jobs 1042 and 1043, Larch five-speed automatic, seven solenoids, round case plug" in out
    assert "4 x QB-7010  Screen for the shallow pan  63.20\n      for 1042, 1043, 1105; 1 left over\n" in out
    assert "cores: 2 x Block B, seven solenoids, round plug to Quarry Bend Exchange against QB-1200" in out
    assert re.search(r"one after another +1709\.48\n +together +1659\.85\n +saved +49\.63", out)
    assert re.search(r"job 1105 +558\.44 +542\.23 +16\.21", out)
    assert "S. Moriarity" in out
    assert "Check before the vehicle moves" in out and "the engine starts in park and neutral only" in " ".join(
        out.split()
    )
    assert max(map(len, out.splitlines())) <= 110


def test_the_same_pool_again_writes_nothing(counter: Counter, sourcing: Run) -> None:
    sourcing("buy", *paths(counter, *THREE), "--out", "papers", "--name", "tuesday")
    before = {path: path.read_bytes() for path in (counter.folder / "papers" / "tuesday").rglob("*") if path.is_file()}
    said = sourcing("buy", *reversed(paths(counter, *THREE)), "--out", "papers", "--name", "tuesday")
    assert "Revision 1, unchanged: nothing was written" in said.out
    after = {path: path.read_bytes() for path in (counter.folder / "papers" / "tuesday").rglob("*") if path.is_file()}
    assert before == after


def test_another_job_in_the_pool_is_its_next_revision_and_says_what_changed(counter: Counter, sourcing: Run) -> None:
    sourcing("buy", *paths(counter, *THREE[:2]))
    said = sourcing("buy", *paths(counter, *THREE))
    assert "Revision 2." in said.out
    assert "the total was" in said.out and "for 2 jobs and is" in said.out
    assert (counter.folder / "reports" / "pool-2026-03-24" / "revisions" / "1" / "pool.xlsx").is_file()


@pytest.mark.parametrize("name", ["a/b", "..", ""])
def test_a_name_that_is_no_folder_is_wrong_usage(counter: Counter, sourcing: Run, name: str) -> None:
    assert sourcing("buy", counter.job, "--name", name).code == 2


def test_a_list_of_units_is_told_by_kinds_not_row_by_row(counter: Counter, sourcing: Run) -> None:
    (counter.folder / "units.csv").write_text(
        "job.number,job.family,job.date,unit.built,unit.facts.pan,vehicle.built,vehicle.facts.lever,vehicle.facts.module,"
        "found.block,found.plate,found.screen,found.body,limits.keep,limits.cores,count\n"
        "A,larch5,2026-03-24,2003-04,shallow,2003-05,gate,white,block-b,plate-2,screen-s,body-1,plate|body,|,4\n"
        "B,larch5,2026-03-24,2003-04,shallow,2003-05,gate,white,block-b,plate-2,screen-s,body-1,plate|body,,10\n",
        encoding="utf-8",
    )
    said = sourcing("buy", "units.csv")
    assert said.code == 0, said.err
    assert said.out.startswith("14 jobs bought together, ")
    assert len(said.out.splitlines()) < 125
    assert not list((counter.folder / "reports").rglob("quote-customer-C*"))


def test_jobs_of_two_days_are_refused_in_words(counter: Counter, sourcing: Run) -> None:
    said = sourcing("buy", *paths(counter, "exact-block", "date-spring"))
    assert said.code == 2
    assert "job 1061 date: expected 2026-03-24, the day of job 1042; found 2026-04-20." in said.err


def test_the_same_job_twice_is_refused_in_words(counter: Counter, sourcing: Run) -> None:
    said = sourcing("buy", counter.job, counter.job)
    assert said.code == 2
    assert "job 1042: expected a number of its own for each job; found this number twice." in said.err


def test_faults_of_all_files_are_told_together(counter: Counter, sourcing: Run) -> None:
    (counter.folder / "units.csv").write_text("job.number,job.family,job.day\n1,larch5,2026-03-24\n", encoding="utf-8")
    said = sourcing("buy", "units.csv", "nowhere.toml", counter.job)
    assert said.code == 2 and said.out == ""
    assert [line.split(":")[0] for line in said.err.splitlines()] == [
        "units.csv, row 1, column job.day", "units.csv, row 1, column job.date", "nowhere.toml",
    ]  # fmt: skip


def test_an_impossible_job_makes_the_pool_impossible_and_is_named(counter: Counter, sourcing: Run) -> None:
    said = sourcing("buy", *paths(counter, "exact-block", "promised-for-tomorrow"))
    assert said.code == 3
    assert "IMPOSSIBLE: no plan meets all these jobs together" in said.out
    assert "job 1045" in said.out and "Workbook" not in said.out
    assert not (counter.folder / "reports").exists()


def test_what_decides_and_was_not_given_is_asked(counter: Counter, sourcing: Run) -> None:
    said = sourcing("buy", *paths(counter, "read-the-label-first", "label-not-read"))
    assert said.code == 5
    assert "OPEN" in said.out and "job 1092: " in said.out


def unproven(bought: Bought, bound: int | None) -> Bought:
    """The same plan as if the solver had been stopped with this bound."""
    proof = Proof("HiGHS", bound, 0.01, 1.0, 1, True)
    plan = PoolPlan(bought.plan.pool, Status.BEST_FOUND, bought.plan.gets, bought.plan.purchases, bought.plan.totals,
                    bought.plan.orders, (), proof)  # fmt: skip
    return Bought(plan, bought.alone, bought.shares, bought.rule, bought.eras)


def test_what_is_not_proven_says_so_on_the_screen_and_on_every_paper(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = buying._planned
    monkeypatch.setattr(buying, "_planned", lambda *words: unproven(honest(*words), 160000))
    said = sourcing("buy", *paths(counter, *THREE))
    assert said.code == 5
    # 1659.85 - 1600.00 = 59.85, and 59.85 / 1600.00 = 3.740625 %, rounded up.
    above = "at most 59.85 USD, 3.75 % above the best possible"
    assert f"NOT PROVEN: the best plan found, {above}" in said.out
    assert "stopped by Ctrl-C" in said.out
    folder = counter.folder / "reports" / "pool-2026-03-24"
    for name in ("pool.xlsx", "cores.xlsx", "bench-papers.xlsx", "order-quarry-ground.xlsx"):
        for sheet in openpyxl.load_workbook(folder / name):
            texts = [cell.value for row in sheet for cell in row if isinstance(cell.value, str)]
            assert any("not proven" in text.lower() and above in text for text in texts), (name, sheet.title)


def test_a_bound_that_nobody_knows_is_not_invented(counter: Counter, sourcing: Run) -> None:
    honest: list[Bought] = []
    monkey = pytest.MonkeyPatch()
    planned = buying._planned
    with monkey.context() as patch:
        patch.setattr(buying, "_planned", lambda *words: honest.append(planned(*words)) or honest[-1])
        sourcing("buy", *paths(counter, *THREE), "--json")
    out = told(unproven(honest[0], None), "")
    assert "NOT PROVEN: the best plan found, nobody knows how far above the best possible" in out


def test_seconds_gap_and_threads_reach_the_solver(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []
    honest = solver.solve

    def watched(model: object, effort: object) -> object:
        seen.append(effort)
        return honest(model, effort)  # type: ignore[arg-type]

    monkeypatch.setattr("sourcing.program.answer.solve", watched)
    sourcing("buy", *paths(counter, *THREE), "--json", "--seconds", "50", "--gap", "0.02", "--threads", "2")
    assert seen[0].gap == 0.02 and seen[0].threads == 2 and 0 < seen[0].seconds <= 50  # type: ignore[attr-defined]
    assert seen[0].told is not None  # type: ignore[attr-defined]


def test_progress_is_told_only_to_a_terminal(counter: Counter, process: Run) -> None:
    assert process("buy", counter.job, "--json").err == ""
    assert solver_told(10500.0, 10000.0, "USD") == "best 105.00 USD, none below 100.00, gap 5.00 %"
    assert solver_told(None, None, "USD") == "no plan yet"


def test_a_terminal_sees_one_line_that_is_written_anew(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("sourcing.cli.progress.OFTEN", 3600.0)  # however slow this machine is
    progress = Progress()
    progress.currency = "USD"
    progress.say("reading the shop", at_once=True)
    progress.say("reading the jobs")  # a moment later: passed over
    progress.counted("one after another", 0, 7)
    progress.done()
    out = capsys.readouterr().err
    assert "\n" not in out
    assert out.split("\r") == ["", "reading the shop", "one after another: 0 of 7", " " * 25, ""]


def test_ctrl_c_while_the_solver_works_stops_it_and_later_the_run_goes_on() -> None:
    progress = Progress()

    def waiting() -> None:
        signal.raise_signal(signal.SIGINT)

    with Stopping(progress, waiting):
        with pytest.raises(KeyboardInterrupt):
            waiting()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    with Stopping(progress, waiting) as stopping:
        stopping.solves = lambda: 1
        signal.raise_signal(signal.SIGINT)  # a plan is there, and is being dealt out: goes on
        assert stopping.presses == 1
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_without_a_plan_yet_ctrl_c_ends_in_words(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*words: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(buying, "sealed_all", stopped)
    said = sourcing("buy", counter.job)
    assert said.code == 130
    assert "Stopped; nothing more was written." in said.err


def test_a_defect_is_told_as_one(counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*words: object) -> None:
        raise ZeroDivisionError("invented")

    monkeypatch.setattr(buying, "take_in", broken)
    said = sourcing("buy", counter.job)
    assert said.code == 1
    assert "A defect of the tool, and no plan was made: ZeroDivisionError: invented" in said.err


def test_many_reasons_are_cut_and_counted(counter: Counter, sourcing: Run) -> None:
    honest: list[Bought] = []
    planned = buying._planned
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(buying, "_planned", lambda *words: honest.append(planned(*words)) or honest[-1])
        sourcing("buy", counter.job, "--json")
    reasons = tuple(Reason("limit", f"reason {n}") for n in range(20))
    out = told(Bought(PoolPlan(honest[0].plan.pool, Status.IMPOSSIBLE, reasons=reasons), {}, {}, "", {}), "")
    assert "reason 11" in out and "reason 12" not in out and "and 8 more (--json lists all)" in out


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_a_whole_run_needs_no_terminal_and_answers_to_its_exit_code(counter: Counter) -> None:
    run = subprocess.run(
        command("buy", *paths(counter, *THREE), "--out", "papers"),
        env=environment(),
        capture_output=True,
        encoding="utf-8",
    )
    assert (run.returncode, run.stderr) == (0, "")
    assert "Saved" not in run.stderr and "49.63" in run.stdout
