"""The commands on prices: a sheet looked at, filed, and what a design costs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sourcing.cli.ending import finish
from sourcing.cli.options import AsJson, Catalogs

if TYPE_CHECKING:
    from sourcing.prices.answers import Answers

commands = typer.Typer()
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


@commands.command("read")
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
    finish(lambda: read_all(sheets, catalogs, supplier, answers, rows, as_json, most))


@commands.command("receive")
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
    as_json: AsJson = False,
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
    finish(lambda: receive(sheet_file, catalogs, scenarios, supplier, from_day, is_update, answers, as_json, most))


@commands.command("prices")
def _prices(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design's code, such as block-b.")],
    family: Annotated[str | None, typer.Option(metavar="CODE", help="Only in this family.")] = None,
    csv: Annotated[Path | None, typer.Option("--csv", metavar="OUT.csv", help="Write every date as CSV.")] = None,
    catalogs: Catalogs = Path("catalogs"),
    as_json: AsJson = False,
) -> None:
    """Tell what a design costs now and has cost, from every supplier, kits included."""
    from sourcing.cli.prices import prices_of

    finish(lambda: prices_of(design, family, catalogs, as_json, csv))


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
