"""How far a piece of long work is, and its stop button."""

from __future__ import annotations

from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.page.asked import Checked
from sourcing.page.drawn import page
from sourcing.page.works import Background

router = APIRouter(include_in_schema=False)


@router.get("/works/{key}/progress")
def progress(request: Request, key: str, works: Background) -> Response:
    """How far it is, as part of a page; when it has ended, the page is to be loaded again."""
    work = works.of(key)
    said = page(request, "progress.html", work=work)
    if work.ended:
        said.headers["hx-refresh"] = "true"
    return said


@router.post("/works/{key}/stop")
def stop(key: str, works: Background, form: Checked) -> Response:
    """End it with what it has."""
    work = works.of(key)
    work.stop()
    return RedirectResponse(work.home, HTTPStatus.SEE_OTHER)
