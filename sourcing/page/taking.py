"""A dropped sheet looked at and filed, as `sourcing receive` does it; what a person answers of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from sourcing.folder import Folder
from sourcing.newsheet import Jobs, changes_of, later_told, look_at_jobs, since
from sourcing.page.dropped import Dropped
from sourcing.page.reach import Reach
from sourcing.page.works import Work
from sourcing.prices.answers import Answers, NoAnswer, answers_of
from sourcing.prices.asking import OF_SHEET, Asked, asked
from sourcing.prices.cache import Cache
from sourcing.prices.changes import Changes
from sourcing.prices.filing import Looked, Receiving
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceSheet
from sourcing.prices.sheet import read_sheet
from sourcing.prices.sheetwords import kind_words


@dataclass(frozen=True)
class Seen:
    """A sheet as it would be read and filed; `looked` None where nobody has said whose it is."""

    sheet: PriceSheet
    looked: Looked | None
    question: Asked | None
    kind: str
    currency: str

    @property
    def typed(self) -> tuple[str, ...]:
        """What may be typed in answer: asked for, or in the place of the one answer that is offered."""
        if self.question is None:
            return ()
        ways = self.question.ways
        return self.question.typed or (tuple(name for name, _ in ways[0].said) if len(ways) == 1 else ())


@dataclass(frozen=True)
class Filed:
    """A sheet on file, and what it changed; `found` None where that cannot be told, `stopped` where not every job was seen."""

    looked: Looked
    found: Changes | None
    trouble: str
    since: str
    currency: str
    later: str
    jobs: Jobs
    stopped: bool


def look(reach: Reach, dropped: Dropped, work: Work) -> Seen:
    """What a sheet would be read as; changes nothing. Raises BadInput."""
    work.say("reading the sheet")
    kind = kind_words(dropped.path)
    if not dropped.supplier:
        sheet = read_sheet(dropped.path, dropped.answers.over(Layout()), Cache())
        return Seen(sheet, None, asked(sheet, {}, lambda: sheet), kind, "")
    receiving = _receiving(reach, dropped)
    return _seen(receiving, receiving.look(), kind)


def _seen(receiving: Receiving, looked: Looked, kind: str) -> Seen:
    question = asked(looked.sheet, looked.supplier.layout("", looked.day).columns, receiving.read_freely)
    return Seen(looked.sheet, looked, question, kind, looked.supplier.currency or receiving.shop.currency)


def file(reach: Reach, dropped: Dropped, work: Work, filed: Callable[[], None]) -> Filed | Seen:
    """File a sheet, say what it changed, and look at the open jobs; what is open again, where somebody filed meanwhile.

    `filed` is told as soon as the sheet is in the record.
    """
    work.say("filing the sheet")
    before = Folder(reach.catalogs, Cache())
    receiving = replace(_receiving(reach, dropped), shop=before.shop)
    since_then = since(before, dropped.supplier, dropped.day)
    looked = receiving.file()
    if not looked.ready:
        return _seen(receiving, looked, kind_words(dropped.path))
    filed()
    currency = looked.supplier.currency or before.shop.currency
    if looked.on_file is not None:
        return Filed(looked, None, "", since_then, currency, "", Jobs(), False)
    work.say("looking for what changed")
    after = Folder(reach.catalogs, Cache())
    found, trouble = changes_of(before, after, dropped.supplier, dropped.day)
    jobs, paths = Jobs(), [reach.job(name) for name in reach.job_names()]

    def told(number: int, of: int) -> bool:
        work.say("looking at the open jobs", number, of)
        return work.goes_on

    whole = look_at_jobs(before, after, paths, dropped.day, jobs, told)
    later = later_told(after, dropped.supplier, dropped.day)
    return Filed(looked, found, trouble, since_then, currency, later, jobs, not whole)


def _receiving(reach: Reach, dropped: Dropped) -> Receiving:
    shop = Folder(reach.catalogs, Cache()).shop
    return Receiving(
        reach.catalogs, shop, dropped.supplier, dropped.path, dropped.day, dropped.update, dropped.answers, Cache()
    )


def with_answers(known: Answers, said: Mapping[str, str]) -> Answers:
    """Answers with further ones: header texts by field, and what belongs under [supplier.sheet]. Raises NoAnswer."""
    keys = {"sheet": known.sheet, "decimal": known.decimal, "date_order": known.date_order, "encoding": known.encoding}
    keys |= {key: value for key, value in said.items() if key in keys}
    row = said.get("header_row", "" if known.header_row is None else str(known.header_row))
    if row and not (row.isascii() and row.isdigit() and 0 < int(row[:9]) <= 1_048_576):
        raise NoAnswer(f'"{row}": expected the number of a row, as the spreadsheet counts it')
    columns = {**known.columns, **{key: value for key, value in said.items() if key not in OF_SHEET}}
    typed = [f"{name}={header}" for name, header in columns.items()]
    return answers_of(typed, header_row=int(row) if row else None, **keys)


def day_of(said: str) -> date:
    """A day as a form says it. Raises NoAnswer."""
    try:
        if len(said) != len("YYYY-MM-DD"):
            raise ValueError
        return date.fromisoformat(said)
    except ValueError:
        raise NoAnswer(f'"{said}" is no date: expected YYYY-MM-DD, such as 2026-04-13') from None


def on_file(record: Path, code: str) -> list[str]:
    """The sheets of a supplier in the record, the newest first."""
    home = record / code
    return (
        sorted((path.name for path in home.iterdir() if not path.name.startswith(".")), reverse=True)
        if home.is_dir()
        else []
    )
