"""A design's price history in a shop's folder."""

from __future__ import annotations

import difflib

from sourcing.faults import BadInput, Fault, UnknownFamily, UnknownName, shown
from sourcing.folder import Folder
from sourcing.prices.history import History, histories


def families_of(folder: Folder, design: str, family: str | None) -> list[str]:
    """The families that know a design. Raises BadInput, with the nearest names, where none does."""
    if family is not None and family not in folder.families:
        here = ", ".join(folder.families) or "none"
        raise BadInput([UnknownFamily(file=shown(folder.path), place="--family", found=f'"{family}"',
                                      expected=f"one of the families here: {here}",
                                      remedy="Correct the name, or write the family's book.")])  # fmt: skip
    asked = [family] if family is not None else folder.families
    books = {code: folder.family(code)[0] for code in asked}
    holding = [code for code, book in books.items() if design in book.design]
    if not holding:
        known = sorted({one for book in books.values() for one in book.design})
        near = difflib.get_close_matches(design.lower(), known, 4, 0.4)
        remedy = f"Nearest: {', '.join(near)}." if near else f"There are: {', '.join(known)}."
        raise BadInput([UnknownName(file=shown(folder.path), place="DESIGN", found=f'"{design}"',
                                    expected=f"a design of {', '.join(asked) or 'some family'}", remedy=remedy)])  # fmt: skip
    return holding


def history_of(folder: Folder, design: str, family: str) -> tuple[list[History], list[Fault]]:
    """A design's histories in one family, and why a day could not be read."""
    terms = {code: (one.name, one.currency or folder.shop.currency) for code, one in folder.suppliers.items()}
    return histories(folder.prices, folder.family(family)[1], design, family, terms)
