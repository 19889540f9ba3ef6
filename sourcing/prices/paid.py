"""Which of several price columns is what we pay: net before list, none with tax unless a person says so."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from sourcing.prices.words import folded

_EXCLUDING_TAX = (
    r"\b(excl?|exclusive|excluding|without|ohne|zzgl|exkl|hors|ht|sin|senza|sem|zonder|bez|plus|haric|без)\b"
)
_WITH_TAX = r"\b(incl?|including|inclusive|inkl|with (tax|vat|gst)|vat|gst|tax|mwst|ttc|iva|btw|kdv|brutto|bruttopreis|"\
            r"gross|brutoprijs|brutto cena|ндс|пдв)\b"  # fmt: skip
_FOR_OTHERS = r"\b(list|listenpreis|msrp|rrp|srp|retail|suggested|uvp|vk|public|pvp|listino|lista|tabela|liste|catalog\w*|"\
              r"consumer|end user|resale|selling)\b"  # fmt: skip
_OURS = r"\b(net|netto\w*|nett|dealer|trade|your|our|cost|wholesale|jobber|distributor|rebuilder|ek|einkauf\w*|"\
        r"ha?e?ndler\w*|achat|revendeur|neto|coste|costo|mayorista|acquisto|rivenditore|inkoop\w*|liquido|revenda)\b"  # fmt: skip
_PER_MANY = re.compile(
    r"(?:\bper|/|\bje|\bpro|\bpour|\bpor|\bza|\bза) ?"
    r"(10|12|20|25|50|100|144|200|250|500|1000|10000|c|m|hundred|thousand|dozen)\b"
)
_MANY = {"c": 100, "m": 1000, "hundred": 100, "thousand": 1000, "dozen": 12}


def our_prices(candidates: list[int], titles: Sequence[str]) -> tuple[list[int], bool]:
    """The price columns that could be what we pay: net before list, never one with tax unless a person says so."""
    kinds: dict[str, list[int]] = {"ours": [], "plain": [], "others": [], "odd": []}
    for column in candidates:
        words = folded(titles[column])
        without_tax = re.search(_EXCLUDING_TAX, words)
        if _PER_MANY.search(words) or (re.search(_WITH_TAX, words) and not without_tax):
            kinds["odd"].append(column)
        elif re.search(_FOR_OTHERS, words) and not re.search(r"\b(dealer|your|our|net|netto)\b", words):
            kinds["others"].append(column)
        else:
            kinds["ours" if re.search(_OURS, words) else "plain"].append(column)
    if kinds["ours"] or kinds["plain"]:
        return sorted(kinds["ours"] + kinds["plain"]), True
    if kinds["others"]:
        return kinds["others"], True
    return kinds["odd"], len(kinds["odd"]) == 1 and not re.search(_WITH_TAX, folded(titles[kinds["odd"][0]]))


def pieces_priced(title: str) -> int:
    """The number of pieces for which the prices under a header hold.

    >>> pieces_priced("Price per 100"), pieces_priced("Preis je 1000 Stück"), pieces_priced("Price")
    (100, 1000, 1)
    """
    found = _PER_MANY.search(folded(title))
    return _MANY.get(found[1]) or int(found[1]) if found else 1


def for_one(price: Decimal, pieces: int) -> Decimal:
    """The price of one piece, where a price holds for several."""
    return price if pieces == 1 else price / pieces
