"""From cells to prices: each row a priced row, a fault, or recognisably none of our business."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any, Literal

from sourcing.faults import (
    Fault,
    MissingFile,
    RefusedSheet,
    TwoPrices,
    UnclearColumn,
    UnreadCell,
    UnreadPrice,
    UnreadRow,
    shown,
)
from sourcing.partnumber import PartNumber, canonical
from sourcing.prices.cache import Cache, sheet_key
from sourcing.prices.grid import Cell, CellError, Grid, text_grid, workbook_grids
from sourcing.prices.layout import Header, Layout, currency_named, find_header, folded, header_at, meaning
from sourcing.prices.preflight import Unsafe, kind_of

MOST_PRICE = Decimal(99_999_999)
MOST_COUNT = 1_000_000_000
_NOWHERE = 1_000_000  # the column of a field that a table lacks


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """A price of one piece from a quantity on."""

    quantity: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class PriceRow:
    """A number's price as a sheet states it; None where the sheet says nothing.

    `price` is that of a single piece, None only where the breaks start above 1; `breaks` ascend by quantity, without the
    base. `row` is the one that the spreadsheet shows.
    """

    part_number: PartNumber
    description: str
    price: Decimal | None
    breaks: tuple[PriceBreak, ...]
    currency: str
    core_charge: Decimal | None
    stock: int | None
    pack: int | None
    minimum: int | None
    lead_days: int | None
    valid_until: date | None
    sheet: str
    row: int


@dataclass(frozen=True, slots=True)
class Table:
    """A table of prices in a sheet: its header, its columns by field, and its priced rows, repeated numbers included."""

    sheet: str
    header_row: int
    columns: dict[str, str]
    rows: int
    price_sum: Decimal
    currency: str


@dataclass(frozen=True, slots=True)
class Question:
    """What a person must say before a sheet can be read: which column, or which decimal mark, is meant."""

    field: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PriceSheet:
    """A file as it was read. `barred`: canonical part numbers that stand in it without a usable price, and why."""

    file: str
    status: Literal["read", "unsure", "refused"]
    tables: tuple[Table, ...] = ()
    rows: tuple[PriceRow, ...] = ()
    faults: tuple[Fault, ...] = ()
    questions: tuple[Question, ...] = ()
    barred: dict[str, Fault] = field(default_factory=dict)


# ---- files ------------------------------------------------------------------------------------------------------------


def read_sheet(path: Path, layout: Layout | None = None, cache: Cache | None = None) -> PriceSheet:
    """Read one price sheet; what is wrong with it is told in its faults, never raised."""
    return read_sheets([(path, layout or Layout())], cache)[0]


def read_sheets(asked: Sequence[tuple[Path, Layout]], cache: Cache | None = None) -> list[PriceSheet]:
    """Read price sheets, each once: from the cache, or parsed; all workbooks among them in one child process."""
    results: list[PriceSheet | None] = []
    books: list[tuple[int, bytes]] = []
    for place, (path, layout) in enumerate(asked):
        try:
            content = path.read_bytes()
            results.append(_kept(content, layout, cache))
            if results[-1] is None and kind_of(content) != "text":
                books.append((place, content))
            elif results[-1] is None:
                results[-1] = _keep(understood([text_grid(content, layout.encoding, layout.separator)], layout),
                                    content, layout, cache)  # fmt: skip
        except FileNotFoundError:
            results.append(PriceSheet("", "refused", faults=(MissingFile(),)))
        except OSError as error:
            results.append(_refused(Unsafe(error.strerror or "an unreadable file", "Check the file's permissions.")))
        except Unsafe as error:
            results[place:] = [_refused(error)]
    for (place, content), grids in zip(books, workbook_grids([content for _, content in books]), strict=True):
        layout = asked[place][1]
        results[place] = (_refused(grids) if isinstance(grids, Unsafe)
                          else _keep(understood(grids, layout), content, layout, cache))  # fmt: skip
    return [_named(sheet, shown(path)) for sheet, (path, _) in zip(results, asked, strict=True) if sheet is not None]


def _refused(error: Unsafe) -> PriceSheet:
    return PriceSheet("", "refused", faults=(RefusedSheet(found=error.found, remedy=error.remedy),))


def _named(sheet: PriceSheet, file: str) -> PriceSheet:
    """A sheet and its faults under the name by which the file was asked for: what is kept knows only the content."""
    named = {id(fault): replace(fault, file=file) for fault in (*sheet.faults, *sheet.barred.values())}
    barred = {number: named[id(fault)] for number, fault in sheet.barred.items()}
    return replace(sheet, file=file, faults=tuple(named[id(fault)] for fault in sheet.faults), barred=barred)


# ---- the cache's form ---------------------------------------------------------------------------------------------------


def _keep(sheet: PriceSheet, content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet:
    if cache is not None and sheet.status != "refused":
        cache.put(sheet_key(content, layout), packed(sheet))
    return sheet


def _kept(content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet | None:
    parsed = cache.get(sheet_key(content, layout)) if cache is not None else None
    if parsed is None:
        return None
    try:
        return unpacked(parsed)
    except (ValueError, TypeError, KeyError, IndexError, ArithmeticError, AttributeError):
        return None  # damaged: parsed again


def packed(sheet: PriceSheet) -> str:
    """A sheet as JSON: plain values only."""
    listed = [*sheet.faults]
    places = {id(fault): place for place, fault in enumerate(listed)}
    for fault in sheet.barred.values():
        if id(fault) not in places:
            places[id(fault)] = len(listed)
            listed.append(fault)
    return json.dumps({
        "status": sheet.status,
        "tables": [[t.sheet, t.header_row, t.columns, t.rows, str(t.price_sum), t.currency] for t in sheet.tables],
        "rows": [_packed_row(row) for row in sheet.rows],
        "faults": [[f.code, f.sheet, f.row, f.place, f.found, f.expected, f.remedy] for f in listed],
        "fault_count": len(sheet.faults),
        "questions": [[question.field, question.choices] for question in sheet.questions],
        "barred": {number: places[id(fault)] for number, fault in sheet.barred.items()},
    })  # fmt: skip


def _packed_row(row: PriceRow) -> list[Any]:
    return [
        row.part_number.spelt, row.description, None if row.price is None else str(row.price),
        [[step.quantity, str(step.price)] for step in row.breaks], row.currency,
        None if row.core_charge is None else str(row.core_charge), row.stock, row.pack, row.minimum, row.lead_days,
        row.valid_until and row.valid_until.isoformat(), row.sheet, row.row,
    ]  # fmt: skip


def unpacked(parsed: str) -> PriceSheet:
    """The sheet that `packed` wrote. Raises ValueError, TypeError, KeyError or IndexError on anything else."""
    said = json.loads(parsed)
    kinds = {kind.code: kind for kind in Fault.__subclasses__()}
    listed = [
        kinds[code](sheet=sheet, row=row, place=place, found=found, expected=expected, remedy=remedy)
        for code, sheet, row, place, found, expected, remedy in said["faults"]
    ]
    tables = [Table(s, h, columns, rows, Decimal(total), c) for s, h, columns, rows, total, c in said["tables"]]
    return PriceSheet(
        "",
        said["status"],
        tuple(tables),
        tuple(_unpacked_row(*row) for row in said["rows"]),
        tuple(listed[: said["fault_count"]]),
        tuple(Question(name, tuple(choices)) for name, choices in said["questions"]),
        {number: listed[place] for number, place in said["barred"].items()},
    )


def _unpacked_row(number: str, says: str, price: str | None, breaks: list[Any], currency: str, core: str | None,
                  stock: int | None, pack: int | None, minimum: int | None, lead: int | None, until: str | None,
                  sheet: str, row: int) -> PriceRow:  # fmt: skip
    return PriceRow(
        PartNumber(number), says, None if price is None else Decimal(price),
        tuple(PriceBreak(quantity, Decimal(step)) for quantity, step in breaks), currency,
        None if core is None else Decimal(core), stock, pack, minimum, lead,
        date.fromisoformat(until) if until else None, sheet, row,
    )  # fmt: skip


# ---- cells ------------------------------------------------------------------------------------------------------------

_SPACES = " \u00a0\u202f\u2009'’`´"
_MONEY_WORDS = (
    r"(?:US\$|CA?\$|AU?\$|NZ\$|R\$|Mex\$|[€£$¥₺₽₴]|zł|Kč|Ft|kr\.?|Fr\.|TL|лв|грн\.?|руб\.?|euros?|"
    r"USD|EUR|GBP|CAD|AUD|NZD|MXN|BRL|JPY|CNY|CHF|SEK|NOK|DKK|PLN|CZK|HUF|TRY|RUB|UAH|INR|ZAR|RON|KRW|ARS|CLP|COP|"
    r"PEN|ILS|AED|SGD|HKD|THB|HT)"
)
_AMOUNT = re.compile(
    rf"(?:{_MONEY_WORDS}\s*)?"
    rf"(?P<body>\d{{1,3}}(?P<space>[{_SPACES}])\d{{3}}(?:(?P=space)\d{{3}})*(?:[.,]\d+)?|\d+(?:[.,]\d+)?|[.,]\d+|"
    r"\d{1,3}(?:\.\d{3})+(?:,\d+)?|\d{1,3}(?:,\d{3})+(?:\.\d+)?)"
    rf"(?:[.,][-–—])?\s*(?:{_MONEY_WORDS})?\s*(?:(?:/|per\b|pro\b)?\s*(?:ea|each|pcs?|piece|stk|st|stück|szt|шт)\.?)?",
    re.IGNORECASE,
)
_PLAIN_AMOUNT = re.compile(r"\d+(?:([.,])\d\d?)?")  # most cells: no sign, no groups, and the mark beyond doubt
_NOTHING = re.compile(r"[-–—−]+|n/?a\.?|none|nil|no core", re.IGNORECASE)


class Unread(str):
    """Why a cell is no value of its column's kind: what was expected."""

    __slots__ = ()


