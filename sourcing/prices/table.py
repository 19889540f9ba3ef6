"""The rows under one header: each a priced row, a fault, or recognisably none of our business."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from itertools import compress
from typing import Any

from sourcing.faults import Fault, TwoPrices, UnreadCell, UnreadPrice, UnreadRow
from sourcing.partnumber import PartNumber
from sourcing.prices import bulk
from sourcing.prices.amounts import Unread, amount_of, number_of
from sourcing.prices.asides import TOTAL, group_named, is_aside, looks_like_header, repeats, shape
from sourcing.prices.cells import COUNT_WORDS, count_of, date_order, day_of, days_of, pieces_of, spelt_of, stock_of
from sourcing.prices.columns import COLUMNS, texts_of
from sourcing.prices.encoding import DAMAGED
from sourcing.prices.grid import Cell, CellError, Grid
from sourcing.prices.header import Header, header_at
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe
from sourcing.prices.rows import PriceBreak, PriceRow, Table
from sourcing.prices.settled import Found
from sourcing.prices.words import currency_named, folded

MOST_TABLES = 100
_NOWHERE = 1_000_000  # the column of a field that a table lacks
Parse = Callable[[Cell], Any]


def read_tables(grid: Grid, header: Header | None, layout: Layout, found: Found, careful: bool = False) -> None:
    """Read a table, and those that begin with a header of their own further down.

    Whole columns are read at once and only what is left goes row by row; `careful`: every row by itself, with equal results.
    """
    above = range(max(0, header.top)) if header is not None else range(0)
    room = MOST_TABLES
    while header is not None:
        room -= 1
        if room < 0:
            raise Unsafe(
                f"more than {MOST_TABLES} tables below each other on one sheet",
                "Ask for a list with one row of headers.",
            )
        table = TableReader(grid, header, layout, found)
        table.look_above(above)
        header, above = table.read(careful), range(0)


class TableReader:
    """The rows under one header."""

    def __init__(self, grid: Grid, header: Header, layout: Layout, found: Found) -> None:
        self.grid, self.header, self.layout, self.found = grid, header, layout, found
        self.start = header.at + 1
        self.count = len(grid.cells) - self.start
        self._wholes: dict[int, bulk.Whole] = {}
        self.marks = self._marks()
        self.orders = {name: self._date_order(name) for name in ("valid_until", "valid_from")}
        self.currency = self._header_currency()
        self.parsers = self._parsers()
        self._shapes: set[str] | None = None
        self.last_number = ""
        self.group = ""
        self.groups: list[tuple[int, str]] = []
        self.slow: dict[
            int, dict[str, str]
        ] = {}  # the texts of rows read by themselves, by their index below the header
        self.asides = max(0, header.rows - 1)

    # -- what the columns are like --

    def _column(self, column: int) -> bulk.Whole:
        if column not in self._wholes:
            self._wholes[column] = bulk.Whole(self.grid, column, self.start)
        return self._wholes[column]

    def _field(self, name: str) -> bulk.Whole | None:
        column = self.header.columns.get(name)
        return None if column is None else self._column(column)

    def _marks(self) -> dict[int, str]:
        """The decimal mark of each column of money; what one leaves open the others may decide, if they agree."""
        money = [self.header.columns[name] for name in ("price", "core_charge") if name in self.header.columns]
        money += self.header.breaks.values()
        self.money = {column: bulk.Money(self._column(column)) for column in money}
        needs = {column: amounts.mark() for column, amounts in self.money.items()}
        marks = {column: self.layout.decimal or need for column, need in needs.items()}
        proven = set("".join(marks.values()).replace("!", ".,")) & {".", ","}
        open_columns = [column for column, mark in marks.items() if mark == "?"]
        if not proven and open_columns and not any(self._holds_comma(column) for column in open_columns):
            proven = set(self.grid.proof())
        self.agreed = proven.copy().pop() if len(proven) == 1 else ""
        for column in open_columns:
            marks[column] = self.agreed or "?"
            if not self.agreed:
                self.found.ask(self.grid.sheet, self.header.row, "decimal", (".", ","))
        self.decimal = "".join(sorted(proven)) if any(needs.values()) else ""
        return marks

    def _holds_comma(self, column: int) -> bool:
        """Whether an amount of a column, in quotation marks then, is written with a comma."""
        return any(
            type(cell) is str and "," in cell and re.search(r"\d,\d", cell) for cell in self._column(column).cells
        )

    def _date_order(self, name: str) -> str:
        column = self._field(name)
        order = date_order(list(set(column.values)), self.layout.date_order) if column is not None else ""
        if order == "?" and name == "valid_until":
            self.found.ask(self.grid.sheet, self.header.row, "date_order", ("dmy", "mdy"))
        elif order == "?":
            self.found.notes.append(
                "the dates from which prices hold were left out: day and month cannot be told apart"
            )
        return order

    def _header_currency(self) -> str:
        column = self.header.columns.get("price", next(iter(self.header.breaks.values()), 0))
        return currency_named(self.header.title(column), self.layout.currency)

    def _parsers(self) -> list[tuple[str, int, Parse, dict[Cell, Any]]]:
        """For each used column but number, description and price: how its cells are read, with what was read before."""
        lead = folded(self.header.title(self.header.columns.get("lead_days", _NOWHERE)))
        weeks = (
            re.search(r"\b(weeks?|wochen|semaines|semanas|settimane|weken|tygodni\w*|hafta|недел|тижн)", lead)
            is not None
        )
        columns = self.header.columns
        kinds: dict[str, Parse] = {
            "core_charge": partial(amount_of, mark=self.marks.get(columns.get("core_charge", -1), ""), zero=True),
            "stock": partial(stock_of, mark=self.agreed),
            "pack": partial(count_of, mark=self.agreed, least=1, words=COUNT_WORDS),
            "minimum": partial(count_of, mark=self.agreed, least=1, words=COUNT_WORDS),
            "lead_days": partial(days_of, in_weeks=weeks),
            "valid_until": partial(day_of, order=self.orders["valid_until"]),
            "valid_from": partial(_day_or_nothing, order=self.orders["valid_from"]),
            "quantity": partial(count_of, mark=self.agreed, least=1),
            "price_unit": pieces_of,
            "superseded_by": successor_of,
            "group": bulk.description,
        }
        listed: list[tuple[str, int, Parse, dict[Cell, Any]]] = [
            (name, columns[name], kind, {}) for name, kind in kinds.items() if name in columns
        ]
        for quantity, column in self.header.breaks.items():
            listed.append((str(quantity), column, partial(amount_of, mark=self.marks[column]), {}))
        return listed

    # -- the table --

    def look_above(self, above: Sequence[int]) -> None:
        """The rows above the first header are none of our business, unless one looks like a priced row under it."""
        for at in above:
            cells, number = self.grid.cells[at], self.grid.numbers[at]
            spelt = spelt_of(self._cell(cells, "part_number"))
            price = amount_of(self._cell(cells, "price"), self.marks.get(self.header.columns.get("price", -1), ""))
            if isinstance(price, Decimal) and not isinstance(spelt, Unread) and re.search(r"\d", spelt):
                self.found.note(UnreadRow(**self._at(number, "part_number"), found=_seen(spelt),
                                          expected="priced rows only below the row of headers"))  # fmt: skip
            else:
                self.asides += 1

    def read(self, careful: bool = False) -> Header | None:
        """Read every row; returns the header of another table, where one begins below."""
        texts = {} if careful or "quantity" in self.header.columns or not self.count else self._at_once()
        doubtful = self._doubtful(texts) if texts else range(self.count)
        if len(doubtful) == self.count:
            texts = {}
        following, end = None, self.count
        for at in doubtful:
            cells = self.grid.cells[self.start + at]
            if not self._read_row(at, self.grid.numbers[self.start + at], cells):
                following = self._other_header(self.start + at)
                if following is not None:
                    end = at
                    break
        self._gather(texts, doubtful, end)
        return following

    def _at_once(self) -> dict[str, bulk.Told]:
        """Each column of rows as texts, None where a cell needs a closer look."""
        columns = self.header.columns
        spelt, keys = bulk.numbers(self._column(columns["part_number"]))
        texts: dict[str, bulk.Told] = {"number": spelt, "key": keys, "currency": self._currencies()}  # type: ignore[dict-item]
        steps: list[tuple[str, bulk.Told]] = []
        if "price" in columns:
            texts["price"] = self._amounts(columns["price"])
        if "description" in columns:
            texts["description"] = bulk.descriptions(self._column(columns["description"]))
        for name, column, parse, _ in self.parsers:
            if name.isdigit():
                steps.append((name, self._amounts(column)))
            elif name == "core_charge":
                texts[name] = self._amounts(column, zero=True)
            elif name in ("stock", "pack", "minimum"):
                texts[name] = bulk.counts(self._column(column), parse, 0 if name == "stock" else 1)
            else:
                texts[name] = bulk.by_value(self._column(column).values, parse)
        units = texts.pop("price_unit", None)
        if units is not None or self.header.price_pieces != 1:
            texts["price"] = self._for_one(texts.get("price", [""] * self.count), units)
            steps = [(name, self._for_one(prices, units)) for name, prices in steps]
        if steps:
            texts["breaks"] = _joined_steps(steps)
        return texts

    def _amounts(self, column: int, zero: bool = False) -> bulk.Told:
        return self.money[column].amounts(self.marks[column], zero)

    def _for_one(self, prices: bulk.Told, units: bulk.Told | None) -> bulk.Texts:
        """Prices for many pieces as the price of one."""
        said = bulk.texts(units) if units is not None else [""] * self.count
        pieces = self.header.price_pieces
        return [price if not price else None if unit is None else str(_for_one(Decimal(price), int(unit or pieces)))
                for price, unit in zip(bulk.texts(prices), said, strict=True)]  # fmt: skip

    def _doubtful(self, texts: dict[str, bulk.Told]) -> Sequence[int]:
        """The rows, by index, that must be read by themselves."""
        if 1 in self.header.breaks or "price" not in texts:
            return range(self.count)
        doubtful: set[int] = set()
        for name, column in texts.items():
            needed = name in ("number", "price")
            if isinstance(column, str):
                if needed and (column[:1] in ("", "\n") or column[-1:] == "\n" or "\n\n" in column):
                    doubtful.update(at for at, text in enumerate(column.split("\n")) if not text)
                continue
            if None in column:
                doubtful.update(at for at, text in enumerate(column) if text is None)
            if needed and "" in column:
                doubtful.update(at for at, text in enumerate(column) if text == "")
        if self.grid.doubtful:
            doubtful.update(at for at in range(self.count) if self.grid.numbers[self.start + at] in self.grid.doubtful)
        return sorted(doubtful)

    def _gather(self, texts: dict[str, bulk.Told], doubtful: Sequence[int], end: int) -> None:
        """The priced rows as columns, those that were read by themselves put among the others; the table is noted."""
        numbers = self.grid.numbers[self.start : self.start + end]
        columns: dict[str, list[str] | str]
        if texts:
            texts["row"] = "\n".join(map(str, numbers))
            if self.groups and "group" not in texts:
                texts["group"] = self._group_texts(end)
            if doubtful or end < self.count:
                left = set(doubtful) - self.slow.keys()
                flags = [at not in left for at in range(end)]
                columns = {name: self._compressed(name, texts.get(name), flags) for name in COLUMNS if name != "sheet"}
            else:
                columns = dict(texts)  # type: ignore[arg-type]
        else:
            columns = {name: [row[name] for row in self.slow.values()] for name in COLUMNS if name != "sheet"}
        count = sum(flags) if texts and (doubtful or end < self.count) else end if texts else len(self.slow)
        self.found.add(count, {**columns, "sheet": [self.grid.sheet] * count})
        self._note_table(columns, count, numbers)

    def _compressed(self, name: str, told: bulk.Told | None, flags: list[bool]) -> list[str]:
        column = [""] * self.count if told is None else bulk.texts(told)
        for at, row in self.slow.items():
            column[at] = row[name]
        return list(compress(column, flags))  # type: ignore[arg-type]

    def _group_texts(self, end: int) -> bulk.Texts:
        """For each row the group of the last heading above it."""
        texts: bulk.Texts = []
        group = ""
        for at, following in [*self.groups, (end, "")]:
            texts += [group] * (at - len(texts))
            group = following
        return texts

    def _note_table(self, columns: Mapping[str, list[str] | str], count: int, numbers: Sequence[int]) -> None:
        header = self.header
        used = {name: header.title(column) for name, column in header.columns.items()}
        if header.by_description:
            del used["part_number"]
        used |= {f"{quantity}+": header.title(column) for quantity, column in header.breaks.items()}
        counted = bulk.texts(columns.get("price", "")) if count else []
        if "" in counted:
            counted = [price or (steps or "").partition(":")[2].partition(" ")[0]
                       for price, steps in zip(counted, bulk.texts(columns["breaks"]), strict=True)]  # fmt: skip
        currencies = set(bulk.texts(columns["currency"])) if count else set()
        hidden = len(self.grid.hidden_rows.intersection(numbers)) if self.grid.hidden_rows else 0
        self.found.tables.append(
            Table(self.grid.sheet, header.row, used, count, sum(map(Decimal, counted), Decimal(0)),  # type: ignore[arg-type]
                  (currencies.pop() or "") if len(currencies) == 1 else "", self.decimal, header.confidence, self.asides, hidden,
                  self.grid.hidden)
        )  # fmt: skip

    # -- currencies --

    def _currencies(self) -> bulk.Texts:
        """Each row's currency; None where it names several."""
        named: list[list[str]] = []
        said = self._field("currency")
        if said is not None:
            named.append(bulk.told(said.values, lambda cell: self._named(str(cell).strip())))
        for column, amounts in self.money.items():
            if amounts.text is not None:
                continue
            told = bulk.told(self._column(column).cells, self._beside)
            if any(told):
                named.append(told)
        if not named:
            return [self.currency] * self.count
        if len(named) == 1 and not ("" in named[0] and self.currency):
            return named[0]  # type: ignore[return-value]
        if len(named) == 1:
            return [name or self.currency for name in named[0]]
        together = [set(names) - {""} for names in zip(*named, strict=True)]
        return [self.currency if not names else names.pop() if len(names) == 1 else None for names in together]

    def _named(self, said: str) -> str:
        return currency_named(said, self.layout.currency) or said.upper() if said else ""

    def _beside(self, cell: Cell) -> str:
        """The currency that stands beside an amount."""
        if type(cell) is str and cell and not (cell[0].isdigit() and cell[-1].isdigit()):
            return currency_named(cell, self.layout.currency)
        return ""

    def _row_currency(self, cells: list[Cell]) -> tuple[str, str]:
        """A row's currency, and what is doubtful about it."""
        named = {self._named(str(self._cell(cells, "currency")).strip())}
        named |= {self._beside(cells[column]) for column in self.marks if column < len(cells)}
        named.discard("")
        if not named:
            return self.currency, ""
        return (named.pop(), "") if len(named) == 1 else ("", " and ".join(sorted(named)))

    # -- rows read by themselves --

    def _cell(self, cells: Sequence[Cell], name: str) -> Cell:
        column = self.header.columns.get(name, _NOWHERE)
        return cells[column] if column < len(cells) else ""

    def _read_row(self, at: int, number: int, cells: list[Cell]) -> bool:
        """Whether a row could be told: priced, at fault, or none of our business."""
        if number in self.grid.doubtful and self._damaged(number, cells):
            return True
        spelt = spelt_of(self._cell(cells, "part_number"))
        if not spelt and "quantity" in self.header.columns and self._cell(cells, "quantity") != "":
            spelt = self.last_number
        if spelt and TOTAL.fullmatch(spelt):
            self.asides += 1
            return True
        price_cell = self._cell(cells, "price")
        price = amount_of(price_cell, self.marks.get(self.header.columns.get("price", -1), ""))
        if isinstance(spelt, Unread):
            self.found.note(UnreadRow(**self._at(number, "part_number"), found=_seen(self._cell(cells, "part_number")),
                                      expected=str(spelt)))  # fmt: skip
            return True
        steps, values, bad = self._values(number, cells)
        if (spelt and isinstance(price, Decimal)) or (
            spelt and price is None and steps and not bad and price_cell == ""
        ):
            self._take(at, number, cells, spelt, price if isinstance(price, Decimal) else None, steps, values, bad)
            return True
        stated = {name for name in values if name not in ("superseded_by", "group", "valid_from", "price_unit")}
        return self._unpriced(
            at, number, cells, spelt, price, bool(steps or stated or bad), values.get("superseded_by", "")
        )

    def _damaged(self, number: int, cells: Sequence[Cell]) -> bool:
        """Tell of a row with letters that could not be decoded; whether it cannot be read at all."""
        columns = [column for column, cell in enumerate(cells) if isinstance(cell, str) and DAMAGED in cell]
        lost = any(column == self.header.columns.get("part_number") for column in columns)
        place = self.header.title(columns[0]) if columns else ""
        found = _seen(cells[columns[0]]) if columns else ""
        if lost:
            self.found.note(UnreadRow(sheet=self.grid.sheet, row=number, place=place, found=found,
                                      expected="letters in one encoding"))  # fmt: skip
        else:
            self.found.note(UnreadCell(sheet=self.grid.sheet, row=number, place=place, found=found,
                                       expected="letters in one encoding",
                                       remedy="The price was read; ask for the sheet in one encoding."))  # fmt: skip
        return lost

    def _values(self, number: int, cells: list[Cell]) -> tuple[dict[int, Decimal], dict[str, Any], list[Fault]]:
        steps: dict[int, Decimal] = {}
        values: dict[str, Any] = {}
        bad: list[Fault] = []
        for name, column, parse, known in self.parsers:
            if column >= len(cells) or cells[column] == "":
                continue
            cell = cells[column]
            if type(cell) is CellError:
                value = parse(cell)
            elif cell in known:
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
        return {
            "sheet": self.grid.sheet,
            "row": number,
            "place": self.header.title(column) if column is not None else name,
        }

    def _take(self, at: int, number: int, cells: list[Cell], spelt: str, price: Decimal | None, steps: dict[int, Decimal],
              values: dict[str, Any], bad: list[Fault]) -> None:  # fmt: skip
        """A row with a number and a price: kept, unless one of its other cells cannot be read."""
        self.last_number = spelt
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
        pieces = values.get("price_unit", self.header.price_pieces)
        row = PriceRow(
            PartNumber(spelt), bulk.description(self._cell(cells, "description")),
            None if first is None else _for_one(first, pieces),
            tuple(PriceBreak(quantity, _for_one(step, pieces)) for quantity, step in sorted(steps.items())),
            currency, values.get("core_charge"), values.get("stock"), values.get("pack"), values.get("minimum"),
            values.get("lead_days"), values.get("valid_until"), self.grid.sheet, number, values.get("superseded_by", ""),
            values.get("valid_from"), values.get("group", self.group),
        )  # fmt: skip
        self.slow[at] = texts_of(row, values.get("quantity"))

    def _unpriced(self, at: int, number: int, cells: list[Cell], spelt: str, price: object, stated: bool,
                  successor: str) -> bool:  # fmt: skip
        """A row without a price: none of our business, or a fault. False: it is perhaps another header."""
        price_cell = self._cell(cells, "price")
        bare = price_cell == "" and not stated
        again = repeats(self.header, cells)
        if not again and looks_like_header(cells):
            return False
        if again or is_aside(cells, spelt, bare, self._number_shapes()):
            self.asides += 1
            group = group_named(cells)
            if group:
                self.group = group
                self.groups.append((at, group))
            return True
        if spelt:
            expected = str(price) if isinstance(price, Unread) else ""
            found = _seen(price_cell) + (f"; the sheet says that {successor} has superseded it" if successor else "")
            self.found.note(UnreadPrice(**self._at(number, "price"), found=found, expected=expected), spelt)
        else:
            texts = [str(cell).strip() for cell in cells if str(cell).strip()]
            self.found.note(UnreadRow(sheet=self.grid.sheet, row=number, found=" | ".join(texts)[:120]))
        return True

    def _number_shapes(self) -> set[str]:
        """How this table's priced numbers look, letters as A and digits as 9."""
        if self._shapes is None:
            self._shapes = set()
            price, column = self.header.columns.get("price", _NOWHERE), self.header.columns["part_number"]
            for cells in self.grid.cells[self.start : self.start + 2000]:
                if column < len(cells) and price < len(cells) and cells[price] != "" and isinstance(cells[column], str):
                    self._shapes.add(shape(str(cells[column])))
        return self._shapes

    def _other_header(self, at: int) -> Header | None:
        other = header_at(self.grid, at, self.layout)
        if other.whole:
            return other
        for name, choices in other.unclear.items():
            self.found.ask(self.grid.sheet, other.row, name, choices, other.changed.get(name, ""))
        return None


