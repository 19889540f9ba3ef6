"""Elements of a page as text: whatever is put into one is escaped, unless it is an element itself."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from sourcing.quote.sheets.texts import clean

EMPTY = frozenset({"meta", "path", "line", "circle", "rect"})


class Markup(str):
    """Text that is well-formed already: the only kind that `tag` does not escape."""

    __slots__ = ()


Inside = str | int | None


def said(text: Inside) -> Markup:
    """A text as it may stand in an element or an attribute: no control or turning signs, nothing that opens an element."""
    if isinstance(text, Markup):
        return text
    return Markup("" if text is None else escape(clean(str(text)), quote=True))


def tag(element: str, *inside: Inside, **attributes: str | float | None) -> Markup:
    """One element. An attribute's "_" stands for "-", a last one is dropped; None leaves the attribute out.

    >>> tag("p", "1 < 2", class_="small")
    '<p class="small">1 &lt; 2</p>'
    """
    given = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{said(_number(value))}"'
        for name, value in attributes.items()
        if value is not None
    )
    if element in EMPTY:
        return Markup(f"<{element}{given}/>")
    return Markup(f"<{element}{given}>{''.join(map(said, inside))}</{element}>")


def join(parts: Iterable[Inside]) -> Markup:
    """Several elements or texts after one another."""
    return Markup("".join(map(said, parts)))


def name(text: str) -> Markup:
    """A name out of a file: whichever way its script runs, it does not turn the words around it."""
    return tag("bdi", text)


def _number(value: str | float) -> str:
    """A coordinate to a tenth of a unit, so that equal pictures are equal text."""
    return f"{value:.1f}".removesuffix(".0") if isinstance(value, float) else str(value)
