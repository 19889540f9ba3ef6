"""The commands that need no prices: what is on the bench, what goes together, the holes of a book."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sourcing.cli.ending import finish
from sourcing.cli.options import AsJson, Catalogs, JsonOrPapers

commands = typer.Typer()


@commands.command("identify")
def _identify(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file; needs no prices.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: AsJson = False,
) -> None:
    """Say what is on the bench, whether it belongs together, and what to look at next (5 where that is open)."""
    from sourcing.cli.identify import identify_job

    finish(lambda: identify_job(job, catalogs, as_json))


@commands.command("check")
def _check(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file; needs no prices.")],
    proposal: Annotated[
        list[str], typer.Argument(metavar="POSITION=DESIGN..", help="What is proposed; positions may be left out.")
    ],
    catalogs: Catalogs = Path("catalogs"),
    as_json: AsJson = False,
) -> None:
    """Test a combination rule by rule, with source and caution (0 valid, 3 not valid, 5 open)."""
    from sourcing.cli.check import check_job

    finish(lambda: check_job(job, proposal, catalogs, as_json))


@commands.command("review")
def _review(
    family: Annotated[str, typer.Argument(metavar="FAMILY", help="The folder's name of a book.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: AsJson = False,
) -> None:
    """Look for holes in a family's book (0 none found, 5 some)."""
    from sourcing.cli.review import review_family

    finish(lambda: review_family(family, catalogs, as_json))


@commands.command("chart")
def _chart(
    family: Annotated[str, typer.Argument(metavar="FAMILY", help="The folder's name of a book.")],
    catalogs: Catalogs = Path("catalogs"),
    era: Annotated[str | None, typer.Option(help="Only this era.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Where sheet and page go, in chart-FAMILY.  [default: reports]")
    ] = None,
    as_json: JsonOrPapers = False,
) -> None:
    """Show which block goes with which plate, screen and body, era by era, and why not."""
    from sourcing.cli.chart import chart_family

    finish(lambda: chart_family(family, catalogs, era, out, as_json))
