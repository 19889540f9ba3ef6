"""Text for a cell: cleaned of what no cell may hold, and measured so that every line of it shows."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

LONGEST = 32_000  # a cell takes 32 767 characters
TALLEST = 30  # lines of one row; a row cannot be higher than 409 points
_TURNING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}  # signs that turn the reading of what follows them


@lru_cache(maxsize=20_000)  # a large pool says the same some thousand times
def clean(text: str) -> str:
    """A text fit for a cell: no control or turning signs, no halves of characters; line ends become spaces."""
    spaced = "".join(" " if sign in "\t\r\n\v\f\x85\u2028\u2029" else sign for sign in text)
    kept = (sign for sign in spaced if unicodedata.category(sign) not in ("Cc", "Cs") and ord(sign) not in _TURNING
            and ord(sign) & 0xFFFE != 0xFFFE)  # fmt: skip
    whole = "".join(kept)
    return whole if len(whole) <= LONGEST else whole[: LONGEST - 6] + " [...]"


def sentence(text: str) -> str:
    """A text with a capital in front, all else as it is.

    >>> sentence("at most 3.00 USD")
    'At most 3.00 USD'
    """
    return text[:1].upper() + text[1:]


@lru_cache(maxsize=20_000)
def lines_of(text: str, width: float) -> int:
    """Lines that a text takes in a column of so many units, on the safe side; wide scripts count twice.

    A unit holds a digit at 11 points; at the 10 of these sheets about 1.4 letters of running text. Reckoned with 1.2.
    """
    room, lines, used = max(int(width * 1.2) - 1, 4), 1, 0
    for word in text.split(" "):
        size = sum(2 if unicodedata.east_asian_width(sign) in "WF" else 1 for sign in word)
        if used and used + 1 + size > room:
            lines, used = lines + 1, 0
        used += size + (1 if used else 0)
        while used > room:
            lines, used = lines + 1, used - room
    return lines


def shortened(text: str, width: float) -> str:
    """A text cut to what the tallest row can show in a column of so many signs, with a sign that it was cut."""
    if lines_of(text, width) <= TALLEST:
        return text
    room = int(width - 1) * (TALLEST - 2) // 2
    while lines_of(text[: room + 20], width) < TALLEST - 1:
        room += 20
    return text[:room] + " [...]"


def footer(text: str) -> str:
    """A text fit for a foot line, where "&" begins an order of its own."""
    return clean(text).replace("&", "&&")[:100]


def pieces_of(text: str, width: float) -> list[str]:
    """A text in pieces of which each fits the tallest row."""
    pieces, piece = [], ""
    words = (word[start : start + 400] for word in text.split(" ") for start in range(0, len(word) or 1, 400))
    for word in words:
        if piece and lines_of(f"{piece} {word}", width) > TALLEST:
            pieces.append(piece)
            piece = word
        else:
            piece = f"{piece} {word}" if piece else word
    return [*pieces, piece]
