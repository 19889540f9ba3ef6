"""A job too large to be studied with its quote: the quote says so, on the screen and in the workbook."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from openpyxl import load_workbook

from cli.conftest import Counter, Said
from sourcing.decision import study


@pytest.mark.parametrize("large", [True, False])
def test_a_job_too_large_to_be_studied_says_so_on_the_screen_and_in_the_workbook(
    large: bool, counter: Counter, sourcing: Callable[..., Said], monkeypatch: pytest.MonkeyPatch
) -> None:
    if large:
        monkeypatch.setattr(study, "MOST_LINES", 1)
    quoted = sourcing("quote", "scenarios/exact-block.toml")
    assert quoted.code == 0, quoted.err
    said = " ".join(quoted.out.split())
    assert ("The decision was not studied" in said) is large
    assert ("`sourcing compare` does it" in said) is large
    (path,) = counter.folder.glob("reports/*/quote.xlsx")
    cells = [str(cell) for row in load_workbook(path)["Decision"].iter_rows(values_only=True) for cell in row if cell]
    assert any("was not studied" in cell for cell in cells) is large
