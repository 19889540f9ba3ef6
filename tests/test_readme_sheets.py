"""README's way to take in a supplier's sheet, walked as it is written."""

from __future__ import annotations

import re
import shlex
import subprocess
from pathlib import Path

import pytest
from demofolder import ROOT, command, demo_in, environment

README = (ROOT / "README.md").read_text(encoding="utf-8")
SECTION = README.split("**To take in a supplier's sheet**")[1].split("**To hand over the quote**")[0]
COMMANDS = re.findall(r"^    sourcing (.+)$", SECTION, re.MULTILINE)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    last = demo_in(tmp_path) / "catalogs" / "price-sheets" / "harbour" / "2026-08-31 dealer list.xlsx"
    last.rename(tmp_path / "dealer list.xlsx")
    return tmp_path


def test_the_three_commands_do_what_readme_says(shop: Path) -> None:
    assert [shlex.split(words)[0] for words in COMMANDS] == ["read", "receive", "prices"]
    said = []
    for words in COMMANDS:
        run = subprocess.run(command(*shlex.split(words)), cwd=shop, env=environment(shop / "cache"),
                             capture_output=True, encoding="utf-8", check=False)  # fmt: skip
        assert run.returncode == 0, (words, run.stdout, run.stderr)
        said.append(run.stdout)
    read, receive, prices = said
    assert "their prices add up to" in read
    filed = re.search(r"`(catalogs/price-sheets/.+?)`", SECTION)
    assert filed and (shop / filed[1]).is_file() and f"Filed: {filed[1]}" in receive
    assert "What changed since" in receive and "would be bought differently" in receive
    assert "Harbour Row Parts 0041102" in prices
