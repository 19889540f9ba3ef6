"""The letterhead on a sheet: the shop's name and reach on the left, its logo on the right."""

from __future__ import annotations

import io

from xlsxwriter.image import Image

from sourcing.letterhead import Letterhead, Picture
from sourcing.quote.sheets.page import Page

LOGO_HIGH, LOGO_WIDE = 64, 190  # pixels at most
PIXELS_A_POINT = 96 / 72


def draw_head(page: Page, head: Letterhead, describe: str) -> None:
    """Draw the letterhead over the top rows of a sheet; nothing where shop.toml gives none.

    `describe` is the logo's alternative text.
    """
    if not (head.name or head.contact or head.picture):
        return
    room = len(page.widths) - 1
    while room > 1 and sum(page.widths[room:]) * 7 < LOGO_WIDE:
        room -= 1
    top = page.points
    if head.picture:
        _picture(page, head.picture, describe)
    for look, line in (("name", head.name), *(("small", line) for line in head.contact)):
        if line:
            page.wide(0, room - 1, line, look)
            page.line([], look, first=len(page.widths))
    high = LOGO_HIGH / PIXELS_A_POINT + 4
    while head.picture and page.points - top < high:
        page.skip(1)
    page.rule()


def _picture(page: Page, picture: Picture, describe: str) -> None:
    drawn = Image(io.BytesIO(picture.content))
    across, down = picture.width * 96 / drawn.x_dpi, picture.height * 96 / drawn.y_dpi
    scale = min(LOGO_WIDE / across, LOGO_HIGH / down)
    left = sum(int(width * 7 + 5) for width in page.widths) - across * scale - 4
    page.sheet.insert_image(page.row, 0, "logo", {
        "image_data": io.BytesIO(picture.content), "x_offset": left, "y_offset": 2, "x_scale": scale, "y_scale": scale,
        "description": describe, "object_position": 1,
    })  # fmt: skip
