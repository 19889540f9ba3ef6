"""A sheet while it is drawn: typed cells from the top down, with heights that show every wrapped line.

Text of a file or a job never becomes a formula or a link: it is written as a string, without control characters, and
marked as text so that it stays so when somebody edits the cell. Only `Formula` writes formulas, and they are ours.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell
from xlsxwriter.workbook import Workbook

FONT = "Arial"
LONGEST = 32_000  # a cell takes 32 767 characters
TALLEST = 30  # lines of one row; a row cannot be higher than 409 points
GRAIN = "0.000000001"
LINE_POINTS = 12.75
_TURNING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}  # signs that turn the reading of what follows them


@dataclass(frozen=True, slots=True)
class Cents:
    """Money of the shop, as a number in a cell."""

    cents: int


@dataclass(frozen=True, slots=True)
class Coins:
    """Money of a supplier in its currency's smallest coins, of which `digits` decimals make a unit."""

    minor: int
    digits: int


@dataclass(frozen=True, slots=True)
class Percent:
    """A share, shown in hundredths."""

    share: Decimal | Fraction


@dataclass(frozen=True, slots=True)
class Formula:
    """One of our own formulas, with the value that is stored beside it: Cents, a date or a plain number."""

    text: str
    value: Cents | Percent | Decimal | Fraction | date | int


@dataclass(frozen=True, slots=True)
class Code:
    """A text that is a code: a part number, say."""

    text: str


Cell = str | int | Decimal | date | Cents | Coins | Formula | Code | Percent | None


def clean(text: str) -> str:
    """A text fit for a cell: no control or turning signs, no halves of characters; line ends become spaces."""
    spaced = "".join(" " if sign in "\t\r\n\v\f\x85\u2028\u2029" else sign for sign in text)
    kept = (sign for sign in spaced if unicodedata.category(sign) not in ("Cc", "Cs") and ord(sign) not in _TURNING
            and ord(sign) & 0xFFFE != 0xFFFE)  # fmt: skip
    whole = "".join(kept)
    return whole if len(whole) <= LONGEST else whole[: LONGEST - 6] + " [...]"


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


def cent(term: str) -> str:
    """A formula's term rounded to the cent, halves up, in every engine.

    A product that is half a cent exactly can lie a hair below it as a binary number (3.3 x 1.15 = 3.7949999...), and not
    every spreadsheet forgives that. The grain added is ten times what amounts up to a million lose in binary, and smaller
    than any distance from a half that shares of up to six decimals leave.
    """
    return f"ROUND({term}+{GRAIN},2)"


class Styles:
    """The formats of one workbook, made when first asked for. Dark on white: it must read in grey."""

    BASE: Mapping[str, Mapping[str, Any]] = {
        "text": {"quote_prefix": True, "text_wrap": True},
        "code": {"num_format": "@", "text_wrap": True},
        "number": {"num_format": "General_)"},
        "rate": {"num_format": "0.0000_)"},
        "money": {"num_format": "#,##0.00_)"},
        "coins0": {"num_format": "#,##0_)"},
        "coins2": {"num_format": "#,##0.00_)"},
        "coins3": {"num_format": "#,##0.000_)"},
        "coins4": {"num_format": "#,##0.0000_)"},
        "percent": {"num_format": "0.0##%_)"},
        "date": {"num_format": "yyyy-mm-dd", "align": "left"},
    }
    LOOK: Mapping[str, Mapping[str, Any]] = {
        "": {},
        "title": {"bold": True, "font_size": 18},
        "part": {"bold": True, "font_size": 11, "bottom": 1},
        "head": {"bold": True, "bottom": 2, "top": 1, "valign": "bottom"},
        "head_right": {"bold": True, "bottom": 2, "top": 1, "valign": "bottom", "align": "right"},
        "label": {"bold": True},
        "right": {"align": "right"},
        "row": {"bottom": 1, "bottom_color": "#999999"},
        "sum": {"bold": True, "top": 1},
        "total": {"bold": True, "font_size": 12, "top": 2, "bottom": 6},
        "small": {"font_size": 9},
    }

    def __init__(self, book: Workbook) -> None:
        self._book = book
        self._made: dict[tuple[str, str], Format] = {}

    def of(self, kind: str, look: str = "") -> Format:
        if (kind, look) not in self._made:
            wanted = {"font_name": FONT, "font_size": 10, "valign": "top", **self.BASE[kind], **self.LOOK[look]}
            self._made[kind, look] = self._book.add_format(wanted)
        return self._made[kind, look]


