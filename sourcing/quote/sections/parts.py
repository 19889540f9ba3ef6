"""What every section of the report is made of: tables that scroll by themselves, pictures with their numbers beside them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sourcing.plan import Plan
from sourcing.quote.picture import Picture
from sourcing.quote.scales import cut
from sourcing.quote.svg import draw
from sourcing.quote.tags import Inside, Markup, join, name, tag

WIDE, NARROW = 720, 340


def section(title: str, *inside: Inside) -> Markup:
    return tag("section", tag("h2", title), *inside)


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[Inside]], numbers: Iterable[int] = ()) -> Markup:
    """A table whose first column heads its rows.

    Parameters
    ----------
    caption : said above it
    head : what stands in each column
    rows : cells, as many as `head`
    numbers : columns of numbers and dates, which stand to the right and are never broken
    """
    right = set(numbers)

    def look(column: int) -> str | None:
        return "number" if column in right else None

    heads = (tag("th", words, scope="col", class_=look(column)) for column, words in enumerate(head))
    body = (
        tag("tr", *(
            tag("td" if column else "th", cell, scope=None if column else "row", class_=look(column))
            for column, cell in enumerate(row)
        ))
        for row in rows
    )  # fmt: skip
    made = tag("table", tag("caption", caption), tag("thead", tag("tr", *heads)), tag("tbody", *body))
    return tag("div", made, class_="scroll", tabindex=0, role="region", aria_label=caption)


def figure(picture: Picture, key: str, numbers: Markup) -> Markup:
    """A picture in two widths, of which the page shows the one that fits, with its numbers as a table beside it."""
    if picture.empty:
        return join((tag("h3", picture.title), tag("p", "Nothing to be drawn: there is no plan.")))
    note = cut(picture)
    drawn = tag(
        "figure",
        draw(picture, f"{key}-wide", WIDE),
        draw(picture, f"{key}-narrow", NARROW),
        tag("figcaption", note) if note else None,
    )
    return join((tag("h3", picture.title), tag("div", drawn, numbers, class_="beside")))


def bullets(items: Iterable[Inside]) -> Markup:
    listed = [tag("li", item) for item in items]
    return tag("ul", *listed) if listed else Markup("")


def combination(plan: Plan) -> Markup:
    """A plan's designs, position by position, by their codes."""
    assert plan.choice is not None
    family = plan.problem.family
    held = (join((family.position[code].name, ": ", name(design))) for code, design in plan.choice.combination.items())
    return join(part for item in held for part in (item, "; "))


def bought(plan: Plan) -> str:
    """What a plan buys, by supplier and number."""
    lines = plan.choice.purchases if plan.choice else ()
    told = ", ".join(f"{p.quantity} x {p.line.offer.supplier} {p.line.offer.part.number}" for p in lines)
    return told or "nothing is bought"
