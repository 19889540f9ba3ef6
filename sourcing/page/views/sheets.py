"""Price sheets dropped in, looked at, asked about and filed, as `sourcing read` and `sourcing receive` do it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.faults import BadInput, shown
from sourcing.newsheet import IS_UPDATE, IS_WHOLE, filed_told, gone_told
from sourcing.page import taking
from sourcing.page.asked import Checked, Form, Shop
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.dropped import Dropped
from sourcing.page.reach import NotThere
from sourcing.page.taking import Filed, Seen
from sourcing.page.tray import LONGEST, MOST_BYTES, MOST_KEPT, NO_LONGER, Tray
from sourcing.page.uploads import Sent
from sourcing.page.works import Background, Work, Works
from sourcing.prices import sheetwords
from sourcing.prices.answers import NoAnswer
from sourcing.prices.layout import FIELDS
from sourcing.prices.suppliers import Supplier, read_suppliers
from sourcing.quote import changed

router = APIRouter(include_in_schema=False)
MOST = 40  # of a long list
MEANWHILE = "Somebody else answered for this sheet while you had it open: look at what it says now, then answer again."


def the_tray(request: Request) -> Tray:
    tray = request.app.state.tray
    assert isinstance(tray, Tray)
    return tray


Sheets = Annotated[Tray, Depends(the_tray)]


def _suppliers(desk: Desk) -> Mapping[str, Supplier]:
    """The shop's suppliers. Raises BadInput."""
    return read_suppliers(desk.reach.catalogs / "suppliers.toml")


@router.get("/sheets")
def sheets(request: Request, desk: Shop, tray: Sheets) -> Response:
    """A place to drop a sheet in, and what is on file."""
    return _sheets(request, desk, tray, [])


def _sheets(request: Request, desk: Desk, tray: Tray, faults: Sequence[str], **said: str) -> Response:
    suppliers = _suppliers(desk)
    record = desk.reach.catalogs / "price-sheets"
    return page(
        request, "sheets.html", HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK, faults=faults,
        suppliers=suppliers, waiting=tray.waiting(), gone=tray.gone, days=LONGEST.days, most=MOST_KEPT,
        room=MOST_BYTES // 1_000_000, folder=shown(desk.reach.tray),
        files={code: taking.on_file(record, code) for code in suppliers},
        said={"supplier": "", "date": date.today().isoformat(), **said},
    )  # fmt: skip


@router.post("/sheets")
def drop(request: Request, desk: Shop, tray: Sheets, works: Background, form: Sent) -> Response:
    """Take a sheet in, and begin to read it; nothing is filed."""
    faults = []
    try:
        day = taking.day_of(form.get("date"))
    except NoAnswer as error:
        faults.append(str(error))
    if form.file is None:
        faults.append("Choose the file of the price sheet first.")
    supplier = form.get("supplier")
    if supplier and supplier not in _suppliers(desk):
        faults.append(f'There is no supplier "{supplier}" in suppliers.toml.')
    if faults or form.file is None:
        return _sheets(request, desk, tray, faults, supplier=supplier, date=form.get("date"))
    dropped = tray.put(form.name, form.file, supplier, day)
    _begin_look(desk, works, dropped)
    return RedirectResponse(dropped.home, HTTPStatus.SEE_OTHER)


def _begin_look(desk: Desk, works: Works, dropped: Dropped) -> None:
    work = works.begin(f"Reading {dropped.name}", lambda _: dropped.home, partial(taking.look, desk.reach, dropped))
    dropped.works.append(work.key)


@router.get("/sheet/{key}")
def sheet(request: Request, key: str, desk: Shop, tray: Sheets, works: Background) -> Response:
    """What a sheet would be read as, the question that it raises, or what it changed."""
    return _sheet(request, desk, tray.of(key), works)


def _sheet(
    request: Request,
    desk: Desk,
    dropped: Dropped,
    works: Works,
    faults: Sequence[str] = (),
    status: int = HTTPStatus.OK,
) -> Response:
    work = _newest(desk, works, dropped)
    seen = work.result if isinstance(work.result, Seen) else None
    filed = work.result if isinstance(work.result, Filed) else None
    return page(
        request, "sheet.html", status, dropped=dropped, work=work, seen=seen, filed=filed, faults=(*faults, *work.faults),
        suppliers=_suppliers(desk), words=sheetwords, changed=changed, fields=FIELDS, most=MOST, shown=shown,
        gone=gone_told(seen.looked, MOST) if seen and seen.looked and seen.looked.asks_update else None,
        filed_lines=list(filed_told(filed.looked, desk.reach.catalogs)) if filed else [],
        is_update=IS_UPDATE, is_whole=IS_WHOLE, jobs_folder=shown(desk.reach.jobs),
        job_of=_job_names(desk) if filed else {},
    )  # fmt: skip


