"""`sourcing chart`: the compatibility chart on the screen, as a sheet, and as a page to hang on the wall."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap
from typing import Any

import typer

from sourcing.book.chart import Chart, EraChart, Why, chart_of
from sourcing.book.family import NONE
from sourcing.bookshelf import Bookshelf
from sourcing.cli.ending import Exit
from sourcing.cli.lines import WIDTH
from sourcing.faults import BadInput, UnknownName, shown

MARKS = {"yes": "yes", "no": "no", "depends": "if"}


def chart_family(code: str, catalogs: Path, era: str | None, out: Path | None, as_json: bool) -> Exit:
    """Print a family's chart and write its sheet and page."""
    family = Bookshelf(catalogs).family(code)
    if era is not None and era not in family.era:
        known = ", ".join(family.era)
        raise BadInput([UnknownName(place="--era", found=f'"{era}"', expected=f"an era of {code}: {known}")])
    chart = chart_of(family, None if era is None else [era])
    typer.echo(json.dumps(_record(chart), ensure_ascii=False) if as_json else "\n".join(_told(chart)))
    folder = out or (None if as_json else Path("reports"))
    if folder is not None:
        page, sheet = _write(chart, folder / f"chart-{code}")
        if not as_json:
            typer.echo(f"\nTo hang on the wall: {shown(page)}\nAs a sheet: {shown(sheet)}")
    return Exit.PROVEN


def _write(chart: Chart, folder: Path) -> tuple[Path, Path]:
    from sourcing.quote.placed import put_in_place
    from sourcing.quote.wallpage import wall_page
    from sourcing.quote.wallsheet import wall_sheet

    page, sheet = folder / "chart.html", folder / "chart.xlsx"
    put_in_place(wall_page(chart).encode("utf-8"), page)
    put_in_place(wall_sheet(chart), sheet)
    return page, sheet


def _record(chart: Chart) -> dict[str, Any]:
    return {
        "family": chart.family.code,
        "lead": chart.family.lead.code,
        "left_out": list(chart.left_out),
        "eras": [_era_record(era) for era in chart.eras],
        "cautions": [{"rule": rule.code, "says": rule.caution, "source": rule.source} for rule in chart.cautions],
    }


def _era_record(era: EraChart) -> dict[str, Any]:
    return {
        "era": era.era.code,
        "rows": [
            {
                "design": row.design,
                "fitted": row.fitted,
                "why": [_why_record(why) for why in row.why],
                "cells": [
                    {"position": cell.position, "design": cell.design, "goes": cell.goes,
                     "why": [_why_record(why) for why in cell.why]}
                    for cell in row.cells
                ],
            }
            for row in era.rows
        ],
    }  # fmt: skip


def _why_record(why: Why) -> dict[str, str]:
    return {"when": why.when, "rule": why.reason.code, "says": why.reason.says, "source": why.reason.source}


def _told(chart: Chart) -> Iterator[str]:
    family = chart.family
    yield from wrap(f"{family.family.name}: what goes with which {family.lead.name.lower()}", WIDTH)
    yield "yes: some valid unit holds both; if: not always, the notes say when not; no: never"
    for era in chart.eras:
        head = f"{era.era.name} ({era.era.code}, built {era.era.from_} to {era.era.to or 'the end'})"
        yield from ("", head, "-" * len(head))
        yield from _told_era(chart, era)
    if chart.left_out:
        count = len(chart.left_out)
        yield from ("", *wrap(f"Left out, as no rule names them together with the {family.lead.name.lower()}: {count} "
                              f"positions (--json lists them)", WIDTH))  # fmt: skip
    yield ""
    yield from wrap("A wrong combination can let an engine start in gear. The maker's service information comes before this "
                    "chart.", WIDTH)  # fmt: skip


def _told_era(chart: Chart, era: EraChart) -> Iterator[str]:
    notes = era.notes
    left = max((len(row.design) for row in era.rows), default=0) + 2
    if not era.rows:
        yield f"  the book lets no {chart.family.lead.name.lower()} into a unit of this era"
    for row in era.rows:
        how = "" if row.fitted else " by retrofit"
        barred = f", not if {_numbers(row.why, notes)}" if row.why else ""
        yield f"  {row.design}: {chart.family.name_of(row.design)}{how}{barred}"
    for position, held in era.columns:
        widths = [max(len(design), 8) + 2 for design in held]
        yield ""
        yield f"  {chart.family.position[position].name}"
        named = ["nothing" if design == NONE else design for design in held]
        for first in range(0, len(held), 8):
            part = slice(first, first + 8)
            yield (
                f"    {'':<{left}}"
                + "".join(f"{n:<{w}}" for n, w in zip(named[part], widths[part], strict=True)).rstrip()
            )
            for row in era.rows:
                cells = [cell for cell in row.cells if cell.position == position][part]
                words = (f"{MARKS[cell.goes]} {_numbers(cell.why, notes)}".strip() for cell in cells)
                line = "".join(f"{word:<{w}}" for word, w in zip(words, widths[part], strict=True))
                yield f"    {row.design:<{left}}{line}".rstrip()
    if notes:
        yield ""
    for number, why in enumerate(notes, 1):
        when = f"not with {why.when}: " if why.when else ""
        source = f" ({why.reason.code}, {why.reason.source})" if why.reason.source else ""
        says = f"{when}{why.reason.says}{source}"
        yield "\n".join(wrap(says, WIDTH, initial_indent=f"  {number:>2}  ", subsequent_indent="      "))


def _numbers(whys: tuple[Why, ...], notes: tuple[Why, ...]) -> str:
    return ",".join(str(notes.index(why) + 1) for why in whys)
