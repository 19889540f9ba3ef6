"""A file made in memory and put in place in one step: a run that is cut short leaves an old file as it was."""

from __future__ import annotations

import os
from pathlib import Path


def put_in_place(content: bytes, path: Path) -> None:
    """Write a file, making its folder where there is none.

    Raises
    ------
    OSError
        The file cannot be put there (open in another program, say); an old one is untouched.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    waiting = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        waiting.write_bytes(content)
        waiting.replace(path)
    finally:
        waiting.unlink(missing_ok=True)
