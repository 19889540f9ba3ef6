"""The commands on a shop's whole folder: its page, and a folder to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sourcing.cli.ending import finish
from sourcing.cli.options import Catalogs

commands = typer.Typer()


@commands.command("serve")
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

    finish(lambda: serve(catalogs, jobs, reports, host, port, password_file, name or [], certificate, key, browser))


@commands.command("new")
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
    finish(lambda: new_folder(folder, example, name, currency, labour_rate, family))
