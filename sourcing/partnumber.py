"""A part number as a type: the supplier's own spelling, compared by its canonical form."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_FOLDED = re.compile(r"[\s\-‐‑‒–—―−]+")


def canonical(spelt: str) -> str:
    """Fold what people type differently for one number: case, spaces and dashes. Zeros, dots and slashes stay.

    >>> canonical("ab 12-34"), canonical("00123")
    ('AB1234', '00123')
    """
    folded = _FOLDED.sub("", unicodedata.normalize("NFKC", spelt).upper())
    # Taking out a blank, or a capital's own composed form, can let a loose accent join its letter: fold until nothing moves.
    return folded if folded == spelt else canonical(folded)


@dataclass(frozen=True, slots=True, eq=False)
class PartNumber:
    """A supplier's part number; equal to another where both have the same canonical form.

    >>> PartNumber("ab 12-34") == PartNumber("AB1234")
    True
    """

    spelt: str

    @property
    def canonical(self) -> str:
        return canonical(self.spelt)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PartNumber) and self.canonical == other.canonical

    def __lt__(self, other: PartNumber) -> bool:
        return self.spelt < other.spelt

    def __hash__(self) -> int:
        return hash(self.canonical)

    def __str__(self) -> str:
        return self.spelt
