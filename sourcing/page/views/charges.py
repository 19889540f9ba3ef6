"""What a job wants for the shelf, what is agreed about its price, and what is charged besides."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.faults import BadInput
from sourcing.page.asked import Checked, Shop
from sourcing.page.chargeform import EXTRA, discount_in, wanted_of
from sourcing.page.desk import Desk
from sourcing.page.fieldshown import shown_in
from sourcing.page.step import save_step, show_step
from sourcing.shop import Wanted, read_shop

router = APIRouter(include_in_schema=False)


def _more(desk: Desk) -> Mapping[str, Any]:
    """What the template needs besides: the fields of its rows, and what the shop wants for its shelf."""
    return {
        "extra": EXTRA,
        "wanted_of": wanted_of,
        "shown_in": shown_in,
        "discount_in": discount_in,
        "of_shop": _of_shop(desk),
    }


def _of_shop(desk: Desk) -> list[Wanted]:
    """The shop's own list; none where shop.toml cannot be read."""
    try:
        return read_shop(desk.reach.catalogs / "shop.toml").wanted
    except BadInput:
        return []


@router.get("/jobs/{name}/charges")
def charges(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """The shelf and the charges of a job."""
    return show_step(request, desk, name, "charges", saved, _more)


@router.post("/jobs/{name}/charges")
def save_charges(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save them, or only show what they would lead to."""
    return save_step(request, desk, name, "charges", form, _more)
