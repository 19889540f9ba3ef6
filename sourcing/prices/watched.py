"""Sheets read in a child process whose memory and time are watched.

A crafted file of a few kilobytes can take down the process that parses it. The child gets bytes and answers with a packed
sheet: plain values, never objects.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from queue import Empty, Queue
from typing import BinaryIO

from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe

MOST_MEMORY = 500_000_000  # bytes of the child
MOST_SECONDS = 10.0  # for one file
_WATCH_SECONDS = 0.02


def read_watched(asked: Sequence[tuple[bytes, Layout]]) -> list[bytes | Unsafe]:
    """Each file as a packed sheet; one child reads them all, and a new one goes on after it had to be ended."""
    results: list[bytes | Unsafe] = []
    while len(results) < len(asked):
        results += _one_child(asked[len(results) :])
    return results


def _one_child(asked: Sequence[tuple[bytes, Layout]]) -> list[bytes | Unsafe]:
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
    threading.Thread(target=_send, args=(child.stdin, asked), daemon=True).start()
    threading.Thread(target=_receive, args=(child.stdout, answers), daemon=True).start()
    results: list[bytes | Unsafe] = []
    try:
        while len(results) < len(asked):
            results.append(_watched(child, answers))
            if isinstance(results[-1], Unsafe):
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


def _send(pipe: BinaryIO, asked: Sequence[tuple[bytes, Layout]]) -> None:
    try:
        for content, layout in asked:
            for message in (json.dumps(layout.said()).encode(), content):
                pipe.write(struct.pack("<Q", len(message)))
                pipe.write(message)
            pipe.flush()
        pipe.close()
    except OSError:
        pass  # the child has ended; the reading side reports it


def _receive(pipe: BinaryIO, answers: Queue[bytes | None]) -> None:
    for answer in frames(pipe):
        answers.put(answer)
    answers.put(None)


def frames(pipe: BinaryIO) -> Iterator[bytes]:
    """Messages, each after its length in eight bytes."""
    while len(head := pipe.read(8)) == 8:
        size = struct.unpack("<Q", head)[0]
        body = pipe.read(size)
        if len(body) < size:
            return
        yield body
