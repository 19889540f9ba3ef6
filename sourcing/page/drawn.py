"""Templates filled in: whatever comes from a file or a form is escaped, and cleaned of signs that turn what follows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from sourcing.book import benchwords
from sourcing.money import text
from sourcing.quote import tags
from sourcing.quote.pictures import MINIMISED
from sourcing.quote.sheets.texts import clean


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("sourcing.page"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_fit,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"cents": text, "percent": benchwords.percent, "drawn": drawn, "cap": _capital}
    made.globals |= {"benchwords": benchwords, "least": MINIMISED}
    return made


def _fit(value: Any) -> Any:
    """A value as it may stand in a page. What is markup already stays as it is."""
    match value:
        case Markup():
            return value
        case tags.Markup():
            return Markup(str(value))
        case None:
            return ""
        case str():
            return "\n".join(map(clean, value.split("\n")))
        case date():
            return value.isoformat()
    return value


def drawn(markup: tags.Markup | None) -> Markup:
    """An element that one of our own writers made, as markup."""
    assert markup is None or isinstance(markup, tags.Markup)
    return Markup(str(markup or ""))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def page(request: Request, template: str, status: int = 200, /, **values: Any) -> HTMLResponse:
    """A page, or a part of one, as an answer."""
    return HTMLResponse(filled(request, template, values), status)


def filled(request: Request, template: str, values: Mapping[str, Any]) -> str:
    """A template filled in, with what every page knows: the shop, the session's token, whether somebody signed in."""
    shop = request.app.state.shop_name
    session = request.scope["state"]["session"]
    common = {
        "path": request.url.path,
        "shop": shop(),
        "token": session.token,
        "locked": bool(request.app.state.rules.password),
        "signed_in": session.signed_in,
        "note": "",
    }
    return _environment().get_template(template).render({**common, **values})
