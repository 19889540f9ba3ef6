"""The commands that buy: a job's quote, many jobs together, the routes of one, its past."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sourcing.cli.ending import finish
from sourcing.cli.options import AsJson, Catalogs, JsonOrPapers

commands = typer.Typer()


@commands.command("quote")
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
    with_trend: Annotated[
        bool,
        typer.Option(
            "--trend", help="On the sheet of the decision also the job at every date, and what the decision hangs on."
        ),
    ] = False,
    customer_copy: Annotated[
        bool, typer.Option("--customer-copy", help="Write the customer's sheet as a file of its own too.")
    ] = False,
    choices: Annotated[
        bool,
        typer.Option("--choices", help="Let the customer choose: the cheapest, the soonest, the most durable plan."),
    ] = False,
) -> None:
    """Quote jobs: the cheapest valid combination, proven, and its papers."""
    from sourcing.cli.quote import quote_jobs
    from sourcing.counter import Aim

    if soonest and most_durable:
        raise typer.BadParameter("--soonest and --most-durable are two different quotes: ask for one at a time")
    aim: Aim = "soonest" if soonest else "most-durable" if most_durable else "cheapest"
    finish(lambda: quote_jobs(jobs, catalogs, out, as_json, time_limit, aim, with_trend, customer_copy, choices))


@commands.command("buy")
def _buy(
    jobs: Annotated[
        list[Path], typer.Argument(metavar="JOB..", help="Job files, folders of them, or lists of units (.csv).")
    ],
    catalogs: Catalogs = Path("catalogs"),
    out: Annotated[
        Path | None, typer.Option(help="Where the papers go, in a folder of the pool's name.  [default: reports]")
    ] = None,
    as_json: JsonOrPapers = False,
    seconds: Annotated[
        float | None, typer.Option(min=0.01, help="Seconds to plan for; then the best plan so far, with its gap.")
    ] = None,
    gap: Annotated[
        float,
        typer.Option(min=0, max=1, help="A plan at most this share above the bound is good enough, such as 0.01."),
    ] = 0.0,
    threads: Annotated[int, typer.Option(min=1, max=256, help="Threads of the solver.")] = 1,
    name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="What the orders and their folder are called.  [default: pool-DATE]"),
    ] = None,
) -> None:
    """Buy for many jobs together: one order a supplier, what each unit gets, what is saved, who pays what."""
    from sourcing.cli.buy import Effort, buy_jobs

    if name is not None and (Path(name).name != name or name in (".", "..") or not name.strip()):
        raise typer.BadParameter(f'"{name}" cannot name a folder: give one without / or \\')
    finish(lambda: buy_jobs(jobs, catalogs, out, as_json, Effort(seconds, gap, threads), name))


@commands.command("compare")
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
    by_source: Annotated[
        bool, typer.Option("--by-source", help="With --best: the same combination from other parts counts as another.")
    ] = False,
    as_json: AsJson = False,
    report: Annotated[
        bool, typer.Option("--report", help="Write all of it, with its pictures and the trend, as one HTML page.")
    ] = False,
    out: Annotated[Path, typer.Option(help="Where the report goes, a folder for each job.")] = Path("reports"),
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Say on standard error how often was solved.")
    ] = False,
) -> None:
    """Compare routes: the exact block or a substitute with its plate, and the price at which the choice turns."""
    from sourcing.cli.compare import compare_job

    page = out if report else None
    finish(lambda: compare_job(job, catalogs, part, low, high, why_not, best, by_source, as_json, page, verbose))


@commands.command("trend")
def _trend(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: AsJson = False,
) -> None:
    """Replay a job at every date on which prices changed, and say when the choice turned."""
    from sourcing.cli.trend import trend_of

    finish(lambda: trend_of(job, catalogs, as_json))