def _job_names(desk: Desk) -> dict[str, str]:
    """What the page calls the job of each number."""
    found = {}
    for name in desk.reach.job_names():
        try:
            found[desk.file(name).lines.get("job.number", "").strip('"')] = name
        except (BadInput, NotThere):
            continue
    return found


def _newest(desk: Desk, works: Works, dropped: Dropped) -> Work:
    """What was last done with a sheet; read once more where that is forgotten."""
    try:
        return works.of(dropped.works[-1])
    except (NotThere, IndexError):
        if dropped.filed:
            raise NotThere(NO_LONGER) from None
        _begin_look(desk, works, dropped)
        return works.of(dropped.works[-1])


@router.post("/sheet/{key}")
def answer(request: Request, key: str, desk: Shop, tray: Sheets, works: Background, form: Checked) -> Response:
    """Answer for a sheet: whose it is, from which day, which column is what, whether it is an update; and read it again."""
    dropped = tray.of(key)
    work = _newest(desk, works, dropped)
    if form.get("seen") != work.key or dropped.filed:
        return _sheet(request, desk, dropped, works, [MEANWHILE], HTTPStatus.CONFLICT)
    try:
        _take_answers(desk, dropped, work.result if isinstance(work.result, Seen) else None, form)
    except NoAnswer as error:
        return _sheet(request, desk, dropped, works, [str(error)], HTTPStatus.UNPROCESSABLE_ENTITY)
    tray.keep(dropped)
    _begin_look(desk, works, dropped)
    return RedirectResponse(dropped.home, HTTPStatus.SEE_OTHER)


def _take_answers(desk: Desk, dropped: Dropped, seen: Seen | None, form: Form) -> None:
    """Take what a form answers. Raises NoAnswer, and then nothing is taken."""
    said: dict[str, str] = {}
    if seen is not None and seen.question is not None and "way" in form:
        way = form.get("way")
        if way.isdecimal() and int(way[:4]) < len(seen.question.ways):
            said |= dict(seen.question.ways[int(way[:4])].said)
        else:
            said |= {name: form.get(f"typed-{name}") for name in seen.typed if form.get(f"typed-{name}")}
            if not said:
                raise NoAnswer("Pick one of the answers, or type one.")
    if form.get("field"):
        said[form.get("field")] = form.get("header")
    answers = taking.with_answers(dropped.answers, said) if said else dropped.answers
    day = taking.day_of(form.get("date")) if "date" in form else dropped.day
    supplier = form.get("supplier") if "supplier" in form else dropped.supplier
    if supplier and supplier not in _suppliers(desk):
        raise NoAnswer(f'There is no supplier "{supplier}" in suppliers.toml.')
    if "kind" in form:
        dropped.update = {"update": True, "whole": False}.get(form.get("kind"))
    dropped.answers, dropped.day, dropped.supplier = answers, day, supplier


@router.post("/sheet/{key}/file")
def file_it(request: Request, key: str, desk: Shop, tray: Sheets, works: Background, form: Checked) -> Response:
    """File a sheet, and begin to look for what it changed."""
    dropped = tray.of(key)
    work = _newest(desk, works, dropped)
    if form.get("seen") != work.key or dropped.filed:
        return _sheet(request, desk, dropped, works, [MEANWHILE], HTTPStatus.CONFLICT)
    seen = work.result
    if not (isinstance(seen, Seen) and seen.looked is not None and seen.looked.ready):
        return _sheet(request, desk, dropped, works, ["It cannot be filed yet."], HTTPStatus.UNPROCESSABLE_ENTITY)
    begun = works.begin(f"Filing {dropped.name}", lambda _: dropped.home, partial(_file, desk, tray, dropped))
    dropped.works.append(begun.key)
    return RedirectResponse(dropped.home, HTTPStatus.SEE_OTHER)


def _file(desk: Desk, tray: Tray, dropped: Dropped, work: Work) -> Filed | Seen:
    """File a sheet; what is in the record waits no more."""
    return taking.file(desk.reach, dropped, work, lambda: tray.filed(dropped))


@router.post("/sheet/{key}/away")
def throw_away(key: str, tray: Sheets, form: Checked) -> Response:
    """Throw a sheet away; what is on file stays."""
    tray.take_out(key)
    return RedirectResponse("/sheets", HTTPStatus.SEE_OTHER)