_PRICE, _AMOUNT_FROM_ZERO = Unread("a price above 0"), Unread("an amount of 0 or more")


def mark_needed(body: str) -> str:
    """The decimal mark that an amount's digits prove: '.' or ',', '' where any would do, '?' where it stays open.

    >>> [mark_needed(b) for b in ("12.50", "1.234,5", "1,234", "1,234,567", "0,125", "1234,567", "15")]
    ['.', ',', '?', '.', ',', ',', '']
    """
    marks = [mark for mark in body if mark in ".,"]
    if not marks:
        return ""
    last = marks[-1]
    other = "," if last == "." else "."
    before, _, after = body.rpartition(last)
    if len(set(marks)) == 2 or any(space in before for space in _SPACES):
        return last
    if len(marks) > 1:
        return other
    return "?" if len(after) == 3 and 1 <= len(before) <= 3 and not before.startswith("0") else last


def _need(text: str) -> str:
    plain = _PLAIN_AMOUNT.fullmatch(text)
    if plain:
        return plain[1] or ""
    found = _AMOUNT.fullmatch(text.strip())
    return mark_needed(found["body"]) if found else ""


def decided_mark(cells: Sequence[Cell], declared: str | None = None) -> str:
    """The decimal mark of a column: '.' or ',', '' where none is needed, '?' where it stays open, '!' where cells differ."""
    if declared:
        return declared
    needs = {_need(text) for text in {cell for cell in cells if type(cell) is str}}
    proven = needs & {".", ","}
    if len(proven) == 2:
        return "!"
    return proven.pop() if proven else "?" if "?" in needs else ""


