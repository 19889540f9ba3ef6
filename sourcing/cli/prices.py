"""`sourcing prices`: what a design costs and has cost, from every supplier."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import typer

from sourcing.cli.ending import Exit
from sourcing.cli.lines import bullet
from sourcing.cli.plot import plot
from sourcing.cli.sheets import fault_record, table_lines
from sourcing.faults import BadInput, Fault, MissingFile, shown
from sourcing.folder import Folder
from sourcing.money import text
from sourcing.pricehistory import families_of, history_of
from sourcing.prices.cache import Cache
from sourcing.prices.export import as_csv
from sourcing.prices.history import COLUMNS, History, Point, cells
from sourcing.prices.sheetwords import money
from sourcing.quote.pricepicture import MOST, prices_picture
from sourcing.quote.pricetable import now_table, part_words, turns_of


def prices_of(design: str, family: str | None, catalogs: Path, as_json: bool, out: Path | None) -> Exit:
    """Tell the prices of one design. Exit code 4 where a sheet of the record could not be read."""
    folder = Folder(catalogs, Cache())
    families = families_of(folder, design, family)
    if not folder.prices.days():
        where = shown(catalogs / "price-sheets")
        raise BadInput([MissingFile(file=where, expected="a dated price sheet",
                                    remedy="File one with `sourcing receive`.")])  # fmt: skip
    found: list[History] = []
    unread: list[Fault] = []
    for code in families:
        listed, trouble = history_of(folder, design, code)
        found += listed
        unread += [fault for fault in trouble if fault not in unread]
    if out is not None:
        out.write_text(as_csv([COLUMNS, *(map(_cell, line) for line in cells(found))]), encoding="utf-8", newline="")
    if as_json:
        typer.echo(json.dumps(_record(folder, design, families, found, unread), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(folder, design, families, found, unread, out)))
    return Exit.SHEET_UNSURE if unread else Exit.PROVEN


def _cell(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else "" if value is None else str(value)


# -- JSON --


def _record(
    folder: Folder, design: str, families: Sequence[str], found: Sequence[History], unread: Sequence[Fault]
) -> dict[str, Any]:
    faults = [{"file": fault.file, **fault_record(fault)} for fault in unread]
    return {
        "design": design, "families": list(families), "currency": folder.shop.currency,
        "parts": [_part_record(history) for history in found], "faults": faults,
    }  # fmt: skip


def _part_record(history: History) -> dict[str, Any]:
    part = history.part
    return {
        "family": history.family, "supplier": part.supplier, "part_number": part.number.spelt,
        "fills": list(part.fills), "kit": history.is_kit, "condition": part.condition, "currency": history.currency,
        "dates": [_point_record(point) for point in history.points],
    }  # fmt: skip


def _point_record(point: Point) -> dict[str, Any]:
    where = point.source
    return {
        "date": point.day.isoformat(),
        "price": None if point.price is None else money(point.price),
        "shop_price": None if point.price_cents is None else text(point.price_cents),
        "core_charge": None if point.core_charge is None else money(point.core_charge),
        "shop_core_charge": None if point.core_cents is None else text(point.core_cents),
        "stock": point.stock,
        "valid_until": point.valid_until.isoformat() if point.valid_until else None,
        "why": point.why,
        "source": {"file": where.file, "sheet": where.sheet, "row": where.row, "date": where.day.isoformat()}
        if where else None,
    }  # fmt: skip


# -- on the screen --


def _told(
    folder: Folder,
    design: str,
    families: Sequence[str],
    found: Sequence[History],
    unread: Sequence[Fault],
    out: Path | None,
) -> Iterator[str]:
    for code in families:
        book = folder.family(code)[0]
        head = f"{book.name_of(design)} ({design}), {book.family.name}"
        yield from (head, "=" * len(head))
        mine = [history for history in found if history.family == code]
        if not mine:
            yield f"parts.csv of {code} names no supplier's part for it."
            continue
        yield ""
        yield f"Now ({mine[0].now.day.isoformat()}, the last date in the record; prices of one piece, without core)"
        yield from table_lines(now_table(mine, folder.shop.currency))
        yield ""
        yield from plot(prices_picture(mine, book.name_of(design), folder.shop.currency))
        if len(mine) > MOST:
            yield f"  and {len(mine) - MOST} more parts that are not drawn"
        yield ""
        yield "At each date on which something changed"
        yield from _told_turns(mine, folder.shop.currency)
        yield ""
    if unread:
        yield "Sheets of the record that could not be read"
        yield from (bullet(str(fault)) for fault in unread)
    if out is not None:
        yield f"Written: {shown(out)}"


def _told_turns(listed: Sequence[History], currency: str) -> Iterator[str]:
    for history in listed:
        yield f"  {part_words(history)}"
        for day, price, says in turns_of(history, currency):
            yield f"    {day}  {price:>10}  {says}".rstrip()
