"""The first visit: a shop's folder made, as `sourcing new` makes it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing.faults import BadInput
from sourcing.newfolder import Kind, Start, make_folder
from sourcing.page.asked import Checked, Shop
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.fieldsaid import number_in
from sourcing.page.firstvisit import START

router = APIRouter(include_in_schema=False)
FIELDS = {"kind": "empty", "name": "", "currency": "USD", "labour_rate": "", "family": "my-family", "family_name": ""}


@router.get(START)
def start(request: Request, desk: Shop) -> Response:
    """Choose the example or an empty folder."""
    return _start(request, desk, FIELDS, [])


def _start(request: Request, desk: Desk, said: dict[str, str], faults: Sequence[str]) -> Response:
    there = (desk.reach.catalogs / "shop.toml").is_file()
    status = HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK
    return page(request, "start.html", status, said=said, faults=faults, there=there)


@router.post(START)
def make(request: Request, desk: Shop, form: Checked) -> Response:
    """Make the folder; never over a file that is there."""
    said = {name: form.get(name) for name in FIELDS}
    try:
        make_folder(desk.reach.catalogs, desk.reach.jobs, _asked(said))
    except BadInput as error:
        return _start(request, desk, said, [str(fault) for fault in error.faults])
    except NoRate as error:
        return _start(request, desk, said, [str(error)])
    onward = "/" if form.get("kind") == "example" else f"/families/{said['family']}/book"
    return RedirectResponse(onward, HTTPStatus.SEE_OTHER)


class NoRate(ValueError):
    """A labour rate that is no amount."""


def _asked(said: dict[str, str]) -> Start:
    rate = number_in(said["labour_rate"])
    if isinstance(rate, str):
        raise NoRate(f'"{rate}" is no amount: expected one such as 95.00')
    amount = None if rate is None else Decimal(rate)
    kind: Kind = "example" if said["kind"] == "example" else "empty"
    return Start(
        kind, said["name"], said["currency"].upper(), amount, said["family"], said["family_name"] or said["family"]
    )
