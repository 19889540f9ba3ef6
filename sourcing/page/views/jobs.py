"""The open jobs as a list, a job's steps, and what two people saved at once."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.faults import BadInput
from sourcing.job import Job
from sourcing.jobfile import ChangedMeanwhile
from sourcing.page.asked import Checked, Form, Shop
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.forms import FORMS
from sourcing.page.live import beside
from sourcing.page.saving import clash, edited, keep, settled

router = APIRouter(include_in_schema=False)
STEPS = ("unit", "bench", "limits", "charges", "answer", "compare", "papers", "came")


@dataclass(frozen=True)
class Listed:
    """An open job in the list; its faults where it cannot be read."""

    name: str
    job: Job | None
    family: str
    faults: tuple[str, ...] = ()


def listed(desk: Desk) -> list[Listed]:
    """The open jobs, the latest date first."""
    shelf, found = desk.shelf(), []
    for name in desk.reach.job_names():
        try:
            file = desk.file(name)
            job = shelf.job_of(file.text, file.path)
            found.append(Listed(name, job, shelf.family(job.job.family).family.name))
        except BadInput as error:
            found.append(Listed(name, None, "", tuple(map(str, error.faults))))
    return sorted(
        found, key=lambda one: (one.job is not None, -(one.job.job.date.toordinal() if one.job else 0), one.name)
    )


@router.get("/")
def jobs(request: Request, desk: Shop) -> Response:
    """The open jobs."""
    return page(request, "jobs.html", jobs=listed(desk), families=desk.shelf().families)


@router.get("/jobs/{name}")
def job(name: str, desk: Shop) -> Response:
    """A job opens at its answer."""
    desk.reach.job(name)
    return RedirectResponse(f"/jobs/{name}/answer", HTTPStatus.SEE_OTHER)


@router.post("/jobs/{name}/live")
def live(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """What a form says before it is saved; part of a page."""
    which = form.get("form")
    if which not in FORMS:
        return Response(status_code=HTTPStatus.BAD_REQUEST)
    change = edited(desk, name, which, form)
    return page(request, "live.html", family=change.family, **beside(desk, which, change.unsaved))


@router.post("/jobs/{name}/settle")
def settle(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save what the second one chose, on top of what the first one saved."""
    change = settled(desk, name, form)
    onward = _onward(name, form)
    again = ChangedMeanwhile(change.file, {})
    return keep(
        request, desk, name, change, onward, lambda _, faults: clash(request, name, change, again, onward, faults)
    )


def _onward(name: str, form: Form) -> str:
    """Where a form leads: to a step of its own job, whatever it says."""
    wanted = form.get("onward")
    return wanted if wanted in {f"/jobs/{name}/{step}" for step in STEPS} else f"/jobs/{name}/answer"
