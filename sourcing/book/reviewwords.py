"""The holes of a book by their kinds, and how a person calls each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sourcing.book.family import Family
from sourcing.book.review import Finding

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


def head_of(family: Family) -> str:
    """What a book holds, counted."""
    counted = f"{len(family.eras)} eras, {len(family.positions)} positions, {len(family.designs)} designs, "
    return f"The book of {family.family.name}: {counted}{len(family.rules)} rules, {len(family.tasks)} tasks"


def holes_of(found: Sequence[Finding]) -> list[Finding]:
    """The findings that are holes: what an author may well have meant is a note."""
    return [finding for finding in found if finding.code not in NOTES]


def by_kind(found: Sequence[Finding]) -> Iterator[tuple[str, list[Finding]]]:
    """Findings by their kind, each kind under its title."""
    for code, title in KINDS.items():
        these = [finding for finding in found if finding.code == code]
        if these:
            yield title + (" (may be meant)" if code in NOTES else ""), these


def holes_words(holes: int) -> str:
    return "No hole was found." if not holes else f"{holes} hole{'s' if holes > 1 else ''} found."


UNNUMBERED = "There is no parts.csv beside the book: nothing was said of part numbers."
