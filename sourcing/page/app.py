"""The application of the counter page, made for one shop's folder."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import lru_cache
from pathlib import Path
from typing import cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

from sourcing import __version__
from sourcing.faults import BadInput, OurFault
from sourcing.page.asked import Forged
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.firstvisit import FirstVisit
from sourcing.page.guard import Guard, Rules
from sourcing.page.reach import NotThere, Reach
from sourcing.page.sessions import Sessions
from sourcing.page.tray import Tray
from sourcing.page.views import (
    answer,
    api,
    bench,
    book,
    came,
    charges,
    chart,
    charts,
    door,
    jobs,
    limits,
    papers,
    prices,
    sheets,
    start,
    together,
    unit,
    works,
)
from sourcing.page.works import Works
from sourcing.quote.style import STYLE
from sourcing.shop import read_shop

VIEWS = (
    door,
    jobs,
    unit,
    bench,
    limits,
    charges,
    answer,
    papers,
    came,
    charts,
    chart,
    sheets,
    prices,
    together,
    book,
    start,
    works,
    api,
)
STATIC = Path(__file__).parent / "static"
FORGED = ("This form was opened before the page was started again, or by another page than ours, and was not done. Go back, "
          "load the page again, and enter it once more.")  # fmt: skip


def create_app(reach: Reach, rules: Rules = Rules(), desk: Desk | None = None) -> FastAPI:  # noqa: B008 - frozen
    """The page of one shop.

    Parameters
    ----------
    reach : the shop's folders, all that the page may read and write
    rules : what the guard holds everybody to
    desk : who answers; left out, a desk over `reach`
    """
    asked = desk or Desk(reach)

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        asked.warm()
        yield
        asked.close()
        app.state.works.close()

    app = FastAPI(
        title="sourcing",
        version=__version__,
        description="What the counter page shows, as the objects that the command line prints with --json.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=life,
    )
    app.state.desk, app.state.rules, app.state.sessions = asked, rules, Sessions()
    app.state.works, app.state.tray = Works(), Tray(reach.tray)
    app.state.shop_name = _shop_name(asked)
    for view in VIEWS:
        app.include_router(view.router)
    app.mount("/static", StaticFiles(directory=STATIC))
    app.add_api_route("/paper.css", _paper, include_in_schema=False)
    _say_what_went_wrong(app)
    app.add_middleware(FirstVisit, catalogs=reach.catalogs)
    app.add_middleware(Guard, rules=rules, sessions=app.state.sessions)
    return app


def _paper() -> Response:
    """The look that pages share with the report on paper."""
    return Response(STYLE, media_type="text/css", headers={"cache-control": "max-age=3600"})


def _shop_name(desk: Desk) -> Callable[[], str]:
    """The shop's name from its letterhead; nothing where shop.toml cannot be read."""

    @lru_cache(maxsize=1)
    def named(_changed: int) -> str:
        try:
            return read_shop(desk.reach.catalogs / "shop.toml").letterhead.name
        except BadInput:
            return ""

    def now() -> str:
        path = desk.reach.catalogs / "shop.toml"
        return named(path.stat().st_mtime_ns) if path.is_file() else ""

    return now


def _say_what_went_wrong(app: FastAPI) -> None:
    """Each way in which a request can fail, as a page or, for scripts, as an object."""

    def for_scripts(request: Request) -> bool:
        return request.url.path.startswith("/api/")

    def told(request: Request, status: int, title: str, *lines: str) -> Response:
        if for_scripts(request):
            return JSONResponse({"detail": [title, *lines] if lines else title}, status)
        whole = "hx-request" not in request.headers  # a part of a page otherwise: the panel beside a form
        return page(request, "trouble.html" if whole else "troubled.html", status, title=title, lines=lines)

    def bad_input(request: Request, error: Exception) -> Response:
        faults = cast(BadInput, error).faults
        if for_scripts(request):
            told_faults = [{"code": fault.code, "where": fault.where, "says": str(fault)} for fault in faults]
            return JSONResponse({"detail": "bad input", "faults": told_faults}, 422)
        return told(request, 422, "A file cannot be used", *map(str, faults))

    def not_there(request: Request, error: Exception) -> Response:
        return told(request, 404, "Not there", str(error))

    def forged(request: Request, _: Exception) -> Response:
        return told(request, 403, "Not done", FORGED)

    def refused(request: Request, error: Exception) -> Response:
        known = cast(HTTPException, error)
        answer = told(request, known.status_code, str(known.detail))
        answer.headers.update(known.headers or {})  # the methods that are allowed, among them
        return answer

    def misread(request: Request, error: Exception) -> Response:
        known = cast(RequestValidationError, error).errors()
        return told(
            request, 422, "Not understood", *(f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in known)
        )

    def not_written(request: Request, error: Exception) -> Response:
        known = cast(OSError, error)
        what = f"{Path(str(known.filename)).name if known.filename else 'A file'}: {known.strerror or 'it cannot be written'}."
        return told(request, 409, "Nothing was written", what, "Close it in any other program, then try again.")

    def our_fault(request: Request, error: Exception) -> Response:
        return told(request, 500, "This is a defect of the tool, and no quote was made", str(error))

    app.add_exception_handler(BadInput, bad_input)
    app.add_exception_handler(NotThere, not_there)
    app.add_exception_handler(Forged, forged)
    app.add_exception_handler(HTTPException, refused)
    app.add_exception_handler(RequestValidationError, misread)
    app.add_exception_handler(OSError, not_written)
    app.add_exception_handler(OurFault, our_fault)
