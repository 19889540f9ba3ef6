"""Rows that are recognisably none of our business: headings, totals, footnotes, blanks, repeated headers."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from sourcing.prices.amounts import AMOUNT
from sourcing.prices.grid import Cell, CellError
from sourcing.prices.header import Header
from sourcing.prices.words import folded, meaning

TOTAL = re.compile(
    r"(?:(?:grand|sub|sous|net)[ -]?)?(?:totals?|totale|totaal|summe|gesamt(?:summe)?|zwischensumme|somme|suma|razem|toplam|"
    r"итого|всего|всього)\b(?:[ :]*(?:net|netto|of|amount|price|prices|items|parts|rows|value|excl\w*|incl\w*|vat|tax|"
    r"[A-Z]{3}|[\d.,:-]+)\b\.?)*[ :.]*",
    re.IGNORECASE,
)


def is_aside(cells: Sequence[Cell], spelt: str, bare: bool, shapes: Collection[str]) -> bool:
    """Whether a row without a price is a heading, a total, a footnote or blank.

    Parameters
    ----------
    spelt : what stands in the column of part numbers
    bare : the row says nothing in the columns that go with a price
    shapes : how the table's priced numbers look; what looks like one of them is a part, and its missing price a fault
    """
    filled = [cell for cell in cells if cell != "" and str(cell).strip()]
    texts = [str(cell).strip() for cell in filled]
    if not filled:
        return True
    has_digit = re.search(r"\d", spelt) is not None
    alone = len(set(texts)) == 1 and isinstance(filled[0], str) and not isinstance(filled[0], CellError)
    if alone and not (has_digit and shape(spelt) in shapes) and not AMOUNT.fullmatch(texts[0]):
        return True
    if TOTAL.fullmatch(texts[0]):
        return True
    wordy = spelt.endswith(":") or not has_digit  # a heading or a footnote that goes over several cells
    return bool(spelt) and wordy and bare and shape(spelt) not in shapes


def shape(spelt: str) -> str:
    """How a part number looks: letters as A, digits as 9.

    >>> shape("AB 12-345")
    'A 9-9'
    """
    return re.sub(r"A+", "A", re.sub(r"9+", "9", re.sub(r"[^\W\d_]", "A", re.sub(r"\d", "9", spelt.strip()))))


def group_named(cells: Sequence[Cell]) -> str:
    """The brand or group that a heading names: a short text alone in its row that is no remark; '' otherwise."""
    texts = {str(cell).strip() for cell in cells if cell != "" and str(cell).strip()}
    if len(texts) != 1:
        return ""
    text = " ".join(texts.pop().split())
    remark = re.match(r"[*†‡(\d]|(note|nota|hinweis|anm|remark|page|seite|all|alle|tous|todos|tutti|prices?|preise?|prix)\b", text,
                      re.IGNORECASE)  # fmt: skip
    return (
        "" if remark or len(text) > 60 or text.endswith((".", "!", "?")) or TOTAL.fullmatch(text) else text.rstrip(":")
    )


def repeats(header: Header, cells: Sequence[Cell]) -> bool:
    """Whether a row is the header once more, as at the top of each printed page."""
    used = [*header.columns.values(), *header.breaks.values()]
    said = [(folded(str(cells[column])), folded(header.title(column))) for column in used if column < len(cells)]
    same = [cell for cell, title in said if cell == title]
    return len(same) >= max(2, len(used) - 1)


def looks_like_header(cells: Sequence[Cell]) -> bool:
    """Whether a row names, by their very words, both a part number and a price."""
    fields = {meaning(cell)[0] for cell in cells if type(cell) is str and len(cell) <= 60 and meaning(cell)[1] == 3}
    return "part_number" in fields and "price" in fields
