"""A form that carries a file, with its session's token checked; the guard counts its bytes while they come in."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import IO, Annotated

from fastapi import Depends, Request
from starlette.datastructures import FormData, UploadFile

from sourcing.page.asked import Forged, Form
from sourcing.page.sessions import is_token


class Upload(Form):
    """What such a form says, and the file named `file`; `name` is "" where none was chosen."""

    def __init__(self, data: FormData) -> None:
        super().__init__(data)
        sent = data.get("file")
        self.name = (sent.filename or "") if isinstance(sent, UploadFile) else ""
        self.file: IO[bytes] | None = sent.file if isinstance(sent, UploadFile) and self.name else None


async def checked_upload(request: Request) -> AsyncIterator[Upload]:
    """A form with a file, refused without its session's token."""
    async with request.form(max_files=1, max_fields=50) as data:
        said = data.get("token", "")
        if not isinstance(said, str) or not is_token(request.scope["state"]["session"], said):
            raise Forged
        yield Upload(data)


Sent = Annotated[Upload, Depends(checked_upload)]
