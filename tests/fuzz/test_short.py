"""A few seconds of what `python tests/fuzz` does for an hour."""

from __future__ import annotations

import pytest

from .checks import no_row_is_lost, reading
from .mutants import mutant


@pytest.mark.parametrize("start", range(0, 200, 40))
def test_spoilt_sheets_are_read_or_refused_and_no_row_is_lost(start):
    for seed in range(start, start + 40):
        how, content = mutant(seed)
        if how.split()[0] in ("text", "xls"):  # the parser of packed files may end its process: those go by the command
            told = reading(content)
            if told is not None:
                no_row_is_lost(*told)
