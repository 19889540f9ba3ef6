"""A question about a sheet as options to type."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sourcing.prices.answers import Answers
from sourcing.prices.asking import NONE_OF_THEM, OF_SHEET, Asked

_OPTION = {"sheet": "--sheet", "header_row": "--header-row", "decimal": "--decimal", "date_order": "--date-order",
           "encoding": "--encoding"}  # fmt: skip


def options_of(question: Asked) -> Iterator[str]:
    """What to add to the command for each answer."""
    if question.typed == ("part_number", "price"):
        yield "--column part_number=LETTER --column price=LETTER"
        return
    for name in question.typed:
        yield f"{_OPTION[name]} VALUE" if name in OF_SHEET else f'--column {name}="HEADER"'
    for way in question.ways:
        none = f"  ({NONE_OF_THEM})" if way.words == NONE_OF_THEM else ""
        yield " ".join(_option(name, said) for name, said in way.said) + none


def _option(name: str, said: str) -> str:
    if name in OF_SHEET:
        return f"{_OPTION[name]} {typed(said)}"
    return f"--column {typed(f'{name}={said}')}" if said else f"--column {name}="


def typed(word: str) -> str:
    """A word as it is typed after a prompt, in quotation marks where it needs them.

    >>> typed("list.csv"), typed("dealer list.xlsx")
    ('list.csv', '"dealer list.xlsx"')
    """
    plain = word and all(mark.isalnum() or mark in "._-/=+:" for mark in word)
    if plain:
        return word
    return f'"{word}"' if '"' not in word else f"'{word}'"


def command_line(words: Iterable[str]) -> str:
    """A command to type, its words quoted where they need it."""
    return " ".join(["sourcing", *map(typed, words)])


def typed_answers(answers: Answers) -> list[str]:
    """Answers as the options that gave them."""
    options = {**_OPTION, "name": "--sheet"}
    typed_columns = [word for name, header in answers.columns.items() for word in ("--column", f"{name}={header}")]
    return [*typed_columns, *(word for key, value in answers.of_sheet.items() for word in (options[key], str(value)))]
