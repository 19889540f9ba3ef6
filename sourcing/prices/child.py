"""The child process that reads sheets (`python -m sourcing.prices.child`): bytes in, a packed sheet out.

It starts anew for each batch of files, so it imports no more than it needs.
"""

from __future__ import annotations

import gc
import json
import os
import struct
import sys

from sourcing.prices.kept import packed
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe
from sourcing.prices.understood import refused, understood, understood_text
from sourcing.prices.watched import MOST_MEMORY, frames


def _child() -> None:
    _limit_memory()
    gc.disable()  # cells are no cycles: looking for some among a million of them costs more than it frees
    asked = frames(sys.stdin.buffer)
    for said, content in zip(asked, asked, strict=False):
        _send(_answer(Layout(**json.loads(said)), content))


def _send(answer: bytes) -> None:
    out = sys.stdout.buffer
    out.write(struct.pack("<Q", len(answer)))
    out.write(answer)
    out.flush()


def _alarm(error: Unsafe) -> None:
    """Answer for a file that the parser may not survive, and end: a new child reads the next one."""
    _send(packed(refused(error)))
    os._exit(0)


def _limit_memory() -> None:
    """Where the system can, let an absurd reservation fail at once instead of filling the machine."""
    try:
        import resource
    except ImportError:
        return
    try:
        resource.setrlimit(resource.RLIMIT_AS, (4 * MOST_MEMORY, 4 * MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ValueError, OSError):
        pass


def _answer(layout: Layout, content: bytes) -> bytes:
    try:
        if content.startswith((b"PK", b"\xd0\xcf\x11\xe0", b"\x09\x08")):
            from sourcing.prices.workbook import workbook_grids

            return packed(understood(workbook_grids(content, _alarm), layout))
        return packed(understood_text(content, layout))
    except Unsafe as error:
        return packed(refused(error))
    except MemoryError:
        return packed(refused(Unsafe(f"a sheet that takes more than {MOST_MEMORY // 1_000_000} MB of memory to read")))


if __name__ == "__main__":
    _child()