def number_of(cell: float | int) -> Decimal:
    """A spreadsheet's number as it was typed: the shortest decimal, without the noise of binary fractions.

    >>> number_of(12.1), number_of(10000.0), number_of(0.1 + 0.2)
    (Decimal('12.1'), Decimal('10000'), Decimal('0.3'))
    """
    if cell == int(cell):
        return Decimal(int(cell))
    typed = repr(cell)
    exact = Decimal(typed)
    if "e" not in typed and len(typed) - typed.index(".") <= 7:
        return exact
    exponent = exact.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -6:
        exact = round(exact, 6).normalize()
    return exact


def amount_of(cell: Cell, mark: str, zero: bool = False) -> Decimal | Unread | None:
    """A cell as an amount of money; None for a blank or a dash."""
    expected = _AMOUNT_FROM_ZERO if zero else _PRICE
    if type(cell) is str:
        if _PLAIN_AMOUNT.fullmatch(cell):
            value = Decimal(cell.replace(",", "."))
        else:
            said = _written_amount(cell.strip(), mark)
            if not isinstance(said, Decimal):
                return expected if said == "" else said
            value = said
    elif isinstance(cell, (int, float)) and abs(cell) < 1e15:
        value = number_of(cell)
    else:
        return expected
    return value if (value > 0 or (zero and value == 0)) and value <= MOST_PRICE else expected


def _written_amount(text: str, mark: str) -> Decimal | Unread | None:
    """A text's amount; None for nothing, an empty Unread for what is no amount."""
    if not text or _NOTHING.fullmatch(text):
        return None
    found = _AMOUNT.fullmatch(text)
    if not found:
        return Unread("")
    body = found["body"]
    need = mark_needed(body)
    if need == "?" and mark not in (".", ","):
        return Unread("an amount whose decimal mark is certain")
    decimal = mark if need == "?" else need
    return Decimal("".join("." if c == decimal else c for c in body if c.isdigit() or c == decimal))


