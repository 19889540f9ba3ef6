"""A job's papers: made as the next revision, listed, and handed over."""

from __future__ import annotations

from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from sourcing.page.asked import Checked, Shop
from sourcing.page.drawn import page
from sourcing.page.step import head_of
from sourcing.page.views.answer import warned
from sourcing.quote.words import WORDS

router = APIRouter(include_in_schema=False)
KINDS = {
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".csv": "text/csv; charset=utf-8",
    ".html": "application/octet-stream",
}


@router.get("/jobs/{name}/papers")
def papers(request: Request, name: str, desk: Shop, made: str = "") -> Response:
    """The papers on file, and whether a new set can be made."""
    plan = desk.answered(desk.file(name)).plan
    note = {"new": "The papers were made.", "same": "Nothing changed since the last revision: nothing was written."}
    return page(
        request, "papers.html", name=name, step="papers", family=plan.problem.family, head=head_of(plan), plan=plan,
        words=WORDS[plan.status], cautions=warned(plan), newest=desk.reach.papers(name),
        revisions=desk.reach.revisions(name), note=note.get(made, ""),
    )  # fmt: skip


@router.post("/jobs/{name}/papers")
def make(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Make the papers as the next revision."""
    filed = desk.file_papers(name, desk.file(name))
    if filed is None:
        return RedirectResponse(f"/jobs/{name}/answer", HTTPStatus.SEE_OTHER)
    return RedirectResponse(f"/jobs/{name}/papers?made={'new' if filed.written else 'same'}", HTTPStatus.SEE_OTHER)


@router.get("/jobs/{name}/papers/{paper}")
def newest(name: str, paper: str, desk: Shop) -> Response:
    """A paper of the newest set."""
    path = desk.reach.paper(name, paper)
    return FileResponse(path, media_type=KINDS[path.suffix], filename=f"{name} {path.name}")


@router.get("/jobs/{name}/papers/revisions/{revision}/{paper}")
def of_revision(name: str, revision: int, paper: str, desk: Shop) -> Response:
    """A paper as it was given out with a revision."""
    path = desk.reach.paper(name, paper, revision)
    return FileResponse(path, media_type=KINDS[path.suffix], filename=f"{name} revision {revision} {path.name}")
