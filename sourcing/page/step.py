"""A step of a job that is one form: drawn with what the file says, saved, or drawn again with what was typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from fastapi import Request
from fastapi.responses import Response

from sourcing.book.family import Family
from sourcing.jobfile import JobFile
from sourcing.jobtext import Lines, text_of
from sourcing.page.asked import Form
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.forms import plain
from sourcing.page.live import beside
from sourcing.page.saving import edited, keep
from sourcing.plan import Plan

More = Callable[[Desk], Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Head:
    """What stands above every step of a job."""

    number: str
    family: str
    date: str
    need_by: str
    customer: str


def head_of(plan: Plan) -> Head:
    """The head of a job that was answered."""
    said, family = plan.problem.job.job, plan.problem.family
    need_by = said.need_by.isoformat() if said.need_by else ""
    return Head(said.number, family.family.name, said.date.isoformat(), need_by, said.customer)


def _head_of(lines: Lines, family: Family) -> Head:
    """The head of a job by its lines alone: its file need not be right."""
    said = {key: str(value) for key, value in plain(lines).items()}
    told = (said.get(f"job.{key}", "") for key in ("date", "need_by", "customer"))
    return Head(said.get("job.number", "?"), family.family.name, *told)


def nothing_more(_: Desk) -> Mapping[str, Any]:
    return {}


def show_step(request: Request, desk: Desk, name: str, which: str, saved: bool, more: More = nothing_more) -> Response:
    """The form `which` of a job, from the template of that name; `more` is what its template needs besides."""
    file = desk.file(name)
    values = _values(desk, name, which, file, file.version, file.lines, file.lines, file, ())
    return page(request, f"{which}.html", **{**values, "note": "Saved." if saved else ""}, **more(desk))


def save_step(request: Request, desk: Desk, name: str, which: str, form: Form, more: More = nothing_more) -> Response:
    """Save such a form; or, where the button "show" was pressed, only tell what it would lead to."""
    change = edited(desk, name, which, form)

    def again(lines: Lines, faults: Sequence[str]) -> Response:
        values = _values(desk, name, which, change.file, change.version, change.base, lines, change.unsaved, faults)
        status = HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK
        return page(request, f"{which}.html", status, **values, **more(desk))

    if "show" in form:
        return again(change.lines, [])
    return keep(request, desk, name, change, f"/jobs/{name}/{which}", again)


def _values(
    desk: Desk,
    name: str,
    which: str,
    file: JobFile,
    version: str,
    base: Lines,
    lines: Lines,
    unsaved: JobFile,
    faults: Sequence[str],
) -> dict[str, Any]:
    family = desk.family(base)
    return {
        "name": name, "step": which, "family": family, "head": _head_of(base, family), "said": plain(lines), "lines": lines,
        "faults": faults, "version": version, "opened": text_of(base), "unsaved": unsaved != file, **beside(desk, which, unsaved),
    }  # fmt: skip