_COUNT = re.compile(
    r"[>≥]?\s*(\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+|\d+)(?:[.,]0+)?\s*\+?\s*"
    r"(?:pcs?|pieces?|units?|ea|each|stk|st|stück|szt|шт|adet|/\s?(?:box|pack|pk|ctn))?\.?",
    re.IGNORECASE,
)
_PACKED_IN = re.compile(
    r"(?:box|pack|pk|bag|carton|case|set|beutel|karton|packung)\s*(?:of|à|a|/|zu|x)?\s*(\d+)", re.IGNORECASE
)
_COUNT_WORDS = {"each": 1, "ea": 1, "single": 1, "stück": 1, "stk": 1, "pc": 1, "pair": 2, "pr": 2, "paar": 2, "dozen": 12}
_NO_STOCK = ("no", "out", "out of stock", "sold out", "none", "nein", "ausverkauft", "agotado", "rupture", "esaurito", "nil")


def count_of(cell: Cell, mark: str, least: int = 0, words: dict[str, int] | None = None) -> int | Unread | None:
    """A cell as a whole number of pieces; None for a blank."""
    expected = Unread(f"a whole number from {least}")
    if isinstance(cell, (int, float)):
        return int(cell) if least <= cell <= MOST_COUNT and cell == int(cell) else expected
    if type(cell) is not str:
        return expected
    text = cell.strip()
    if not text:
        return None
    known = (words or {}).get(text.casefold().rstrip("."))
    if known is not None:
        return known
    grouped = re.fullmatch(r"\d{1,3}(?:[.,]\d{3})+", text)
    if grouped:
        if mark not in (".", ",") or mark in text:
            return expected
        text = re.sub(r"[.,]", "", text)
    found = _COUNT.fullmatch(text) or _PACKED_IN.fullmatch(text)
    value = int(re.sub(r"\D", "", found[1])) if found and len(found[1]) < 13 else -1
    return value if least <= value <= MOST_COUNT else expected


def days_of(cell: Cell, in_weeks: bool) -> int | Unread | None:
    """A cell as working days: of a range the longer, a week is five."""
    expected = Unread("a number of working days")
    if isinstance(cell, (int, float)):
        days = int(cell) if 0 <= cell <= 1000 and cell == int(cell) else -1
    elif type(cell) is str:
        text = cell.strip().casefold()
        if not text or re.fullmatch("[-–—]+", text):
            return None
        found = re.fullmatch(r"(?:\d{1,3}\s*(?:-|–|to|bis|a)\s*)?(\d{1,3})(?:\.0)?\s*([^\W\d]*)\.?", text)
        unit = found[2] if found else "?"
        weekly = re.match(r"w|semai|seman|settiman|нед|тиж|hafta|tyg", unit) is not None
        if not found or not (weekly or unit == "" or re.match(r"d|t|j|g|дн|раб", unit)):
            return expected
        days = int(found[1]) * (5 if weekly and not in_weeks else 1)
    else:
        return expected
    return (days * 5 if in_weeks else days) if 0 <= days <= 1000 else expected


def date_order(cells: Sequence[Cell], declared: str | None = None) -> str:
    """How a column writes its dates: dmy, mdy or ymd; '?' where it stays open."""
    if declared:
        return declared
    firsts, seconds, open_ones = set(), set(), False
    for cell in cells:
        found = re.fullmatch(r"\s*(\d{1,2})([./-])(\d{1,2})[./-](\d{4}|\d{2})\s*", cell) if type(cell) is str else None
        if found:
            firsts.add(int(found[1]))
            seconds.add(int(found[3]))
            open_ones = open_ones or (found[2] != "." and found[1] != found[3])
    if any(number > 12 for number in seconds):
        return "mdy"
    return "dmy" if any(number > 12 for number in firsts) or not open_ones else "?"


def day_of(cell: Cell, order: str) -> date | Unread | None:
    """A cell as a date."""
    expected = Unread("a date")
    if isinstance(cell, date):
        return cell
    if type(cell) is not str:
        return expected
    text = cell.strip()
    if not text or re.fullmatch("[-–—]+", text):
        return None
    found = re.fullmatch(r"(\d{4})[./-](\d{1,2})[./-](\d{1,2})(?:[ T]00:00(?::00)?)?", text)
    if found:
        parts = [int(part) for part in found.groups()]
    else:
        found = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})", text)
        if not found or order not in ("dmy", "mdy"):
            return expected
        a, b, year = (int(part) for part in found.groups())
        parts = [year + 2000 if year < 100 else year, *((b, a) if order == "dmy" else (a, b))]
    try:
        return date(*parts)
    except ValueError:
        return expected


