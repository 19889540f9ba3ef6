"""README tells the truth: what it says a command prints is what the command prints."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from demofolder import ROOT, command, environment

README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"<!-- prints: (.+?) -->\n```\n(.*?)\n```", README, re.DOTALL)


def _printed(words: str, folder: Path) -> str:
    asked = [ROOT / word if word.startswith("scenarios/") else word for word in words.split()]
    run = subprocess.run(
        command(*asked, "--catalogs", ROOT / "catalogs"),
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment(),
    )
    return run.stdout.strip()


def test_readme_shows_a_quote_an_impossible_job_and_jobs_bought_together() -> None:
    assert len(SHOWN) == 3


@pytest.mark.parametrize(("words", "text"), SHOWN, ids=[words for words, _ in SHOWN])
def test_a_command_prints_what_readme_shows(words: str, text: str, tmp_path: Path) -> None:
    printed = _printed(words, tmp_path)
    shown = text.replace("@@", "")
    assert printed.splitlines() == shown.splitlines()


def test_the_test_command_of_readme_is_what_ci_runs() -> None:
    words = next(line.strip() for line in README.splitlines() if "-m pytest" in line)
    assert words in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_every_exit_code_is_listed() -> None:
    from sourcing.cli import Exit

    assert all(re.search(rf"^\| {code.value} \|", README, re.MULTILINE) for code in Exit)
