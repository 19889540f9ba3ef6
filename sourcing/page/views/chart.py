"""A family's chart for paper, and the holes of its book, as `sourcing chart` and `sourcing review` tell them."""

from __future__ import annotations

from http import HTTPStatus
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.book.review import review
from sourcing.book.reviewwords import UNNUMBERED, by_kind, head_of, holes_of, holes_words
from sourcing.bookshelf import numbers_of
from sourcing.page.asked import Shop
from sourcing.page.drawn import page
from sourcing.page.reach import NotThere
from sourcing.quote.wallpage import MARKS, SAFETY, wall_page
from sourcing.quote.wallsheet import wall_sheet

router = APIRouter(include_in_schema=False)
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("/families/{code}/wall")
def wall(request: Request, code: str, desk: Shop) -> Response:
    """Every cell with the numbers of its reasons, the reasons below: it prints as it stands."""
    chart = desk.chart(code)
    return page(request, "wall.html", chart=chart, family=chart.family, marks=MARKS, safety=SAFETY)


@router.get("/families/{code}/wall/{file}")
def paper(code: str, file: str, desk: Shop) -> Response:
    """The sheet and the page that the command writes."""
    chart = desk.chart(code)
    if file == "chart.xlsx":
        content, kind = wall_sheet(chart), XLSX
    elif file == "chart.html":
        content, kind = wall_page(chart).encode("utf-8"), "application/octet-stream"
    else:
        raise NotThere(f'The chart has no file "{file}".')
    name = quote(f"chart-{chart.family.code}.{file.rpartition('.')[2]}")
    return Response(content, HTTPStatus.OK, {"content-disposition": f"attachment; filename*=UTF-8''{name}"}, kind)


@router.get("/families/{code}/review")
def holes(request: Request, code: str, desk: Shop) -> Response:
    """What an author should look at, each with the smallest example that shows it."""
    shelf = desk.shelf()
    family = shelf.family(code, "family")
    parts = shelf.parts(family)
    found = review(family, None if parts is None else numbers_of(parts))
    return page(request, "review.html", family=family, head=head_of(family), said=holes_words(len(holes_of(found))),
                kinds=list(by_kind(found)), unnumbered=UNNUMBERED if parts is None else "")  # fmt: skip