def spelt_of(cell: Cell) -> str | Unread:
    """A cell as a part number: text as it stands, a number without a decimal point."""
    if isinstance(cell, CellError):
        return Unread("a part number")
    if isinstance(cell, str):
        text = re.sub(r'^="?([^"]*)"?$|^\'', r"\1", " ".join(cell.split())) if cell[:1] in "='" else cell.strip()
        if "+" in text and re.fullmatch(r"\d(?:[.,]\d+)?E\+\d+", text):
            return Unread("a part number; a spreadsheet has shortened this one beyond recovery")
        return text
    if isinstance(cell, date):
        return Unread("a part number; a spreadsheet has turned this one into a date beyond recovery")
    if not abs(cell) < 1e15:
        return Unread("a part number; a spreadsheet has rounded this one beyond recovery")
    return f"{number_of(cell):f}"


# ---- tables -----------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Found:
    """What reading has gathered so far."""

    tables: list[Table] = field(default_factory=list)
    entries: dict[str, list[tuple[int | None, PriceRow]]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    barred: dict[str, Fault] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)

    def note(self, fault: Fault, number: str = "") -> None:
        self.faults.append(fault)
        if number:
            self.barred.setdefault(canonical(number), fault)

    def ask(self, sheet: str, row: int, name: str, choices: tuple[str, ...]) -> None:
        self.questions.append(Question(name, choices))
        self.faults.append(UnclearColumn(sheet=sheet, row=row, place=name, found=", ".join(choices) or "no such column"))


def understood(grids: Sequence[Grid], layout: Layout) -> PriceSheet:
    """What a file's sheets say, read in a layout."""
    found = _Found()
    wanted = [grid for grid in grids if layout.sheet is None or grid.sheet == layout.sheet or grid.text]
    doubtful: list[tuple[Grid, Header]] = []
    for grid in wanted:
        header = find_header(grid, layout)
        if header is not None and header.whole:
            _read_tables(grid, header, layout, found)
        elif header is not None:
            doubtful.append((grid, header))
    for grid, header in doubtful:
        several_prices = "part_number" in header.columns and bool(header.unclear.get("price"))
        if not found.tables or (several_prices and not layout.columns):
            for name, choices in header.unclear.items():
                found.ask(grid.sheet, header.row, name, choices)
    if layout.sheet is not None and not wanted:
        found.ask("", 0, "sheet", tuple(grid.sheet for grid in grids))
    if found.questions:
        return PriceSheet("", "unsure", tuple(found.tables), faults=tuple(found.faults),
                          questions=tuple(dict.fromkeys(found.questions)))  # fmt: skip
    if not found.tables:
        return _refused(Unsafe("no row of headers with a part number and a price",
                               "Say the header row and columns in suppliers.toml, or ask for a price list."))  # fmt: skip
    rows = tuple(_settled(found))
    return PriceSheet("", "read", tuple(found.tables), rows, tuple(found.faults), (), found.barred)


def _read_tables(grid: Grid, header: Header | None, layout: Layout, found: _Found) -> None:
    """Read a table, and those that begin with a header of their own further down."""
    while header is not None:
        table = _TableReader(grid, header, layout, found)
        header = table.read()


