"""`sourcing review`: a family's book checked for holes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import wrap

import typer

from sourcing.book.family import Family
from sourcing.book.review import Finding, Number, review
from sourcing.bookshelf import Bookshelf
from sourcing.cli import Exit
from sourcing.cli.lines import WIDTH
from sourcing.partnumber import canonical

MOST_OF_A_KIND = 12
# Not holes by themselves: what an author may well have meant.
NOTES = ("year-in-two-eras", "rule-never-bites", "rule-follows", "too-many-facts")
KINDS = {
    "era-empty": "Eras without a valid combination",
    "rules-contradict": "Rules that contradict each other",
    "design-unused": "Designs that no valid unit holds",
    "design-without-place": "Eras that a design is given and the rules refuse it",
    "marks-do-not-tell": "Designs that no mark tells apart and that must not be mixed up",
    "task-never-applies": "Tasks that never come due",
    "mark-on-nothing": "Marks that no design carries",
    "design-without-number": "Designs with no part number",
    "number-on-two-designs": "Numbers on two designs",
    "era-gap": "Months that no era covers",
    "year-gap": "Model years that no era has",
    "era-without-years": "Eras without model years",
    "year-in-two-eras": "Model years of two eras",
    "rule-follows": "Rules that follow from others",
    "rule-never-bites": "Rules that nothing can break",
    "too-many-facts": "Not looked at",
}


def review_family(code: str, catalogs: Path, as_json: bool) -> Exit:
    """Review a family's book: 0 where no hole was found (notes may be), else 5."""
    shelf = Bookshelf(catalogs)
    family = shelf.family(code)
    parts = shelf.parts(family)
    numbers = None if parts is None else [
        Number(part.supplier, part.number.canonical, part.number.spelt, part.fills, canonical(part.replaced_by))
        for part in parts
    ]  # fmt: skip
    found = review(family, numbers)
    holes = [finding for finding in found if finding.code not in NOTES]
    if as_json:
        said = [
            {"code": one.code, "kind": "note" if one.code in NOTES else "hole", "says": one.says, "where": one.where,
             "example": one.example, "remedy": one.remedy}
            for one in found
        ]  # fmt: skip
        record = {"family": code, "holes": len(holes), "notes": len(found) - len(holes), "findings": said}
        typer.echo(json.dumps(record, ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(family, found, len(holes), numbers is None)))
    return Exit.UNPROVEN if holes else Exit.PROVEN


def _told(family: Family, found: Sequence[Finding], holes: int, unnumbered: bool) -> Iterator[str]:
    counted = f"{len(family.eras)} eras, {len(family.positions)} positions, {len(family.designs)} designs, "
    head = f"The book of {family.family.name}: {counted}{len(family.rules)} rules, {len(family.tasks)} tasks"
    yield from (*wrap(head, WIDTH), "")
    if not holes:
        yield "No hole was found."
    else:
        yield f"{holes} hole{'s' if holes > 1 else ''} found."
    for code, title in KINDS.items():
        these = [finding for finding in found if finding.code == code]
        if these:
            note = " (may be meant)" if code in NOTES else ""
            yield from ("", f"{title}{note}")
            for finding in these[:MOST_OF_A_KIND]:
                yield "\n".join(wrap(finding.says, WIDTH, initial_indent="  - ", subsequent_indent="    "))
                yield from wrap(f"e.g. {finding.example}", WIDTH, initial_indent="      ", subsequent_indent="      ")
            yield from wrap(f"-> {these[0].remedy}", WIDTH, initial_indent="    ", subsequent_indent="       ")
            if len(these) > MOST_OF_A_KIND:
                yield f"    and {len(these) - MOST_OF_A_KIND} more of the kind (--json lists all)"
    if unnumbered:
        yield from ("", "There is no parts.csv beside the book: nothing was said of part numbers.")
