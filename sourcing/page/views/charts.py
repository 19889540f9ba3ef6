"""The compatibility chart of a family, with the reason behind every cell."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.page.asked import Shop
from sourcing.page.drawn import page

router = APIRouter(include_in_schema=False)


@router.get("/families")
def families(request: Request, desk: Shop) -> Response:
    """The families that have a book."""
    return page(request, "charts.html", families=desk.families())


@router.get("/families/{code}/chart")
def chart(request: Request, code: str, desk: Shop) -> Response:
    """Which block goes with what, era by era, and why not."""
    made = desk.chart(code)
    return page(request, "chart.html", chart=made, family=made.family)
