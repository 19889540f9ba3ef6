"""Things by what they belong to."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

K = TypeVar("K")
T = TypeVar("T")


def grouped(pairs: Iterable[tuple[K, T]]) -> dict[K, list[T]]:
    """The second of each pair by the first, in the order of the pairs."""
    groups: dict[K, list[T]] = {}
    for key, item in pairs:
        groups.setdefault(key, []).append(item)
    return groups
