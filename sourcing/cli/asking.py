"""The one clear question about a sheet, in words, with what to type to answer it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sourcing.prices.answers import Answers
from sourcing.prices.rows import PriceSheet, Question
from sourcing.prices.words import folded

# In the order in which they are asked: what comes first decides what the others are about.
ASKED = {
    "sheet": "Which sheet of the workbook holds the prices?",
    "header_row": "Which row holds the headers?",
    "part_number": "Which column holds the part number?",
    "price": "Which column is the price that you pay for one piece?",
    "breaks": "Two columns give a price from the same quantity on: which is the one that you pay?",
    "decimal": "Which mark divides whole from hundredths in the amounts, the point or the comma?",
    "date_order": "Which comes first in the dates, the day (dmy) or the month (mdy)?",
    "currency": "Which column names the currency?",
    "core_charge": "Which column is the core charge?",
    "stock": "Which column is the stock (pieces that can be bought)?",
    "quantity": "Which column is the quantity from which a price holds?",
    "pack": "Which column is the pack (pieces sold together)?",
    "minimum": "Which column is the smallest quantity that is sold?",
    "lead_days": "Which column is the days until it is sent?",
    "valid_until": "Which column is the last day on which the price holds?",
    "description": "Which column is the description?",
}
_OPTION = {"sheet": "--sheet", "header_row": "--header-row", "decimal": "--decimal", "date_order": "--date-order"}
_MANY = 6
NEEDED = ("part_number", "price", "sheet", "header_row", "breaks")  # a sheet cannot be read without them


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as it is put to a person: `answers` are options to add to the command, `more` a remark."""

    words: str
    choices: tuple[str, ...]
    answers: tuple[str, ...]
    more: str = ""


def asked(sheet: PriceSheet, declared: Mapping[str, str]) -> Asked | None:
    """The question to put first, of those that a sheet leaves; None where it leaves none.

    Parameters
    ----------
    declared : header texts by field that suppliers.toml gives; one that the sheet lacks means that its layout changed
    """
    if not sheet.questions:
        return None
    order = list(ASKED)
    first = min(sheet.questions, key=lambda question: _place(question.field, order))
    words = ASKED.get(first.field, f"Which column is {first.field}?")
    missing = declared.get(first.field, "")
    more = ""
    if missing and folded(missing) not in {folded(choice) for choice in first.choices}:
        more = (f'The layout has changed: suppliers.toml says that {first.field} stands under "{missing}", '
                "and no header here says that.")  # fmt: skip
    return Asked(words, first.choices, tuple(_answers(first)), more)


def _place(name: str, order: Sequence[str]) -> int:
    return order.index(name) if name in order else len(order)


def _answers(question: Question) -> Iterator[str]:
    name = "price" if question.field == "breaks" else question.field
    if not question.choices or len(question.choices) > _MANY:
        yield f"{_OPTION[name]} VALUE" if name in _OPTION else f'--column {name}="HEADER"'
        return
    for choice in question.choices:
        yield f"{_OPTION[name]} {typed(choice)}" if name in _OPTION else f"--column {typed(f'{name}={choice}')}"
    if name not in NEEDED and name not in _OPTION:
        yield f"--column {name}=  (none of them: the sheet does not say it)"


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
    options = {"name": "--sheet", "header_row": "--header-row", "decimal": "--decimal", "date_order": "--date-order"}
    typed_columns = [word for name, header in answers.columns.items() for word in ("--column", f"{name}={header}")]
    return [*typed_columns, *(word for key, value in answers.of_sheet.items() for word in (options[key], str(value)))]
