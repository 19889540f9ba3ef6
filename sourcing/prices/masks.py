"""Number formats that show leading zeros: the text that they make of a number."""

from __future__ import annotations

import re


def zero_mask(code: str) -> str:
    """The mask of a number format that is zeros and the characters between them, or ''.

    >>> zero_mask("00000"), zero_mask('000\\\\-0000'), zero_mask("0"), zero_mask("0.00")
    ('00000', '000-0000', '', '')
    """
    mask = code.replace("\\", "").replace('"', "")
    shows = re.fullmatch(r"[A-Za-z0 \-]*0[0 \-]*0", mask) and not re.search(r"General|[dmyhsE]{2}", mask)
    return mask if shows else ""


def masked(digits: str, mask: str) -> str:
    """The text that a number format of zeros shows.

    >>> masked("123", "00000"), masked("71002", "000-0000")
    ('00123', '007-1002')
    """
    shown, left = [], list(digits.lstrip("0"))
    for mark in reversed(mask):
        shown.append(mark if mark != "0" else left.pop() if left else "0")
    first = len(shown) - mask.index("0")
    return "".join(reversed(shown[:first] + left[::-1] + shown[first:]))
