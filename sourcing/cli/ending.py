"""How a command ends: its exit code, and what is said of faults."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum

import typer

from sourcing.faults import BadInput

# What shells give a command that Ctrl-C ended.
STOPPED = 130


class Exit(IntEnum):
    """Exit codes; of several jobs, the first of 1, 2, 3, 5 that applies."""

    PROVEN = 0
    OUR_FAULT = 1
    BAD_INPUT = 2
    IMPOSSIBLE = 3
    SHEET_UNSURE = 4
    UNPROVEN = 5


def finish(work: Callable[[], Exit]) -> None:
    """Run a command's work and end with its exit code; Ctrl-C ends with words."""
    try:
        code = work()
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing more was written.", err=True)
        raise typer.Exit(STOPPED) from None
    raise typer.Exit(code)


def say_faults(error: BadInput) -> None:
    """Every fault on a line of its own, on standard error."""
    for fault in error.faults:
        typer.echo(str(fault), err=True)