class _TableReader:
    """The rows under one header."""

    def __init__(self, grid: Grid, header: Header, layout: Layout, found: _Found) -> None:
        self.grid, self.header, self.layout, self.found = grid, header, layout, found
        self.below = [cells for _, cells in grid.rows[header.at + 1 :]]
        self.marks = self._marks()
        self.order = self._date_order()
        self.currency = self._header_currency()
        self.parsers = self._parsers()
        self.shapes: set[str] = set()
        self.last_number = ""
        self.priced: list[PriceRow] = []

    # -- what the columns are like --

    def _column(self, column: int) -> list[Cell]:
        return [cells[column] for cells in self.below if column < len(cells)]

    def _marks(self) -> dict[int, str]:
        """The decimal mark of each column of money; what one leaves open the others may decide, if they agree."""
        money = [self.header.columns[name] for name in ("price", "core_charge") if name in self.header.columns]
        money += self.header.breaks.values()
        marks = {column: decided_mark(self._column(column), self.layout.decimal) for column in money}
        proven = set(marks.values()) & {".", ",", "!"}
        agreed = proven.pop() if len(proven) == 1 else ""
        for column, mark in marks.items():
            if mark == "?" and agreed in (".", ","):
                marks[column] = agreed
            elif mark == "?":
                self.found.ask(self.grid.sheet, self.header.row, "decimal", (".", ","))
        self.agreed = agreed
        return marks

    def _date_order(self) -> str:
        column = self.header.columns.get("valid_until")
        order = date_order(self._column(column), self.layout.date_order) if column is not None else ""
        if order == "?":
            self.found.ask(self.grid.sheet, self.header.row, "date_order", ("dmy", "mdy"))
        return order

    def _header_currency(self) -> str:
        column = self.header.columns.get("price", next(iter(self.header.breaks.values()), 0))
        return currency_named(self.header.title(column), self.layout.currency)

    def _parsers(self) -> list[tuple[str, int, Callable[[Cell], Any], dict[Cell, Any]]]:
        """For each used column but number, description and price: how its cells are read, with what was read before."""
        lead = folded(self.header.title(self.header.columns.get("lead_days", _NOWHERE)))
        weeks = re.search(r"\b(weeks?|wochen|semaines|semanas|settimane|weken|недел|тижн)", lead) is not None
        columns = self.header.columns
        kinds: dict[str, Callable[[Cell], Any]] = {
            "core_charge": partial(amount_of, mark=self.marks.get(columns.get("core_charge", -1), ""), zero=True),
            "stock": partial(count_of, mark=self.agreed, words=dict.fromkeys(_NO_STOCK, 0)),
            "pack": partial(count_of, mark=self.agreed, least=1, words=_COUNT_WORDS),
            "minimum": partial(count_of, mark=self.agreed, least=1, words=_COUNT_WORDS),
            "lead_days": partial(days_of, in_weeks=weeks),
            "valid_until": partial(day_of, order=self.order),
            "quantity": partial(count_of, mark=self.agreed, least=1),
        }
        listed: list[tuple[str, int, Callable[[Cell], Any], dict[Cell, Any]]] = [
            (name, columns[name], kind, {}) for name, kind in kinds.items() if name in columns
        ]
        for quantity, column in self.header.breaks.items():
            listed.append((str(quantity), column, partial(amount_of, mark=self.marks[column]), {}))
        return listed

    # -- rows --

    def read(self) -> Header | None:
        """Read every row; returns the header of another table, where one begins below."""
        rows = self.grid.rows
        self.shapes = self._number_shapes()
        following = None
        for at in range(self.header.at + 1, len(rows)):
            number, cells = rows[at]
            if not self._read_row(number, cells):
                following = self._other_header(at, cells)
                if following is not None:
                    break
        used = {name: self.header.title(column) for name, column in self.header.columns.items()}
        used |= {f"{quantity}+": self.header.title(column) for quantity, column in self.header.breaks.items()}
        currencies = {row.currency for row in self.priced}
        total = sum((_counted_price(row) for row in self.priced), Decimal(0))
        self.found.tables.append(Table(self.grid.sheet, self.header.row, used, len(self.priced), total,
                                       currencies.pop() if len(currencies) == 1 else ""))  # fmt: skip
        return following

    def _cell(self, cells: Sequence[Cell], name: str) -> Cell:
        column = self.header.columns.get(name, _NOWHERE)
        return cells[column] if column < len(cells) else ""

    def _read_row(self, number: int, cells: list[Cell]) -> bool:
        """Whether a row could be told: priced, at fault, or none of our business."""
        spelt = spelt_of(self._cell(cells, "part_number"))
        if not spelt and "quantity" in self.header.columns and self._cell(cells, "quantity") != "":
            spelt = self.last_number
        if spelt and _TOTAL.fullmatch(spelt):
            return True
        price_cell = self._cell(cells, "price")
        price = amount_of(price_cell, self.marks.get(self.header.columns.get("price", -1), ""))
        if isinstance(spelt, Unread):
            self.found.note(UnreadRow(**self._at(number, "part_number"), found=_seen(self._cell(cells, "part_number")),
                                      expected=str(spelt)))  # fmt: skip
            return True
        steps, values, bad = self._values(number, cells)
        if (spelt and isinstance(price, Decimal)) or (spelt and price is None and steps and not bad and price_cell == ""):
            self._take(number, cells, spelt, price if isinstance(price, Decimal) else None, steps, values, bad)
            return True
        return self._none_of_ours(number, cells, spelt, price, bool(steps or values or bad))

    def _values(self, number: int, cells: list[Cell]) -> tuple[dict[int, Decimal], dict[str, Any], list[Fault]]:
        steps: dict[int, Decimal] = {}
        values: dict[str, Any] = {}
        bad: list[Fault] = []
        for name, column, parse, known in self.parsers:
            if column >= len(cells) or cells[column] == "":
                continue
            cell = cells[column]
            if cell in known:
                value = known[cell]
            else:
                value = known[cell] = parse(cell)
            if isinstance(value, Unread):
                bad.append(UnreadCell(sheet=self.grid.sheet, row=number, place=self.header.title(column),
                                      found=_seen(cell), expected=str(value)))  # fmt: skip
            elif value is not None and name.isdigit():
                steps[int(name)] = value
            elif value is not None:
                values[name] = value
        return steps, values, bad

    def _at(self, number: int, name: str) -> dict[str, Any]:
        column = self.header.columns.get(name)
        return {"sheet": self.grid.sheet, "row": number, "place": self.header.title(column) if column is not None else name}

    def _take(self, number: int, cells: list[Cell], spelt: str, price: Decimal | None, steps: dict[int, Decimal],
              values: dict[str, Any], bad: list[Fault]) -> None:  # fmt: skip
        """A row with a number and a price: kept, unless one of its other cells cannot be read."""
        self.last_number = spelt
        quantity = values.pop("quantity", None)
        currency, doubt = self._row_currency(cells)
        if doubt:
            bad.append(UnreadCell(**self._at(number, "currency"), found=doubt, expected="one currency in a row"))
        first = steps.pop(1, price)
        if price is not None and first != price:
            bad.append(TwoPrices(**self._at(number, "price"), found=f"{price} and {first} for one piece"))
        for fault in bad:
            self.found.note(fault, spelt)
        if bad:
            return
        says = self._cell(cells, "description")
        row = PriceRow(
            PartNumber(spelt), " ".join(str(says).split()) if not isinstance(says, CellError) else "", first,
            tuple(PriceBreak(*step) for step in sorted(steps.items())), currency, values.get("core_charge"),
            values.get("stock"), values.get("pack"), values.get("minimum"), values.get("lead_days"),
            values.get("valid_until"), self.grid.sheet, number,
        )  # fmt: skip
        self.priced.append(row)
        self.found.entries.setdefault(canonical(spelt), []).append((quantity, row))

    def _row_currency(self, cells: list[Cell]) -> tuple[str, str]:
        """A row's currency, and what is doubtful about it."""
        said = str(self._cell(cells, "currency")).strip()
        named = {currency_named(said, self.layout.currency) or said.upper()} if said else set()
        for column in self.marks:
            cell = cells[column] if column < len(cells) else ""
            if type(cell) is str and cell and not (cell[0].isdigit() and cell[-1].isdigit()):
                named.add(currency_named(cell, self.layout.currency))
        named.discard("")
        if not named:
            return self.currency, ""
        return (named.pop(), "") if len(named) == 1 else ("", " and ".join(sorted(named)))

    # -- rows without a price --

    def _number_shapes(self) -> set[str]:
        """How this table's priced numbers look, letters as A and digits as 9."""
        shapes = set()
        price, column = self.header.columns.get("price", _NOWHERE), self.header.columns["part_number"]
        for cells in self.below[:2000]:
            if column < len(cells) and price < len(cells) and cells[price] != "" and isinstance(cells[column], str):
                shapes.add(_shape(str(cells[column])))
        return shapes

    def _none_of_ours(self, number: int, cells: list[Cell], spelt: str, price: object, stated: bool) -> bool:
        """A row without a price: heading, total, footnote or repeated header, or a fault. False: another header."""
        price_cell = self._cell(cells, "price")
        filled = [cell for cell in cells if cell != "" and str(cell).strip()]
        texts = [str(cell).strip() for cell in filled]
        alone = len(set(texts)) == 1 and isinstance(filled[0], str) and not isinstance(filled[0], CellError)
        like_a_number = bool(spelt) and re.search(r"\d", spelt) is not None and _shape(spelt) in self.shapes
        if not filled or (alone and not like_a_number and not _AMOUNT.fullmatch(texts[0])):
            return True
        if self._repeats_header(cells) or _TOTAL.fullmatch(texts[0]):
            return True
        wordy = spelt.endswith(":") or not re.search(r"\d", spelt)
        if spelt and wordy and price_cell == "" and not stated and _shape(spelt) not in self.shapes:
            return True  # a heading or a footnote that goes over several cells
        if self._looks_like_header(cells):
            return False
        if spelt:
            expected = str(price) if isinstance(price, Unread) else ""
            self.found.note(UnreadPrice(**self._at(number, "price"), found=_seen(price_cell), expected=expected), spelt)
        else:
            self.found.note(UnreadRow(sheet=self.grid.sheet, row=number, found=" | ".join(texts)[:120]))
        return True

    def _repeats_header(self, cells: Sequence[Cell]) -> bool:
        used = [*self.header.columns.values(), *self.header.breaks.values()]
        said = [(folded(str(cells[column])), folded(self.header.title(column))) for column in used if column < len(cells)]
        same = [cell for cell, title in said if cell == title]
        return len(same) >= max(2, len(used) - 1)

    def _looks_like_header(self, cells: Sequence[Cell]) -> bool:
        fields = {meaning(cell)[0] for cell in cells if type(cell) is str and len(cell) <= 60 and meaning(cell)[1] == 3}
        return "part_number" in fields and "price" in fields

    def _other_header(self, at: int, cells: Sequence[Cell]) -> Header | None:
        other = header_at(self.grid.rows, at, self.layout)
        if other.whole:
            return other
        for name, choices in other.unclear.items():
            self.found.ask(self.grid.sheet, other.row, name, choices)
        return None


