"""The page's own description of what it answers to scripts, against what it answers: asked by a tool that reads the description.

A longer run, by hand: DEVELOPERS.md.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from page.served import Served, demo_in, served

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("schemathesis") is None, reason="schemathesis is not installed"
)


@pytest.fixture(scope="module")
def page_of_shop(tmp_path_factory: pytest.TempPathFactory, kept_sheets: Path) -> Iterator[Served]:
    folder = demo_in(tmp_path_factory.mktemp("shop"))
    (folder / "scenarios" / "broken.toml").write_text('[job]\nnumber = "1"\n', encoding="utf-8")
    with served(folder, kept_sheets) as running:
        yield running


@pytest.mark.parametrize("job", ["", "exact-block", "nothing-crosses", "read-the-label-first", "broken"])
def test_what_is_answered_is_what_is_described(job: str, page_of_shop: Served, tmp_path: Path) -> None:
    """No server error, and every status, content type and object as described; `job`: every path asks for this one."""
    settings = tmp_path / "settings.toml"
    settings.write_text(f'[parameters]\njob = "{job}"\n' if job else "", encoding="utf-8")
    words = [
        sys.executable, "-m", "schemathesis.cli", "--config-file", str(settings), "run",
        f"{page_of_shop.address}/api/openapi.json", "--max-examples", "3", "--phases", "coverage,fuzzing", "--continue-on-failure",
        "--request-timeout", "120", "--no-color", "--generation-deterministic", "--warnings", "off",
    ]  # fmt: skip
    if job == "broken":  # a rightly asked question about a file that cannot be used is refused, as described
        words += ["--exclude-checks", "positive_data_acceptance"]
    run = subprocess.run(words, cwd=tmp_path, capture_output=True, encoding="utf-8", timeout=600, check=False)
    assert run.returncode == 0, run.stdout[-6000:] + run.stderr[-2000:]
    assert "Tested: 6" in run.stdout
