"""What a job's plan must respect: what must be and must not be, by when, from whom, in which condition."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.faults import BadInput
from sourcing.page.asked import Checked, Shop
from sourcing.page.desk import Desk
from sourcing.page.step import save_step, show_step
from sourcing.prices.suppliers import read_suppliers

router = APIRouter(include_in_schema=False)


def _suppliers(desk: Desk) -> Mapping[str, Any]:
    """The shop's suppliers by code, with their names; none where suppliers.toml cannot be read."""
    try:
        known = read_suppliers(desk.reach.catalogs / "suppliers.toml")
    except BadInput:
        return {"suppliers": {}}
    return {"suppliers": {code: one.name for code, one in known.items()}}


@router.get("/jobs/{name}/limits")
def limits(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """The limits of a job."""
    return show_step(request, desk, name, "limits", saved, _suppliers)


@router.post("/jobs/{name}/limits")
def save_limits(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save the limits, or only show what they would lead to."""
    return save_step(request, desk, name, "limits", form, _suppliers)
