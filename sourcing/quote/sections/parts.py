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


LOOKS = {"-": None, "n": "number", "k": "kept", "w": "words"}


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[Inside]], looks: str) -> Markup:
    """A table whose first column heads its rows.

    Parameters
    ----------
    caption : said above it
    head : what stands in each column
    rows : cells, as many as `head`
    looks : a letter for each column: "n" numbers and dates, to the right and never broken; "k" codes, never broken;
        "w" sentences, which get room; "-" anything else
    """
    classes = [LOOKS[look] for look in looks]
    heads = (tag("th", title, scope="col", class_=look) for title, look in zip(head, classes, strict=True))
    body = (
        tag("tr", *(
            tag("td" if column else "th", cell, scope=None if column else "row", class_=look)
            for column, (cell, look) in enumerate(zip(row, classes, strict=True))
        ))
        for row in rows
    )  # fmt: skip
    made = tag("table", tag("caption", caption), tag("thead", tag("tr", *heads)), tag("tbody", *body))
    return tag("div", made, class_="scroll", tabindex=0, role="region", aria_label=caption)


def figure(picture: Picture, key: str, numbers: Markup) -> Markup:
    """A picture in two widths, of which the page shows the one that fits, with its numbers as a table beside it."""
    if picture.empty:
        return join((tag("h3", picture.title), tag("p", "Nothing to be drawn: there is no plan.")))
    note = " ".join(words for words in (picture.note, cut(picture)) if words)
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
    held = [(family.position[code].name, name(design)) for code, design in plan.choice.combination.items()]
    return join(join(("; " if place else "", of, ": ", design)) for place, (of, design) in enumerate(held))


def bought(plan: Plan) -> str:
    """What a plan buys, by supplier and number."""
    lines = plan.choice.purchases if plan.choice else ()
    told = ", ".join(f"{p.quantity} x {p.line.offer.supplier} {p.line.offer.part.number}" for p in lines)
    return told or "nothing is bought"
