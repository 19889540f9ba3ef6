"""The words of the customer's papers: one file a language."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Labels:
    """A language's words by key, and the cautions that the tool itself gives, by code."""

    words: Mapping[str, str]
    cautions: Mapping[str, str]

    def __call__(self, key: str, **told: object) -> str:
        """The words of a key with what is told filled in."""
        return self.words[key].format(**told) if told else self.words[key]

    def listed(self, names: Iterable[str]) -> str:
        """Names in a row: "a, b and c"."""
        several = list(names)
        return several[0] if len(several) == 1 else f"{', '.join(several[:-1])} {self('and')} {several[-1]}"

    def months(self, months: int) -> str:
        if months == 0:
            return self("months_none")
        return self("months_one") if months == 1 else self("months_many", months=months)


@cache
def labels_of(language: str) -> Labels:
    """The words of a language.

    Raises
    ------
    FileNotFoundError
        There is no such file; `languages` lists those that there are.
    """
    told = tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))
    return Labels(told["labels"], told["cautions"])


def languages() -> tuple[str, ...]:
    """The languages that there is a file for."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))