_TOTAL = re.compile(
    r"(?:(?:grand|sub|sous|net)[ -]?)?(?:totals?|totale|totaal|summe|gesamt(?:summe)?|zwischensumme|somme|suma|razem|toplam|"
    r"итого|всего|всього)\b(?:[ :]*(?:net|netto|of|amount|price|prices|items|parts|rows|value|excl\w*|incl\w*|vat|tax|"
    r"[A-Z]{3}|[\d.,:-]+)\b\.?)*[ :.]*",
    re.IGNORECASE,
)


def _counted_price(row: PriceRow) -> Decimal:
    """What a row adds to the sum of prices: its base price, or its first break's."""
    return row.price if row.price is not None else row.breaks[0].price


def _shape(spelt: str) -> str:
    return re.sub(r"A+", "A", re.sub(r"9+", "9", re.sub(r"[^\W\d_]", "A", re.sub(r"\d", "9", spelt.strip()))))


def _seen(cell: Cell) -> str:
    """A cell as a fault quotes it."""
    if cell == "":
        return "a blank"
    if isinstance(cell, (CellError, date)):
        return str(cell)[:80]
    if isinstance(cell, (int, float)) and abs(cell) < 1e15:
        return f"{number_of(cell):f}"
    return f'"{str(cell)[:80]}"'


