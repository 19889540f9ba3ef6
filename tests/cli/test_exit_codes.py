"""Exit codes: 0 every job proven, 1 our own fault, 2 unreadable, 3 impossible, 5 open or unproven."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from cli.conftest import Counter, Said
from sourcing import __version__
from sourcing.cli import app
from sourcing.faults import OurFault
from sourcing.program import answer as quoting

JOBS = {0: "exact-block", 2: "not-there", 3: "promised-for-tomorrow", 5: "read-the-label-first"}
Run = Callable[..., Said]


def paths(*codes: int) -> list[str]:
    return [f"scenarios/{JOBS[code]}.toml" for code in codes]


@pytest.mark.parametrize("code", JOBS)
def test_a_job_gives_its_code_and_tells_it_in_words(code: int, counter: Counter, process: Run) -> None:
    said = process("quote", *paths(code))
    assert said.code == code
    told = {0: "proven", 3: "IMPOSSIBLE", 5: "OPEN"}
    assert said.out == "" if code == 2 else told[code] in said.out
    assert bool(said.err) == (code == 2)
    assert counter.files() & {"reports/exact-block/quote.xlsx"} == (
        {"reports/exact-block/quote.xlsx"} if code == 0 else set()
    )


@pytest.mark.parametrize(
    "codes",
    [c for n in (2, 3, 4) for c in itertools.combinations(JOBS, n)],
    ids=lambda codes: "-".join(map(str, codes)),
)
def test_of_several_the_first_of_1_2_3_5_wins_in_any_order(
    codes: tuple[int, ...], counter: Counter, sourcing: Run
) -> None:
    expected = next((code for code in (1, 2, 3, 5) if code in codes), 0)
    assert sourcing("quote", "--json", *paths(*codes)).code == expected
    assert sourcing("quote", "--json", *paths(*reversed(codes))).code == expected


def test_a_fault_of_ours_is_code_1_before_all_others_and_no_quote(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = quoting.answer

    def contradicted(problem: Any, *words: Any, **more: Any) -> Any:
        if problem.job.number == "1042":
            raise OurFault("the program and the plan differ")
        return honest(problem, *words, **more)

    monkeypatch.setattr(quoting, "answer", contradicted)
    said = sourcing("quote", *paths(2, 0, 5, 3))
    assert said.code == 1
    assert "a defect of the tool, and no quote was made" in said.err
    assert "Job 1042" not in said.out
    assert "reports/exact-block/quote.xlsx" not in counter.files()


def test_a_fault_in_one_job_leaves_the_others_their_quotes(counter: Counter, sourcing: Run) -> None:
    said = sourcing("quote", "--json", *paths(2, 0, 3))
    assert [json.loads(line)["status"] for line in said.out.splitlines()] == ["proven", "impossible"]
    assert "not-there.toml" in said.err


@pytest.mark.parametrize(
    "words",
    [
        ["quote"],
        ["quote", "--nonsense", "scenarios/exact-block.toml"],
        ["quote", "scenarios/exact-block.toml", "--time-limit", "soon"],
        ["quote", "scenarios/exact-block.toml", "--time-limit", "0"],
        ["quote", "scenarios/exact-block.toml", "--catalogs"],
        ["haggle"],
    ],
    ids=" ".join,
)
def test_wrong_usage_is_code_2(words: list[str], counter: Counter) -> None:
    before = counter.files()
    said = CliRunner().invoke(app, words)
    assert said.exit_code == 2
    assert "Traceback" not in said.output
    assert counter.files() == before


@pytest.mark.parametrize("words", [["--help"], ["quote", "--help"]], ids=" ".join)
def test_help_is_code_0(words: list[str]) -> None:
    said = CliRunner().invoke(app, words)
    assert said.exit_code == 0
    assert "Usage" in said.output


def test_the_version_is_the_packages() -> None:
    said = CliRunner().invoke(app, ["--version"])
    assert (said.exit_code, said.output.strip()) == (0, __version__)


def test_a_job_may_lie_anywhere_and_the_shop_too(counter: Counter, process: Run, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (counter.folder / "catalogs").rename(tmp_path / "elsewhere" / "a shop")
    job = (tmp_path / "scenarios" / "exact-block.toml").rename(tmp_path / "elsewhere" / "job äöü.toml")
    said = process("quote", job, "--catalogs", tmp_path / "elsewhere" / "a shop", "--out", tmp_path / "papers")
    assert said.code == 0, said.err
    assert (tmp_path / "papers" / "job äöü" / "quote.xlsx").is_file()
