"""The page and the command line give the same answers, for every demo job."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from page.conftest import ROOT, ShopFolder, words_of
from sourcing.cli import main

JOBS = sorted(path.stem for path in (ROOT / "scenarios").glob("*.toml"))


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*words: str | Path) -> str:
        monkeypatch.setattr(sys, "argv", ["sourcing", *map(str, words)])
        with pytest.raises(SystemExit):
            main()
        return capsys.readouterr().out

    return run


def timeless(told: Any) -> Any:
    """The object without the seconds that a proof took."""
    if isinstance(told, dict):
        return {key: timeless(value) for key, value in told.items() if key != "seconds"}
    return [timeless(one) for one in told] if isinstance(told, list) else told


@pytest.mark.parametrize("job", JOBS)
def test_the_objects_are_those_that_the_command_prints(job: str, shop: ShopFolder, printed: Any) -> None:
    person = shop.opens()
    catalogs = shop.reach.catalogs
    for command, name in (("quote", "quote"), ("identify", "identify"), ("compare", "compare")):
        printed_object = json.loads(printed(command, shop.job(job), "--json", "--catalogs", catalogs))
        served = person.client.get(f"/api/jobs/{job}/{name}").json()
        assert timeless(served) == timeless(printed_object)


@pytest.mark.parametrize("job", JOBS)
def test_the_answer_says_what_the_screen_says(job: str, shop: ShopFolder, printed: Any) -> None:
    said = printed("quote", shop.job(job), "--catalogs", shop.reach.catalogs, "--out", shop.folder / "elsewhere")
    seen = _close(words_of(shop.opens().sees(f"/jobs/{job}/answer")))
    body = said.split("\nWorkbook:")[0].replace("  <- minimised", "")
    for line in _sentences(body):
        assert _close(line) in seen, line


def _close(words: str) -> str:
    """Words without case and room between them: the screen breaks its lines, also at hyphens."""
    return "".join(words.casefold().split())


def _sentences(body: str) -> list[str]:
    """What the screen says, line by line: wrapped items joined again, columns apart; what it cuts short is left out."""
    items: list[str] = []
    for line in body.splitlines()[2:]:
        if line.startswith("    ") and items and items[-1].startswith("  - "):
            items[-1] += f" {line.strip()}"
        else:
            items.append(line)
    found = []
    for item in items:
        item = item.strip().removeprefix("- ")
        if not item or item.endswith("...") or item == "The decision" or item.startswith("and "):
            continue
        parts = item.split("  ") if "  (found: " in item or item[-3:-2] == "." or " - " in item else [item]
        for part in parts:
            words = " ".join(part.split()).strip("()")
            found += words.split(" - ") if " - " in words else [words]
    return [word for word in found if word]
