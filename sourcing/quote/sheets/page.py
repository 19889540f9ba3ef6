"""A sheet while it is drawn: typed cells from the top down, with heights that show every wrapped line.

Text of a file or a job never becomes a formula or a link: it is written as a string, without control characters, and
marked as text so that it stays so when somebody edits the cell. Only `Formula` writes formulas, and they are ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell
from xlsxwriter.workbook import Workbook

from sourcing.quote.sheets.cells import Cell, Cents, Code, Coins, Entry, Formula, Percent, Value, kind_of, stored_as
from sourcing.quote.sheets.texts import TALLEST, clean, footer, lines_of, pieces_of, shortened

FONT = "Arial"
LINE_POINTS = 12.75
ROW_POINTS = 15.0  # a row whose height nobody set


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
        "name": {"bold": True, "font_size": 14},
        "rule": {"top": 2},
        "part": {"bold": True, "font_size": 11, "bottom": 1},
        "head": {"bold": True, "bottom": 2, "top": 1, "valign": "bottom"},
        "head_right": {"bold": True, "bottom": 2, "top": 1, "valign": "bottom", "align": "right"},
        "label": {"bold": True},
        "right": {"align": "right"},
        "row": {"bottom": 1, "bottom_color": "#999999"},
        "sum": {"bold": True, "top": 1},
        "total": {"bold": True, "font_size": 12, "top": 2, "bottom": 6},
        "small": {"font_size": 9},
        "signed": {"font_size": 9, "top": 1},
        "big": {"font_size": 12},
    }
    # Dotted and framed: what may be changed can be told in grey, and where a program draws no dots.
    ENTRY: Mapping[str, Any] = {
        "locked": False, "pattern": 18, "fg_color": "#808080", "bg_color": "#FFFFFF", "border": 4, "border_color": "#000000",
    }  # fmt: skip

    def __init__(self, book: Workbook) -> None:
        self._book = book
        self._made: dict[tuple[str, str, bool], Format] = {}

    def of(self, kind: str, look: str = "", entry: bool = False) -> Format:
        if (kind, look, entry) not in self._made:
            wanted = {"font_name": FONT, "font_size": 10, "valign": "top", **self.BASE[kind], **self.LOOK[look]}
            self._made[kind, look, entry] = self._book.add_format({**wanted, **self.ENTRY} if entry else wanted)
        return self._made[kind, look, entry]


class Page:
    """One sheet, filled from the top; `row` is the next free one.

    Parameters
    ----------
    book, styles : the workbook and its formats
    name : of the sheet
    widths : of the columns, in signs
    """

    def __init__(self, book: Workbook, styles: Styles, name: str, widths: Sequence[float]) -> None:
        self.book, self.sheet = book, book.add_worksheet(name)
        self.name, self.styles, self.widths = name, styles, widths
        self.row = 0
        self.points = 0.0  # height of what was drawn
        self.sheet.hide_gridlines(2)
        for column, width in enumerate(widths):
            self.sheet.set_column(column, column, width)

    def put(self, column: int, cell: Cell, look: str = "") -> None:
        """Write one typed cell of the current row."""
        if isinstance(cell, Entry):
            self._write(column, cell.value, look, entry=True)
            self._validate(column, cell)
        else:
            self._write(column, cell, look)

    def _write(self, column: int, cell: Value, look: str, entry: bool = False) -> None:
        row = self.row

        def of(kind: str) -> Format:
            return self.styles.of(kind, look, entry)

        match cell:
            case None:
                self.sheet.write_blank(row, column, None, of("text"))
            case str():
                self.sheet.write_string(row, column, clean(cell), of("text"))
            case Code(text):
                self.sheet.write_string(row, column, clean(text), of("code"))
            case Formula(text, value):
                self.sheet.write_formula(row, column, "=" + text, of(kind_of(value)), stored_as(value))
            case Cents() | Coins() | Percent() | Decimal() | int():
                self.sheet.write_number(row, column, stored_as(cell), of(kind_of(cell)))
            case date():
                self.sheet.write_datetime(row, column, datetime.combine(cell, time()), of("date"))

    def _validate(self, column: int, entry: Entry) -> None:
        """Let a cell take numbers from 0 on, and show its note where it is chosen."""
        ends = {"criteria": ">=", "value": 0} if entry.most is None else {
            "criteria": "between", "minimum": 0, "maximum": entry.most}  # fmt: skip
        self.sheet.data_validation(self.row, column, self.row, column, {
            "validate": "integer" if entry.whole else "decimal", **ends, "ignore_blank": False,
            "input_title": "May be changed", "input_message": entry.note[:255],
            "error_title": "Not possible here", "error_message": entry.note[:255],
        })  # fmt: skip

    def protect(self, filters: bool = False) -> None:
        """Lock all but the entries, without a password: it guards against slips, not against people.

        `filters` leaves the filters of a long list in use.
        """
        self.sheet.protect(
            "", {"format_columns": True, "format_rows": True, **({"autofilter": True} if filters else {})}
        )

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
        for piece in pieces_of(clean(text), width):
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
        self.skip(1)
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
        high = min(lines, TALLEST) * LINE_POINTS * max(size, 9.5) / 10 + 2
        self.sheet.set_row(self.row, high)
        self.points += high
        self.row += 1

    def skip(self, rows: int) -> None:
        """Leave rows of the usual height empty: a chart lies over them."""
        self.points += rows * ROW_POINTS
        self.row += rows

    def rule(self) -> None:
        """A line over the whole width, and a little room."""
        for column in range(len(self.widths)):
            self.put(column, None, "rule")
        self.sheet.set_row(self.row, 6)
        self.points += 6
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


def print_once(page: Page, name: str, letter: bool, head: int, landscape: bool = False) -> None:
    """Set a sheet up to be handed out: one page on letter and on A4, its headings repeated should it be split."""
    sheet = page.sheet
    if landscape:
        sheet.set_landscape()
    else:
        sheet.set_portrait()
    sheet.set_paper(1 if letter else 9)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
    sheet.center_horizontally()
    sheet.repeat_rows(head)
    sheet.print_area(0, 0, page.row - 1, len(page.widths) - 1)
    sheet.fit_to_pages(1, 1)
    sheet.set_footer(f"&L{footer(name)}&R&P / &N")


def print_wide(page: Page, name: str, letter: bool, head: int = 0) -> None:
    """Set a sheet of the shop's up for printing: landscape, one page wide, as many long as it takes, its title repeated."""
    sheet = page.sheet
    sheet.set_landscape()
    sheet.set_paper(1 if letter else 9)
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    sheet.repeat_rows(head)
    sheet.print_area(0, 0, page.row - 1, len(page.widths) - 1)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer(f"&L{footer(name)}&R&P / &N")
