"""The door: where a password is asked for, and where somebody leaves."""

from __future__ import annotations

from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.page.asked import Checked
from sourcing.page.drawn import page
from sourcing.page.guard import DOOR, cookie_of
from sourcing.page.passwords import is_right

router = APIRouter(include_in_schema=False)


@router.get(DOOR)
def door(request: Request) -> Response:
    """Ask for the password."""
    if request.scope["state"]["session"].signed_in:
        return RedirectResponse("/", HTTPStatus.SEE_OTHER)
    return page(request, "door.html", wrong=False)


@router.post(DOOR)
def knock(request: Request, form: Checked) -> Response:
    """Let in whoever knows it, with a session of its own."""
    if not is_right(form.get("password"), request.app.state.rules.password):
        return page(request, "door.html", HTTPStatus.UNAUTHORIZED, wrong=True)
    session = request.app.state.sessions.signed_in(request.scope["state"]["session"])
    return RedirectResponse("/", HTTPStatus.SEE_OTHER, {"set-cookie": cookie_of(request.scope, session)})


@router.post("/leave")
def leave(request: Request, form: Checked) -> Response:
    """End the session."""
    request.app.state.sessions.end(request.scope["state"]["session"])
    return RedirectResponse(DOOR, HTTPStatus.SEE_OTHER)
