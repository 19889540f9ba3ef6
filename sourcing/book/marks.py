"""What can be seen or counted on a part, and which designs that leaves."""

from __future__ import annotations

from collections.abc import Mapping

from sourcing.book.family import NONE, Design, Family

Seen = str | int | bool
Found = str | dict[str, Seen]


def same(one: object, other: object) -> bool:
    """Whether two readings of a mark agree: numbers by value, words without regard to case."""
    return reading(one) == reading(other)


def reading(value: object) -> str:
    """A reading of a mark in the form in which readings are compared."""
    return str(value).strip().casefold()


def agrees(design: Design, seen: Mapping[str, Seen]) -> bool:
    """Whether a design contradicts none of the marks seen; a mark that the book does not give it contradicts nothing."""
    return not contradicting(design, seen)


def agreeing(design: Design, seen: Mapping[str, Seen]) -> tuple[str, ...]:
    """The marks seen that the book gives a design with the same reading."""
    return tuple(code for code, value in seen.items() if code in design.marks and same(design.marks[code], value))


def contradicting(design: Design, seen: Mapping[str, Seen]) -> tuple[str, ...]:
    """The marks seen that the book gives a design with another reading."""
    return tuple(code for code, value in seen.items() if code in design.marks and not same(design.marks[code], value))


def candidates(family: Family, position: str, seen: Found | None) -> tuple[str, ...]:
    """What a position can hold by what was seen there: with nothing seen, all that it may hold in any era."""
    if seen is None:
        return family.holds[position]
    if isinstance(seen, str):
        return (seen,)
    return tuple(code for code in family.holds[position] if code != NONE and agrees(family.design[code], seen))
