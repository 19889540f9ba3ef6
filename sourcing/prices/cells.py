"""A cell as a part number, a count, working days or a date; what it cannot be says what was expected."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from sourcing.prices.amounts import Unread, number_of
from sourcing.prices.grid import Cell, CellError

MOST_COUNT = 1_000_000_000
_COUNT = re.compile(
    r"[>≥]?\s*(\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+|\d+)(?:[.,]0+)?\s*\+?\s*"
    r"(?:pcs?|pieces?|units?|ea|each|stk|st|stück|szt|шт|adet|/\s?(?:box|pack|pk|ctn))?\.?",
    re.IGNORECASE,
)
_PACKED_IN = re.compile(
    r"(?:box|pack|pk|bag|carton|case|set|beutel|karton|packung)\s*(?:of|à|a|/|zu|x)?\s*(\d+)", re.IGNORECASE
)
COUNT_WORDS = {
    "each": 1,
    "ea": 1,
    "single": 1,
    "stück": 1,
    "stk": 1,
    "pc": 1,
    "pair": 2,
    "pr": 2,
    "paar": 2,
    "dozen": 12,
}


# Words for stock: nothing there, or something there of which nobody says how many.
def _listed(words: str) -> frozenset[str]:
    return frozenset(words.split("|"))


NO_STOCK = _listed(
    "no|out|out of stock|sold out|none|nil|0 pcs|not in stock|not available|unavailable|discontinued|nein|ausverkauft|"
    "nicht lieferbar|nicht vorrätig|vergriffen|agotado|sin existencias|rupture|en rupture|épuisé|indisponible|esaurito|"
    "non disponibile|esgotado|sem estoque|uitverkocht|niet leverbaar|brak|niedostępny|yok|tükendi|нет|нет в наличии|немає|"
    "відсутній"
)
SOME_STOCK = _listed(
    "yes|y|in stock|available|stock|call|ask|on request|request|phone|low|limited|low stock|in production|on order|ja|"
    "vorrätig|lieferbar|auf lager|lagernd|auf anfrage|anfrage|wenige|sí|si|disponible|en stock|hay|consultar|oui|"
    "sur demande|sì|disponibile|su richiesta|sim|disponível|em estoque|sob consulta|op voorraad|leverbaar|op aanvraag|tak|"
    "dostępny|na zapytanie|var|stokta|sorunuz|да|есть|в наличии|є|в наявності|+|++|+++|*|✓|✔|x"
)
_AT_LEAST = re.compile(
    r"(?:>=?|≥|over|more than|mehr als|über|plus de|más de|più di|mais de|meer dan|więcej niż|от|більше) ?(?P<a>\d{1,6})|"
    r"(?P<b>\d{1,6}) ?(?:\+|or more|and more|und mehr|plus)",
    re.IGNORECASE,
)


def count_of(cell: Cell, mark: str, least: int = 0, words: dict[str, int] | None = None) -> int | Unread | None:
    """A cell as a whole number of pieces; None for a blank."""
    expected = Unread(f"a whole number from {least}")
    if isinstance(cell, (int, float)):
        return int(cell) if least <= cell <= MOST_COUNT and cell == int(cell) else expected
    if type(cell) is not str:
        return expected
    text = cell.strip()
    if not text:
        return None
    known = (words or {}).get(text.casefold().rstrip("."))
    if known is not None:
        return known
    grouped = re.fullmatch(r"\d{1,3}(?:[.,]\d{3})+", text)
    if grouped:
        if mark not in (".", ",") or mark in text:
            return expected
        text = re.sub(r"[.,]", "", text)
    found = _COUNT.fullmatch(text) or _PACKED_IN.fullmatch(text)
    value = int(re.sub(r"\D", "", found[1])) if found and len(found[1]) < 13 else -1
    return value if least <= value <= MOST_COUNT else expected


def stock_of(cell: Cell, mark: str) -> int | Unread | None:
    """A cell as pieces in stock; None for a blank, and for a word that says some are there but not how many.

    "10+" and "over 10" mean that ten are there at least, and no more than those are counted on.
    """
    if type(cell) is str:
        said = " ".join(cell.split()).casefold().rstrip(".")
        if said in NO_STOCK:
            return 0
        if said in SOME_STOCK or not re.search(r"[^\W_]|[+*✓✔]", said):
            return None
        least = _AT_LEAST.fullmatch(said)
        if least:
            return int(least["a"] or least["b"])
    return count_of(cell, mark)


_PIECES = {**COUNT_WORDS, "pcs": 1, "piece": 1, "unit": 1, "szt": 1, "шт": 1, "adet": 1, "c": 100, "m": 1000, "hundred": 100,
           "thousand": 1000, "%": 100}  # fmt: skip


def pieces_of(cell: Cell) -> int | Unread | None:
    """A cell as the number of pieces for which a price holds: 100, "per 100", "C" (a hundred), "each"."""
    if isinstance(cell, str) and not isinstance(cell, CellError):
        text = re.sub(r"^(?:per|/|je|pro|pour|por|za|за)\s*", "", cell.strip().casefold()).rstrip(".")
        return _PIECES.get(text) or count_of(text, "", 1)
    return count_of(cell, "", 1)


def days_of(cell: Cell, in_weeks: bool) -> int | Unread | None:
    """A cell as working days: of a range the longer, a week is five."""
    expected = Unread("a number of working days")
    if isinstance(cell, (int, float)):
        days = int(cell) if 0 <= cell <= 1000 and cell == int(cell) else -1
    elif type(cell) is str:
        text = cell.strip().casefold()
        if not text or re.fullmatch("[-–—]+", text):
            return None
        found = re.fullmatch(r"(?:\d{1,3}\s*(?:-|–|to|bis|a)\s*)?(\d{1,3})(?:\.0)?\s*([^\W\d]*)\.?", text)
        unit = found[2] if found else "?"
        weekly = re.match(r"w|semai|seman|settiman|нед|тиж|hafta|tyg", unit) is not None
        if not found or not (weekly or unit == "" or re.match(r"d|t|j|g|дн|раб", unit)):
            return expected
        days = int(found[1]) * (5 if weekly and not in_weeks else 1)
    else:
        return expected
    return (days * 5 if in_weeks else days) if 0 <= days <= 1000 else expected


def date_order(cells: Sequence[Cell], declared: str | None = None) -> str:
    """How a column writes its dates: dmy, mdy or ymd; '?' where it stays open."""
    if declared:
        return declared
    firsts, seconds, open_ones = set(), set(), False
    for cell in cells:
        found = re.fullmatch(r"\s*(\d{1,2})([./-])(\d{1,2})[./-](\d{4}|\d{2})\s*", cell) if type(cell) is str else None
        if found:
            firsts.add(int(found[1]))
            seconds.add(int(found[3]))
            open_ones = open_ones or (found[2] != "." and found[1] != found[3])
    if any(number > 12 for number in seconds):
        return "mdy"
    return "dmy" if any(number > 12 for number in firsts) or not open_ones else "?"


def day_of(cell: Cell, order: str) -> date | Unread | None:
    """A cell as a date."""
    expected = Unread("a date")
    if isinstance(cell, date):
        return cell
    if type(cell) is not str:
        return expected
    text = cell.strip()
    if not text or re.fullmatch("[-–—]+", text):
        return None
    found = re.fullmatch(r"(\d{4})[./-](\d{1,2})[./-](\d{1,2})(?:[ T]00:00(?::00)?)?", text)
    if found:
        parts = [int(part) for part in found.groups()]
    else:
        found = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})", text)
        if not found or order not in ("dmy", "mdy"):
            return expected
        a, b, year = (int(part) for part in found.groups())
        parts = [year + 2000 if year < 100 else year, *((b, a) if order == "dmy" else (a, b))]
    try:
        return date(*parts)
    except ValueError:
        return expected


def day_or_nothing(cell: Cell, order: str) -> date | None:
    """A cell as a date that decides nothing: what is none is left out."""
    day = day_of(cell, order)
    return None if isinstance(day, Unread) else day


def spelt_of(cell: Cell) -> str | Unread:
    """A cell as a part number: text as it stands, a number without a decimal point."""
    if isinstance(cell, CellError):
        return Unread("a part number")
    if isinstance(cell, str):
        text = re.sub(r'^="?([^"]*)"?$|^\'', r"\1", " ".join(cell.split())) if cell[:1] in "='" else cell.strip()
        if "+" in text and re.fullmatch(r"\d(?:[.,]\d+)?E\+\d+", text):
            return Unread("a part number; a spreadsheet has shortened this one beyond recovery")
        return text
    if isinstance(cell, date):
        return Unread("a part number; a spreadsheet has turned this one into a date beyond recovery")
    if not abs(cell) < 1e15:
        return Unread("a part number; a spreadsheet has rounded this one beyond recovery")
    return f"{number_of(cell):f}"


def successor_of(cell: Cell) -> str | Unread | None:
    """A cell as the number that superseded another; None for a blank or a dash."""
    spelt = spelt_of(cell)
    return (
        None if not isinstance(spelt, Unread) and re.fullmatch(r"[-–—\s]*|n/?a|none", spelt, re.IGNORECASE) else spelt
    )
