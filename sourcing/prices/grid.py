"""The cells of a file: a workbook's come from a child process whose memory and time are watched.

A crafted file of a few kilobytes can take down the process that parses it. The child gets bytes and answers with JSON:
plain values, never objects.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from queue import Empty, Queue
from typing import Any, BinaryIO

from sourcing.prices.child import MOST_MEMORY, frames
from sourcing.prices.preflight import Unsafe

MOST_SECONDS = 10.0  # for one file
_WATCH_SECONDS = 0.02


class CellError(str):
    """The name of an error that a cell shows in place of a value: #N/A, #REF!, or a formula never worked out."""

    __slots__ = ()


Cell = str | float | int | bool | date | CellError
Row = tuple[int, list[Cell]]


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet: its rows that hold something, each with its number as the spreadsheet shows it; blanks are ''.

    `decimal` is the mark that the file's form proves, where it does: `unquoted_mark` says when.
    """

    sheet: str
    rows: list[Row]
    text: bool = False
    decimal: str = ""


def workbook_grids(contents: Sequence[bytes]) -> list[list[Grid] | Unsafe]:
    """The sheets of each workbook; one child reads them all, and a new one goes on after it had to be ended."""
    results: list[list[Grid] | Unsafe] = []
    while len(results) < len(contents):
        results += _one_child(contents[len(results) :])
    return results


def _one_child(contents: Sequence[bytes]) -> list[list[Grid] | Unsafe]:
    """Results up to the first file that the child did not survive; at least one."""
    environment = dict(os.environ, PYTHONIOENCODING="utf-8")
    root = str(Path(__file__).resolve().parents[2])
    environment["PYTHONPATH"] = os.pathsep.join(filter(None, [root, os.environ.get("PYTHONPATH")]))
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", "sourcing.prices.child"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
    assert child.stdin is not None and child.stdout is not None
    answers: Queue[bytes | None] = Queue()
    threading.Thread(target=_send, args=(child.stdin, contents), daemon=True).start()
    threading.Thread(target=_receive, args=(child.stdout, answers), daemon=True).start()
    results: list[list[Grid] | Unsafe] = []
    try:
        while len(results) < len(contents):
            result = _watched(child, answers)
            results.append(_grids(result) if isinstance(result, bytes) else result)
            if not isinstance(result, bytes):
                break
    finally:
        child.kill()
        child.wait()
    return results


def _watched(child: subprocess.Popen[bytes], answers: Queue[bytes | None]) -> bytes | Unsafe:
    """The next answer, or why the child was ended."""
    import psutil  # type: ignore[import-untyped, unused-ignore]

    deadline = time.monotonic() + MOST_SECONDS
    while time.monotonic() < deadline:
        try:
            answer = answers.get(timeout=_WATCH_SECONDS)
        except Empty:
            try:
                if psutil.Process(child.pid).memory_info().rss > MOST_MEMORY:
                    return Unsafe(f"a sheet that takes more than {MOST_MEMORY // 1_000_000} MB of memory to read")
            except psutil.Error:
                continue  # it has ended: the queue says so next
        else:
            return Unsafe("a sheet that the reader did not survive") if answer is None else answer
    return Unsafe(f"a sheet that takes more than {MOST_SECONDS:g} s to read")


def _send(pipe: BinaryIO, contents: Sequence[bytes]) -> None:
    try:
        for content in contents:
            pipe.write(struct.pack("<Q", len(content)))
            pipe.write(content)
            pipe.flush()
        pipe.close()
    except OSError:
        pass  # the child has ended; the reading side reports it


def _receive(pipe: BinaryIO, answers: Queue[bytes | None]) -> None:
    for answer in frames(pipe):
        answers.put(answer)
    answers.put(None)


def _grids(answer: bytes) -> list[Grid] | Unsafe:
    said = json.loads(answer)
    if "refused" in said:
        return Unsafe(said["refused"], said.get("remedy", ""))
    return [Grid(sheet, [(number, _plain(cells)) for number, cells in rows]) for sheet, rows in said["sheets"]]


def _plain(cells: list[Any]) -> list[Cell]:
    """What JSON cannot carry comes as a list of a letter and a text: d a date, e an error."""
    return [
        cell if type(cell) is not list else CellError(cell[1]) if cell[0] == "e" else date.fromisoformat(cell[1])
        for cell in cells
    ]
