"""What a design costs and has cost, as `sourcing prices` tells it: its picture, and the numbers beside it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sourcing.faults import Fault
from sourcing.page.asked import Shop
from sourcing.page.drawn import page
from sourcing.pricehistory import families_of, history_of
from sourcing.prices.history import History
from sourcing.quote.pricepicture import MOST, prices_picture
from sourcing.quote.pricetable import now_table, part_words, turns_of
from sourcing.quote.sections.parts import figure, table

router = APIRouter(include_in_schema=False)


@router.get("/prices")
def prices(request: Request, desk: Shop) -> Response:
    """Every design of every book."""
    return page(request, "prices.html", families=desk.families())


@router.get("/prices/{code}/{design}")
def price(request: Request, code: str, design: str, desk: Shop) -> Response:
    """One design's prices, kits included."""
    folder = desk.folder()
    families_of(folder, design, code)
    family, currency = folder.family(code)[0], folder.shop.currency
    head: list[str] = []
    now: list[list[str]] = []
    listed: list[History] = []
    unread: list[Fault] = []
    drawing = None
    if folder.prices.days():
        listed, unread = history_of(folder, design, code)
    if listed:
        head, *now = now_table(listed, currency)
        turns = [(part_words(history), list(turns_of(history, currency))) for history in listed]
        rows = [(part, *turn) for part, dates in turns for turn in dates]
        numbers = table("At each date on which something changed", ["Part", "Date", f"Price ({currency})", "What else"],
                        rows, "-knw")  # fmt: skip
        drawing = figure(prices_picture(listed, family.name_of(design), currency), "prices", numbers)
    return page(
        request, "price.html", family=family, design=design, listed=listed, head=head, now=now,
        drawing=drawing, unread=unread, not_drawn=max(0, len(listed) - MOST), dated=bool(folder.prices.days()),
    )  # fmt: skip