# ---- numbers that stand more than once -----------------------------------------------------------------------------------


def _settled(found: _Found) -> Iterator[PriceRow]:
    """Each number once: repeated alike, its rows of breaks joined, or barred with a fault that names both rows."""
    for number, entries in found.entries.items():
        if number in found.barred:
            continue
        by_rows = any(quantity is not None for quantity, _ in entries)
        row = _joined(number, entries, found) if by_rows else _alike(number, [row for _, row in entries], found)
        if row is not None:
            yield row


def _alike(number: str, rows: list[PriceRow], found: _Found) -> PriceRow | None:
    first = rows[0]
    for other in rows[1:]:
        same = replace(other, part_number=first.part_number, description=first.description, sheet=first.sheet, row=first.row)
        if same != first:
            _two(number, first, other, found)
            return None
    return first


def _two(number: str, first: PriceRow, other: PriceRow, found: _Found) -> None:
    """A fault that names both rows, and what is different in them."""
    def tells(row: PriceRow) -> str:
        place = f"row {row.row}" + (f" of {row.sheet}" if row.sheet != first.sheet else "")
        return f"{_counted_price(row)} in {place}"

    one_price = first.price == other.price and first.breaks == other.breaks
    expected = "one row for a number, or rows that agree" if one_price else ""
    found.note(TwoPrices(sheet=other.sheet, row=other.row, place=str(other.part_number),
                         found=f"{tells(first)} and {tells(other)}", expected=expected), number)  # fmt: skip


def _joined(number: str, entries: list[tuple[int | None, PriceRow]], found: _Found) -> PriceRow | None:
    """Rows of breaks as one: the price from each quantity on; the rest must agree where it is stated."""
    first = entries[0][1]
    steps: dict[int, PriceRow] = {}
    stated: dict[str, Any] = {}
    for quantity, row in entries:
        before = steps.setdefault(quantity or 1, row)
        clash = first if row.breaks and len(entries) > 1 else before if before.price != row.price else None
        for name in ("currency", "core_charge", "stock", "pack", "minimum", "lead_days", "valid_until"):
            value = getattr(row, name)
            if value not in (None, "") and stated.setdefault(name, value) != value:
                clash = first
        if clash is not None:
            _two(number, clash, row, found)
            return None
    base = steps.pop(1, None)
    breaks = [PriceBreak(quantity, row.price) for quantity, row in sorted(steps.items()) if row.price is not None]
    return replace(first, price=base.price if base else None, breaks=(*first.breaks, *breaks), **stated)
