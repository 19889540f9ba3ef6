"""Sentences as lines of a terminal."""

from __future__ import annotations

from textwrap import wrap

WIDTH = 100


def bullet(words: str) -> str:
    """A sentence as an item of a list, wrapped."""
    return "\n".join(wrap(words, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_long_words=False))
