"""A folder without a shop in it: whatever is asked for, the page begins with making one."""

from __future__ import annotations

from http import HTTPStatus
from pathlib import Path

from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

START = "/start"
OPEN = (START, "/door", "/leave", "/static/", "/paper.css")


class FirstVisit:
    """A layer that leads to the start while the catalogs have no shop.toml."""

    def __init__(self, app: ASGIApp, catalogs: Path) -> None:
        self._app, self._shop = app, catalogs / "shop.toml"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = scope["type"] != "http" or scope["path"].startswith(OPEN) or scope["path"].startswith("/api/")
        if begun or self._shop.is_file():
            await self._app(scope, receive, send)
        else:
            await RedirectResponse(START, HTTPStatus.SEE_OTHER)(scope, receive, send)
