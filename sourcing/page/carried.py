"""What a page carries out and back as TOML, read again: never a text that costs more to read than it says."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from typing import Any

from sourcing.page.asked import Forged

DEEPEST = 16  # dots in a key; the parser's memory grows with their square


def plain_in(text: str) -> dict[str, Any]:
    """Such a text as plain values. Raises Forged where it is none of ours."""
    if any(map(_is_deep, text.split("\n"))):
        raise Forged
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError):
        raise Forged from None


def _is_deep(line: str) -> bool:
    """Whether a line holds a key of many parts. Texts do not count, where it is plain which signs are a text's."""
    bare = line if "'" in line else re.sub(r'"(?:[^"\\]|\\.)*"', '""', line)
    return any(piece.count(".") > DEEPEST for piece in re.split(r"[=,\[\]{}]", bare))
