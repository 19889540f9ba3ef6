"""What is on the bench: marks ticked for each part, and the next best look."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.page.asked import Checked, Shop
from sourcing.page.step import save_step, show_step

router = APIRouter(include_in_schema=False)


@router.get("/jobs/{name}/bench")
def bench(request: Request, name: str, desk: Shop, saved: bool = False) -> Response:
    """What was seen on each part, and what it can be."""
    return show_step(request, desk, name, "bench", saved)


@router.post("/jobs/{name}/bench")
def save_bench(request: Request, name: str, desk: Shop, form: Checked) -> Response:
    """Save what was seen, or only show what it would be."""
    return save_step(request, desk, name, "bench", form)
