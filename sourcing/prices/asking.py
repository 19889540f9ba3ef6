"""The one clear question about a sheet, in words, with each answer as a value: what a person picks or types."""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sourcing.prices.rows import PriceSheet, Question
from sourcing.prices.sheetwords import field_words
from sourcing.prices.words import folded

# In the order in which they are asked: what comes first decides what the others are about.
ASKED = {
    "sheet": "Which sheet of the workbook holds the prices?",
    "encoding": "In which encoding was this text written?",
    "header_row": "Which row holds the headers?",
    "header": "No row of headers was found. Which column (by its letter) is which?",
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
# What belongs under [supplier.sheet]; all else is a column.
OF_SHEET = ("sheet", "header_row", "decimal", "date_order", "encoding")
NEEDED = ("part_number", "price", "sheet", "header_row", "breaks")  # a sheet cannot be read without them
NONE_OF_THEM = "none of them: the sheet does not say it"
# A cell, as a fault quotes it, that leaves one of these open.
_MARKS = {
    "decimal": re.compile(r'"(\d{1,3})([.,])(\d{3})"'),
    "date_order": re.compile(r'"(0?[1-9]|1[0-2])[-/.](0?[1-9]|1[0-2])[-/.]\d{2,4}"'),
}
_MANY = 6


@dataclass(frozen=True, slots=True)
class Way:
    """One answer: each field or key of [supplier.sheet] with what is said of it; `words` tell it to a person."""

    said: tuple[tuple[str, str], ...]
    words: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as it is put to a person: one of `ways`, or texts to be typed for each of `typed`; `more` is a remark.

    `read_as` is the sheet as it would be read with the one answer offered, where the question is whether that is right.
    """

    words: str
    choices: tuple[str, ...]
    ways: tuple[Way, ...]
    typed: tuple[str, ...] = ()
    more: str = ""
    read_as: PriceSheet | None = None


def asked(sheet: PriceSheet, declared: Mapping[str, str], freely: Callable[[], PriceSheet]) -> Asked | None:
    """The question to put first, of those that a sheet leaves; None where it leaves none.

    Parameters
    ----------
    declared : header texts by field that suppliers.toml gives; one that the sheet lacks means that its layout changed
    freely : reads the sheet as if suppliers.toml declared no columns
    """
    if not sheet.questions:
        return None
    missing = {question.field: declared[question.field] for question in sheet.questions if _lacks(question, declared)}
    if not missing:
        return _put(sheet)
    free = freely()
    changed = "; ".join(f'{field_words(name)} stood under "{title}"' for name, title in missing.items())
    more = f"The layout has changed: no header here says what suppliers.toml declares ({changed})."
    if free.status == "read":
        read_as = {name: free.tables[0].columns.get(name, "") for name in missing}
        return Asked("Is it laid out now as shown above?", (), (_so(read_as),), (), more, free)
    question = _put(free) or _put(sheet)
    return question and replace(question, more=more)


def _lacks(question: Question, declared: Mapping[str, str]) -> bool:
    """Whether the sheet has no such header as is declared for a field."""
    title = declared.get(question.field, "")
    return bool(title) and folded(title) not in {folded(choice) for choice in question.choices}


def _so(columns: Mapping[str, str]) -> Way:
    told = ", ".join(f'{field_words(name)} under "{title}"' for name, title in columns.items())
    return Way(tuple(columns.items()), f"yes: {told}")


def _put(sheet: PriceSheet) -> Asked | None:
    order = list(ASKED)
    first = min(sheet.questions, key=lambda question: _place(question.field, order), default=None)
    if first is None:
        return None
    only = {question.field: question.choices[0] for question in sheet.questions if len(question.choices) == 1}
    if 1 < len(only) == len(sheet.questions) and not only.keys() & set(OF_SHEET):
        told = ", ".join(f'{field_words(name)} under "{title}"' for name, title in only.items())
        return Asked(f"Is it laid out so: {told}?", (), (_so(only),))
    words = " ".join([ASKED.get(first.field, f"Which column is {first.field}?"), *_example(sheet, first.field)])
    choices = () if first.field in _MARKS else first.choices
    if first.field == "header":
        return Asked(words, choices, (), ("part_number", "price"))
    name = "price" if first.field == "breaks" else first.field
    if not first.choices or len(first.choices) > _MANY:
        return Asked(words, choices, (), (name,))
    return Asked(words, choices, tuple(_ways(name, first.choices)))


def _example(sheet: PriceSheet, name: str) -> Iterator[str]:
    """What each answer would make of a cell that leaves it open."""
    for fault in sheet.faults:
        seen = _MARKS[name].fullmatch(fault.found) if name in _MARKS else None
        if seen and name == "decimal":
            whole, rest = seen[1], seen[3]
            point, comma = (
                (f"{whole}.{rest}", f"{whole}{rest}") if seen[2] == "." else (f"{whole}{rest}", f"{whole}.{rest}")
            )
            yield f"{fault.found} is {point} with a point, {comma} with a comma."
            return
        if seen:
            day, month = (calendar.month_name[int(seen[2])], calendar.month_name[int(seen[1])])
            yield f"{fault.found} is {seen[1]} {day} as dmy, {seen[2]} {month} as mdy."
            return


def _place(name: str, order: Sequence[str]) -> int:
    return order.index(name) if name in order else len(order)


def _ways(name: str, choices: Sequence[str]) -> Iterator[Way]:
    marks = {".": "the point", ",": "the comma", "dmy": "the day (dmy)", "mdy": "the month (mdy)"}
    for choice in choices:
        yield Way(((name, choice),), marks.get(choice, f'"{choice}"') if name in _MARKS else f'"{choice}"')
    if name not in NEEDED and name not in OF_SHEET:
        yield Way(((name, ""),), NONE_OF_THEM)
