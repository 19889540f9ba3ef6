"""A job begun by vehicle and unit, and its first step: what fits is told at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from http import HTTPStatus
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.book.family import Family
from sourcing.faults import BadInput, shown
from sourcing.jobfile import JobFile, put_new
from sourcing.jobtext import Lines, new_text
from sourcing.page.asked import Checked, Form, Shop
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.forms import plain, unit_fields
from sourcing.page.live import Live
from sourcing.page.step import save_step, show_step
from sourcing.tomltext import literal

router = APIRouter(include_in_schema=False)


@router.get("/new")
def new(request: Request, desk: Shop, family: str = "") -> Response:
    """An empty form; where the shop has several families, first the question which one."""
    known = desk.families()
    chosen = next((one for one in known if one.code == family), known[0] if len(known) == 1 else None)
    if chosen is None:
        return page(request, "families.html", families=known)
    lines = {
        "job.family": literal(chosen.code),
        "job.date": date.today().isoformat(),
        "job.number": literal(_next(desk)),
    }
    return _new(request, desk, chosen, lines, [])


@router.post("/new")
def begin(request: Request, desk: Shop, form: Checked) -> Response:
    """Write the new job's file, and go on to the bench."""
    family = desk.shelf().family(form.get("family"), "family")
    lines = _lines(form, family)
    if "show" in form:
        return _new(request, desk, family, lines, [])
    path = desk.reach.new_job(form.get("number"))
    try:
        put_new(path, lines, lambda text: desk.check(path, text))
    except BadInput as error:
        return _new(request, desk, family, lines, [str(fault) for fault in error.faults])
    return RedirectResponse(f"/jobs/{path.stem}/bench?saved=1", HTTPStatus.SEE_OTHER)


@router.post("/new/live")
def live_new(request: Request, desk: Shop, form: Checked) -> Response:
    """Which designs fit, before anything is saved; part of a page."""
    family = desk.shelf().family(form.get("family"), "family")
    return page(request, "live.html", family=family, **_beside_new(desk, _lines(form, family)))


@router.get("/jobs/{name}/unit")
def unit(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """Vehicle and unit of a job."""
    return show_step(request, desk, name, "unit", saved)


@router.post("/jobs/{name}/unit")
def save_unit(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save vehicle and unit, or show what they would make fit."""
    return save_step(request, desk, name, "unit", form)


def _lines(form: Form, family: Family) -> dict[str, str]:
    return {key: value for key, value in unit_fields(form, family, {}).items() if value is not None}


def _next(desk: Desk) -> str:
    """A number for a new job: one above the greatest, where the shop numbers its jobs."""
    numbers = []
    for name in desk.reach.job_names():
        try:
            said = desk.file(name).lines.get("job.number", "")
        except BadInput:
            continue
        numbers += [int(said.strip('"'))] if said.strip('"').isdecimal() else []
    return str(max(numbers, default=0) + 1)


def _beside_new(desk: Desk, lines: Lines) -> dict[str, Any]:
    file = JobFile(desk.reach.jobs / "new job", new_text(lines))
    try:
        return {"live": Live(fits=desk.fits(file)), "which": "unit"}
    except BadInput as error:
        named = shown(file.path)
        return {
            "live": Live(faults=tuple(str(one).removeprefix(named).lstrip(", ") for one in error.faults)),
            "which": "unit",
        }


def _new(request: Request, desk: Desk, family: Family, lines: Lines, faults: Sequence[str]) -> Response:
    status = HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK
    return page(
        request, "new.html", status, family=family, said=plain(lines), faults=faults, **_beside_new(desk, lines)
    )