def successor_of(cell: Cell) -> str | Unread | None:
    """A cell as the number that superseded another; None for a blank or a dash."""
    spelt = spelt_of(cell)
    return (
        None if not isinstance(spelt, Unread) and re.fullmatch(r"[-–—\s]*|n/?a|none", spelt, re.IGNORECASE) else spelt
    )


def _day_or_nothing(cell: Cell, order: str) -> date | None:
    """A cell as a date that decides nothing: what is none is left out."""
    day = day_of(cell, order)
    return None if isinstance(day, Unread) else day


def _for_one(price: Decimal, pieces: int) -> Decimal:
    return price if pieces == 1 else price / pieces


def _joined_steps(steps: list[tuple[str, bulk.Told]]) -> bulk.Told:
    """Break columns as one column of steps."""
    told = [_step_texts(quantity, texts) for quantity, texts in sorted(steps, key=lambda step: int(step[0]))]
    if len(told) == 1:
        return told[0]
    rows = zip(*map(bulk.texts, told), strict=True)
    if all(isinstance(texts, str) for texts in told):
        return list(map(" ".join, rows))
    return [None if None in row else " ".join(filter(None, row)) for row in rows]


def _step_texts(quantity: str, prices: bulk.Told) -> bulk.Told:
    """A break column's prices with their quantity; lines only where no price is blank."""
    if isinstance(prices, str) and prices[:1] not in ("", "\n") and prices[-1] != "\n" and "\n\n" not in prices:
        return f"{quantity}:" + prices.replace("\n", f"\n{quantity}:")
    return [None if text is None else f"{quantity}:{text}" if text else "" for text in bulk.texts(prices)]


def _seen(cell: Cell) -> str:
    """A cell as a fault quotes it."""
    if cell == "":
        return "a blank"
    if isinstance(cell, (CellError, date)):
        return str(cell)[:80]
    if isinstance(cell, (int, float)) and abs(cell) < 1e15:
        return f"{number_of(cell):f}"
    return f'"{str(cell)[:80]}"'
