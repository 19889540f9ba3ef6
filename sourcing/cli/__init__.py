"""The command line: one module a command, each imported when it is called."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable
from enum import IntEnum
from pathlib import Path
from typing import Annotated

import typer

from sourcing.faults import BadInput, OurFault

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="The cheapest valid combination of a transmission's control parts, proven, with a quote.",
)

Catalogs = Annotated[Path, typer.Option(help="The shop's folder: rates, suppliers, price sheets, books.")]


class Exit(IntEnum):
    """Exit codes; of several jobs, the first of 1, 2, 3, 5 that applies."""

    PROVEN = 0
    OUR_FAULT = 1
    BAD_INPUT = 2
    IMPOSSIBLE = 3
    SHEET_UNSURE = 4
    UNPROVEN = 5


def _version(asked: bool) -> None:
    if asked:
        from sourcing import __version__

        typer.echo(__version__)
        raise typer.Exit


# What shells give a command that Ctrl-C ended.
STOPPED = 130


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Options of every command."""


def _finish(work: Callable[[], Exit]) -> None:
    """Run a command's work and end with its exit code; Ctrl-C ends with words."""
    try:
        code = work()
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing more was written.", err=True)
        raise typer.Exit(STOPPED) from None
    raise typer.Exit(code)


@app.command("quote")
def _quote(
    jobs: Annotated[list[Path], typer.Argument(metavar="JOB..", help="Job files (scenarios/<job>.toml).")],
    catalogs: Catalogs = Path("catalogs"),
    out: Annotated[
        Path | None, typer.Option(help="Where the papers go, a folder for each job.  [default: reports]")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one object a line; write papers only where --out says so.")
    ] = False,
    time_limit: Annotated[
        float | None, typer.Option(min=0.01, help="Seconds for a job; then the best plan so far, with its bound.")
    ] = None,
    soonest: Annotated[bool, typer.Option("--soonest", help="The cheapest of the plans that are here first.")] = False,
    most_durable: Annotated[
        bool, typer.Option("--most-durable", help="The cheapest of those with the least expected comebacks.")
    ] = False,
) -> None:
    """Quote jobs: the cheapest valid combination, proven, and its workbook."""
    from sourcing.cli.quote import Aim, quote_jobs

    if soonest and most_durable:
        raise typer.BadParameter("--soonest and --most-durable are two different quotes: ask for one at a time")
    aim: Aim = "soonest" if soonest else "most-durable" if most_durable else "cheapest"
    _finish(lambda: quote_jobs(jobs, catalogs, out, as_json, time_limit, aim))


@app.command("compare")
def _compare(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file.")],
    catalogs: Catalogs = Path("catalogs"),
    part: Annotated[
        str | None, typer.Option(metavar="SUPPLIER/PART_NUMBER", help="The part whose price is studied.")
    ] = None,
    low: Annotated[str | None, typer.Option("--from", help="Lowest price studied, in the supplier's currency.")] = None,
    high: Annotated[str | None, typer.Option("--to", help="Highest price studied.")] = None,
    why_not: Annotated[
        str | None, typer.Option(metavar="X", help="A design or SUPPLIER/PART_NUMBER: the best plan with it.")
    ] = None,
    best: Annotated[int, typer.Option(min=0, max=100, help="How many of the best plans to show.")] = 0,
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Compare routes: the exact block or a substitute with its plate, and the price at which the choice turns."""
    from sourcing.cli.compare import compare_job

    _finish(lambda: compare_job(job, catalogs, part, low, high, why_not, best, as_json))


@app.command("trend")
def _trend(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Replay a job at every date on which prices changed, and say when the choice turned."""
    from sourcing.cli.trend import trend_of

    _finish(lambda: trend_of(job, catalogs, as_json))


@app.command("identify")
def _identify(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file; needs no prices.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Say what is on the bench, whether it belongs together, and what to look at next (5 where that is open)."""
    from sourcing.cli.identify import identify_job

    _finish(lambda: identify_job(job, catalogs, as_json))


@app.command("check")
def _check(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file; needs no prices.")],
    proposal: Annotated[
        list[str], typer.Argument(metavar="POSITION=DESIGN..", help="What is proposed; positions may be left out.")
    ],
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Test a combination rule by rule, with source and caution (0 valid, 3 not valid, 5 open)."""
    from sourcing.cli.check import check_job

    _finish(lambda: check_job(job, proposal, catalogs, as_json))


@app.command("review")
def _review(
    family: Annotated[str, typer.Argument(metavar="FAMILY", help="The folder's name of a book.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Look for holes in a family's book (0 none found, 5 some)."""
    from sourcing.cli.review import review_family

    _finish(lambda: review_family(family, catalogs, as_json))


@app.command("chart")
def _chart(
    family: Annotated[str, typer.Argument(metavar="FAMILY", help="The folder's name of a book.")],
    catalogs: Catalogs = Path("catalogs"),
    era: Annotated[str | None, typer.Option(help="Only this era.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Where sheet and page go, in chart-FAMILY.  [default: reports]")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one object; write papers only where --out says so.")
    ] = False,
) -> None:
    """Show which block goes with which plate, screen and body, era by era, and why not."""
    from sourcing.cli.chart import chart_family

    _finish(lambda: chart_family(family, catalogs, era, out, as_json))


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


def say_faults(error: BadInput) -> None:
    """Every fault on a line of its own, on standard error."""
    for fault in error.faults:
        typer.echo(str(fault), err=True)
