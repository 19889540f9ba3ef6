"""`sourcing review`: a family's book checked for holes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import wrap

import typer

from sourcing.book.family import Family
from sourcing.book.review import Finding, review
from sourcing.book.reviewwords import NOTES, UNNUMBERED, by_kind, head_of, holes_of, holes_words
from sourcing.bookshelf import Bookshelf, numbers_of
from sourcing.cli.ending import Exit
from sourcing.cli.lines import WIDTH

MOST_OF_A_KIND = 12


def review_family(code: str, catalogs: Path, as_json: bool) -> Exit:
    """Review a family's book: 0 where no hole was found (notes may be), else 5."""
    shelf = Bookshelf(catalogs)
    family = shelf.family(code)
    parts = shelf.parts(family)
    found = review(family, None if parts is None else numbers_of(parts))
    holes = holes_of(found)
    if as_json:
        said = [
            {"code": one.code, "kind": "note" if one.code in NOTES else "hole", "says": one.says, "where": one.where,
             "example": one.example, "remedy": one.remedy}
            for one in found
        ]  # fmt: skip
        record = {"family": code, "holes": len(holes), "notes": len(found) - len(holes), "findings": said}
        typer.echo(json.dumps(record, ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(family, found, len(holes), parts is None)))
    return Exit.UNPROVEN if holes else Exit.PROVEN


def _told(family: Family, found: Sequence[Finding], holes: int, unnumbered: bool) -> Iterator[str]:
    yield from (*wrap(head_of(family), WIDTH), "")
    yield holes_words(holes)
    for title, these in by_kind(found):
        yield from ("", title)
        for finding in these[:MOST_OF_A_KIND]:
            yield "\n".join(wrap(finding.says, WIDTH, initial_indent="  - ", subsequent_indent="    "))
            yield from wrap(f"e.g. {finding.example}", WIDTH, initial_indent="      ", subsequent_indent="      ")
        yield from wrap(f"-> {these[0].remedy}", WIDTH, initial_indent="    ", subsequent_indent="       ")
        if len(these) > MOST_OF_A_KIND:
            yield f"    and {len(these) - MOST_OF_A_KIND} more of the kind (--json lists all)"
    if unnumbered:
        yield from ("", UNNUMBERED)
