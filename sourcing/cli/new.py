"""`sourcing new`: a shop's folder to start from, and what to do next in it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from pathlib import Path

import typer

from sourcing.cli.asking import typed
from sourcing.cli.ending import Exit
from sourcing.faults import shown
from sourcing.newfolder import Start, make_folder


def new_folder(folder: Path, example: bool, name: str, currency: str, labour_rate: str, family: str) -> Exit:
    """Make the folder; 2 where something stands in the way, and then nothing is written."""
    rate = _rate(labour_rate) if labour_rate else None
    start = Start(
        "example" if example else "empty", name, currency, rate, family, family.replace("-", " ").capitalize()
    )
    made = make_folder(folder / "catalogs", folder / "scenarios", start)
    typer.echo("\n".join(_told(folder, start, made)))
    return Exit.PROVEN


def _rate(said: str) -> Decimal:
    try:
        return Decimal(said)
    except InvalidOperation:
        raise typer.BadParameter(f'"{said}" is no amount: expected one such as 95.00') from None


def _told(folder: Path, start: Start, made: list[Path]) -> Iterator[str]:
    yield f"Made in {shown(folder)}"
    yield from (f"  {path.relative_to(folder).as_posix()}" for path in made)
    yield ""
    yield "What next"
    yield f"  cd {typed(str(folder))}"
    if start.kind == "example":
        yield "  sourcing quote scenarios/exact-block.toml"
        yield "  Everything in it is invented: change it file by file. catalogs/README.md explains each field."
        return
    yield f"  fill in catalogs/shop.toml and catalogs/{start.family}/interchange.toml: their comments say what"
    yield f"  sourcing review {start.family}"
    yield "  add your suppliers to catalogs/suppliers.toml, then file each one's sheet:"
    yield "  sourcing receive SHEET --supplier CODE --date YYYY-MM-DD"
    yield f"  name in catalogs/{start.family}/parts.csv which number is which design"
    yield "  Or do all of it in the browser: sourcing serve"
