"""What a view is handed: the desk, the form of a request with its token checked, the job that a path names."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import FormData

from sourcing.page.desk import Desk
from sourcing.page.sessions import is_token


class Forged(Exception):
    """A form without the token of its session: from another page, or from before the page was started again."""


def the_desk(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


class Form:
    """What a form says; texts only, each trimmed."""

    def __init__(self, data: FormData) -> None:
        self._data = data

    def get(self, name: str) -> str:
        """What a field says; "" where it is not there."""
        said = self._data.get(name, "")
        return said.strip() if isinstance(said, str) else ""

    def all(self, name: str) -> list[str]:
        """Everything that boxes of one name say."""
        return [said for said in self._data.getlist(name) if isinstance(said, str)]

    def __contains__(self, name: str) -> bool:
        return name in self._data


async def checked_form(request: Request) -> Form:
    """A form, refused without its session's token. Every view that changes something asks for it."""
    data = await request.form(max_files=0, max_fields=2000)
    said = data.get("token", "")
    if not isinstance(said, str) or not is_token(request.scope["state"]["session"], said):
        raise Forged
    return Form(data)


Shop = Annotated[Desk, Depends(the_desk)]
Checked = Annotated[Form, Depends(checked_form)]
