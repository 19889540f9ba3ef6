"""The command line: one module a command, each imported when it is called."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sourcing.faults import BadInput, OurFault

if TYPE_CHECKING:
    from sourcing.prices.answers import Answers

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
    _finish(lambda: quote_jobs(jobs, catalogs, out, as_json, time_limit, aim, with_trend, customer_copy, choices))


@app.command("buy")
def _buy(
    jobs: Annotated[
        list[Path], typer.Argument(metavar="JOB..", help="Job files, folders of them, or lists of units (.csv).")
    ],
    catalogs: Catalogs = Path("catalogs"),
    out: Annotated[
        Path | None, typer.Option(help="Where the papers go, in a folder of the pool's name.  [default: reports]")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one object; write papers only where --out says so.")
    ] = False,
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
    _finish(lambda: buy_jobs(jobs, catalogs, out, as_json, Effort(seconds, gap, threads), name))


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
    by_source: Annotated[
        bool, typer.Option("--by-source", help="With --best: the same combination from other parts counts as another.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
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
    _finish(lambda: compare_job(job, catalogs, part, low, high, why_not, best, by_source, as_json, page, verbose))


@app.command("trend")
def _trend(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file.")],
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Replay a job at every date on which prices changed, and say when the choice turned."""
    from sourcing.cli.trend import trend_of

    _finish(lambda: trend_of(job, catalogs, as_json))


Columns = Annotated[
    list[str] | None,
    typer.Option("--column", metavar="FIELD=HEADER", help="Which header is which field; may stand several times."),
]
SheetName = Annotated[str | None, typer.Option("--sheet", metavar="NAME", help="The sheet of the workbook to read.")]
HeaderRow = Annotated[int | None, typer.Option(min=1, max=1_048_576, help="The row that holds the headers.")]
Decimals = Annotated[str | None, typer.Option("--decimal", metavar="MARK", help="The decimal mark: . or ,")]
DateOrder = Annotated[str | None, typer.Option(metavar="ORDER", help="Order of day, month, year: dmy, mdy or ymd.")]
Encoding = Annotated[str | None, typer.Option(metavar="NAME", help="Of a text file: utf-8, windows-1252 or the like.")]
Most = Annotated[int, typer.Option(min=0, help="How many of a long list to show; --json lists all.")]


@app.command("read")
def _read(
    sheets: Annotated[list[Path], typer.Argument(metavar="SHEET..", help="Price sheets, as they came.")],
    supplier: Annotated[str | None, typer.Option(metavar="CODE", help="Whose sheets they are.")] = None,
    column: Columns = None,
    sheet: SheetName = None,
    header_row: HeaderRow = None,
    decimal: Decimals = None,
    date_order: DateOrder = None,
    encoding: Encoding = None,
    rows: Annotated[Path | None, typer.Option(metavar="OUT.csv", help="Write the rows that were read.")] = None,
    most: Most = 40,
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object a line, one for each file.")] = False,
) -> None:
    """Say what price sheets would be read as; nothing is changed."""
    from sourcing.cli.read import read_all

    answers = _answers(column, sheet, header_row, decimal, date_order, encoding)
    _finish(lambda: read_all(sheets, catalogs, supplier, answers, rows, as_json, most))


