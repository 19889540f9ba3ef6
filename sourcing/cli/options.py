"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Catalogs = Annotated[Path, typer.Option(help="The shop's folder: rates, suppliers, price sheets, books.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one object.")]
JsonOrPapers = Annotated[bool, typer.Option("--json", help="Print one object; write papers only where --out says so.")]
