"""The command line: the commands together, and the one place that turns what went wrong into exit codes."""

from __future__ import annotations

import gc
import os
import sys
from typing import Annotated

import typer

from sourcing.cli.commands import bench, jobs, pricesheets, shop
from sourcing.cli.ending import STOPPED, Exit, say_faults
from sourcing.faults import BadInput, OurFault

__all__ = ["Exit", "app", "main"]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="The cheapest valid combination of a transmission's control parts, proven, with a quote.",
)
for group in (jobs, pricesheets, bench, shop):
    app.add_typer(group.commands)


def _version(asked: bool) -> None:
    if asked:
        from sourcing import __version__

        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Options of every command."""


def main() -> None:
    """The `sourcing` command; the only place that turns what went wrong into exit codes."""
    # A command lives for a second: collecting its start-up's garbage would cost a tenth of that.
    gc.set_threshold(100_000, 20, 20)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")
    try:
        app()
    except BadInput as error:
        say_faults(error)
        sys.exit(Exit.BAD_INPUT)
    except OurFault as error:
        typer.echo(f"This is a defect of the tool, and no quote was made: {error}", err=True)
        sys.exit(Exit.OUR_FAULT)
    except KeyboardInterrupt:
        sys.exit(STOPPED)
    except BrokenPipeError:
        # Whoever read us has read enough, as `| head` does.
        sys.stdout = open(os.devnull, "w")  # noqa: PTH123, SIM115
    except OSError as error:
        typer.echo(f"{error.filename or 'a file'}: {error.strerror or error}. Nothing was written there.", err=True)
        sys.exit(Exit.BAD_INPUT)
    except Exception as error:
        typer.echo(f"This is a defect of the tool, and no quote was made: {type(error).__name__}: {error}", err=True)
        sys.exit(Exit.OUR_FAULT)
