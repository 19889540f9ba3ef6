"""The tiny shop opened, with whatever a test changes in its files."""

from __future__ import annotations

from pathlib import Path

import pytest

from quote.hand import FILES, Opened
from sourcing.folder import Folder
from sourcing.problem import Problem


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    """Open the shop; `changes` are pairs of old and new text, made in whatever file holds the old one."""

    def open_shop(*changes: tuple[str, str]) -> Problem:
        for name, content in FILES.items():
            for old, new in changes:
                content = content.replace(old, new)
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_text(content, encoding="utf-8")
        return Folder(tmp_path).problems(tmp_path / "job.toml")[0]

    return open_shop