@app.command("receive")
def _receive(
    sheet_file: Annotated[Path, typer.Argument(metavar="SHEET", help="A price sheet, as it came.")],
    supplier: Annotated[str, typer.Option(metavar="CODE", help="Whose sheet it is: a code of suppliers.toml.")],
    day: Annotated[str, typer.Option("--date", metavar="YYYY-MM-DD", help="The day from which its prices hold.")],
    update: Annotated[bool, typer.Option("--update", help="It changes only the rows that it names.")] = False,
    whole: Annotated[bool, typer.Option("--whole", help="It is the whole list: what it lacks is not sold.")] = False,
    column: Columns = None,
    sheet: SheetName = None,
    header_row: HeaderRow = None,
    decimal: Decimals = None,
    date_order: DateOrder = None,
    encoding: Encoding = None,
    most: Most = 40,
    scenarios: Annotated[Path, typer.Option(help="The folder of open jobs.")] = Path("scenarios"),
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """File a supplier's sheet, and say what changed and which open jobs would now be bought differently."""
    from datetime import date

    from sourcing.cli.receive import receive

    if update and whole:
        raise typer.BadParameter("--update and --whole contradict each other: give one")
    try:
        if len(day) != len("YYYY-MM-DD"):
            raise ValueError
        from_day = date.fromisoformat(day)
    except ValueError:
        raise typer.BadParameter(f'"{day}" is no date: expected YYYY-MM-DD, such as 2026-04-13') from None
    answers = _answers(column, sheet, header_row, decimal, date_order, encoding)
    is_update = True if update else False if whole else None
    _finish(lambda: receive(sheet_file, catalogs, scenarios, supplier, from_day, is_update, answers, as_json, most))


@app.command("prices")
def _prices(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design's code, such as block-b.")],
    family: Annotated[str | None, typer.Option(metavar="CODE", help="Only in this family.")] = None,
    csv: Annotated[Path | None, typer.Option("--csv", metavar="OUT.csv", help="Write every date as CSV.")] = None,
    catalogs: Catalogs = Path("catalogs"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one object.")] = False,
) -> None:
    """Tell what a design costs now and has cost, from every supplier, kits included."""
    from sourcing.cli.prices import prices_of

    _finish(lambda: prices_of(design, family, catalogs, as_json, csv))


def _answers(
    columns: list[str] | None,
    sheet: str | None,
    header_row: int | None,
    decimal: str | None,
    date_order: str | None,
    encoding: str | None,
) -> Answers:
    from sourcing.prices.answers import NoAnswer, answers_of

    try:
        return answers_of(columns or [], sheet, header_row, decimal, date_order, encoding)
    except NoAnswer as error:
        raise typer.BadParameter(str(error)) from None


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


@app.command("serve")
def _serve(
    catalogs: Catalogs = Path("catalogs"),
    jobs: Annotated[Path, typer.Option(help="The folder of open jobs.")] = Path("scenarios"),
    reports: Annotated[Path, typer.Option(help="Where the papers go, a folder for each job.")] = Path("reports"),
    host: Annotated[
        str, typer.Option(help="The address to answer at; any but this machine's own asks a password.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8765,
    password_file: Annotated[
        Path | None,
        typer.Option(help="Holds the password's hash; made, by asking for a password, where it is not there."),
    ] = None,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", help="A name by which the page may be called; may stand several times."),
    ] = None,
    certificate: Annotated[Path | None, typer.Option(help="A certificate, for https.")] = None,
    key: Annotated[Path | None, typer.Option(help="Its private key.")] = None,
    browser: Annotated[bool, typer.Option(help="Open the page in the browser.")] = True,
) -> None:
    """Open the counter page: the whole job in a browser, on this machine."""
    from sourcing.cli.serve import serve

    _finish(lambda: serve(catalogs, jobs, reports, host, port, password_file, name or [], certificate, key, browser))


@app.command("new")
def _new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make; nothing in it is overwritten.")],
    example: Annotated[bool, typer.Option("--example", help="The invented demo, to be changed file by file.")] = False,
    empty: Annotated[bool, typer.Option("--empty", help="Empty files that say what to fill in.  [default]")] = False,
    name: Annotated[str, typer.Option(help="Your shop's name, for the papers.")] = "",
    currency: Annotated[str, typer.Option(help="The currency that you quote in (of an empty folder).")] = "USD",
    labour_rate: Annotated[str, typer.Option(metavar="AMOUNT", help="What an hour is charged at.")] = "",
    family: Annotated[str, typer.Option(metavar="CODE", help="The first family (of an empty folder).")] = "my-family",
) -> None:
    """Make a shop's folder to start from: the demo to change, or an empty one."""
    from sourcing.cli.new import new_folder

    if example and empty:
        raise typer.BadParameter("--example and --empty are two different folders: ask for one")
    _finish(lambda: new_folder(folder, example, name, currency, labour_rate, family))


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