class Page:
    """One sheet, filled from the top; `row` is the next free one.

    Parameters
    ----------
    book, styles : the workbook and its formats
    name : of the sheet
    widths : of the columns, in signs
    """

    def __init__(self, book: Workbook, styles: Styles, name: str, widths: Sequence[float]) -> None:
        self.sheet = book.add_worksheet(name)
        self.name, self.styles, self.widths = name, styles, widths
        self.row = 0
        self.sheet.hide_gridlines(2)
        for column, width in enumerate(widths):
            self.sheet.set_column(column, column, width)

    def put(self, column: int, cell: Cell, look: str = "") -> None:
        """Write one typed cell of the current row."""
        row, of = self.row, self.styles.of
        match cell:
            case None:
                self.sheet.write_blank(row, column, None, of("text", look))
            case str():
                self.sheet.write_string(row, column, clean(cell), of("text", look))
            case Code(text):
                self.sheet.write_string(row, column, clean(text), of("code", look))
            case Formula(text, value):
                self.sheet.write_formula(row, column, "=" + text, of(_kind(value), look), _stored(value))
            case Cents() | Coins() | Percent() | Decimal() | int():
                self.sheet.write_number(row, column, _stored(cell), of(_kind(cell), look))
            case date():
                self.sheet.write_datetime(row, column, datetime.combine(cell, time()), of("date", look))

    def line(self, cells: Sequence[Cell], look: str = "", first: int = 0, tallest: int = 1) -> int:
        """Write a row of cells, high enough for its texts; the row's number (counted from 0)."""
        filled = [*cells, *[None] * (len(self.widths) - first - len(cells))]
        for column, cell in enumerate(filled if look else cells, first):
            if isinstance(cell, str):
                cell = shortened(clean(cell), self.widths[column])
                tallest = max(tallest, lines_of(cell, self.widths[column]))
            self.put(column, cell, look)
        self._high(tallest, look)
        return self.row - 1

    def paragraph(self, text: str, look: str = "small") -> None:
        """A text over the whole width, broken into further rows where one row could not show it."""
        width = sum(self.widths) * (1.1 if look == "small" else 1)
        for piece in _pieces(clean(text), width):
            last = len(self.widths) - 1
            self.sheet.merge_range(self.row, 0, self.row, last, "", self.styles.of("text", look))
            self.sheet.write_string(self.row, 0, piece, self.styles.of("text", look))
            self._high(lines_of(piece, width), look)

    def labelled(self, first: int, last: int, label: str, cells: Sequence[Cell], look: str = "row") -> int:
        """A row that begins with a text over the columns `first` to `last`, then cells; the row's number."""
        width = sum(self.widths[first : last + 1])
        for column in range(first):
            self.put(column, None, look)
        self.wide(first, last, shortened(clean(label), width), look)
        return self.line(cells, look, last + 1, lines_of(clean(label), width))

    def wide(self, first: int, last: int, text: str, look: str = "") -> None:
        """A text over some columns of the current row."""
        self.sheet.merge_range(self.row, first, self.row, last, "", self.styles.of("text", look))
        self.sheet.write_string(self.row, first, clean(text), self.styles.of("text", look))

    def heading(self, text: str) -> None:
        """The sheet's own heading, over its whole width."""
        self.paragraph(text[:120], "title")

    def part(self, title: str) -> None:
        """A heading that opens a part of the sheet."""
        self.row += 1
        self.paragraph(title, "part")

    def headings(self, names: Iterable[str], right: Iterable[int] = ()) -> int:
        """The headings of a table; `right` are the columns of numbers. The row's number."""
        ends, listed = set(right), list(names)
        listed += [""] * (len(self.widths) - len(listed))
        for column, name in enumerate(listed):
            self.put(column, f"{name}  " if column in ends else name, "head_right" if column in ends else "head")
        self._high(max(lines_of(name, self.widths[column]) for column, name in enumerate(listed)), "head")
        return self.row - 1

    def _high(self, lines: int, look: str) -> None:
        size = self.styles.LOOK[look].get("font_size", 10)
        self.sheet.set_row(self.row, min(lines, TALLEST) * LINE_POINTS * max(size, 9.5) / 10 + 2)
        self.row += 1

    def cell(self, row: int, column: int) -> str:
        """A cell's address for formulas of this sheet."""
        return str(xl_rowcol_to_cell(row, column))

    def far(self, row: int, column: int) -> str:
        """A cell's address for formulas of another sheet."""
        return f"'{self.name}'!{xl_rowcol_to_cell(row, column, True, True)}"

    def span(self, column: int, first: int, last: int, far: bool = False) -> str:
        """A piece of a column, for a formula; rows counted from 0, `last` included."""
        name = xl_col_to_name(column)
        return f"'{self.name}'!${name}${first + 1}:${name}${last + 1}" if far else f"{name}{first + 1}:{name}{last + 1}"

    def sum(self, column: int, first: int, last: int, far: bool = False) -> str:
        """The sum of a piece of a column as a term; 0 where the piece is empty."""
        return f"SUM({self.span(column, first, last, far)})" if last >= first else "0"


def print_wide(page: Page, name: str, letter: bool) -> None:
    """Set a sheet of the shop's up for printing: landscape, one page wide, as many long as it takes, its title repeated."""
    sheet = page.sheet
    sheet.set_landscape()
    sheet.set_paper(1 if letter else 9)
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    sheet.repeat_rows(0)
    sheet.print_area(0, 0, page.row - 1, len(page.widths) - 1)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer(f"&L{footer(name)}&R&P / &N")


def _kind(value: object) -> str:
    if isinstance(value, Coins):
        return f"coins{value.digits}"
    return {Cents: "money", Percent: "percent", Fraction: "rate"}.get(type(value), "date" if isinstance(value, date) else "number")


def _stored(value: Cents | Coins | Percent | Decimal | Fraction | date | int) -> float:
    """The number that a cell holds: amounts in units of money, dates as days since the spreadsheet's day 0."""
    if isinstance(value, Cents):
        return value.cents / 100
    if isinstance(value, Coins):
        return float(value.minor / 10**value.digits)
    if isinstance(value, Percent):
        return float(value.share)
    if isinstance(value, date):
        return (value - date(1899, 12, 30)).days
    return float(value)


def _pieces(text: str, width: float) -> list[str]:
    pieces, piece = [], ""
    words = (word[start : start + 400] for word in text.split(" ") for start in range(0, len(word) or 1, 400))
    for word in words:
        if piece and lines_of(f"{piece} {word}", width) > TALLEST:
            pieces.append(piece)
            piece = word
        else:
            piece = f"{piece} {word}" if piece else word
    return [*pieces, piece]
