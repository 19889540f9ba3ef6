"""A plain value as TOML writes it, a key as TOML joins it, and the comments of a text."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

Way = tuple[str, ...]
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_COMMENT = re.compile(r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|(#[^\r\n]*)', re.DOTALL)


def dotted(way: Way) -> str:
    """Keys as TOML joins them."""
    return ".".join(key if _BARE.fullmatch(key) else _quoted(key) for key in way)


def literal(value: Any) -> str:
    """A plain value as TOML writes it."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _quoted(value)
        case Decimal() if not value.is_finite():
            return str(value).lower().replace("infinity", "inf").replace("snan", "nan")
        case int() | Decimal():
            return str(value)
        case datetime() | date() | time():
            return value.isoformat()
        case list() | tuple():
            return f"[{', '.join(map(literal, value))}]"
        case Mapping():
            inside = ", ".join(f"{dotted((key,))} = {literal(one)}" for key, one in value.items())
            return f"{{{inside}}}"
    raise TypeError(f"TOML has no {type(value).__name__}")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def comments(text: str) -> list[str]:
    """Every comment of a TOML text, in order."""
    return [found[1] for found in _COMMENT.finditer(text) if found[1]]


def with_comments(before: str, after: str) -> str:
    """A changed text; the comments that it lost stand at its end."""
    kept = comments(after)
    lost = []
    for comment in comments(before):
        if comment in kept:
            kept.remove(comment)
        else:
            lost.append(comment)
    end = "\r\n" if "\r\n" in before else "\n"
    return after if not lost else after.rstrip("\r\n") + end + end + "".join(comment + end for comment in lost)
