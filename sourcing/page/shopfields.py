"""The fields of the shop itself, by the dotted keys of shop.toml: a page for each matter."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sourcing.labels import languages
from sourcing.page.fields import Field, Kind

PAGES = {
    "shop": Kind("shop", "the shop", "The shop", "Rates, taxes and working days.", alone=True),
    "markup": Kind(
        "markup", "mark-up", "Mark-up and currencies", "What the customer pays for a part, and what money from elsewhere costs.",
        alone=True,
    ),
    "shelf": Kind(
        "shelf", "the shelf", "Wanted for the shelf",
        "Pieces that are bought beyond a job's need where that makes the whole cheaper: to reach a price break, or free freight.",
        alone=True,
    ),
    "letterhead": Kind(
        "letterhead", "letterhead", "Letterhead", "What stands on the papers that leave the house. All of it may be left out.",
        alone=True,
    ),
}  # fmt: skip


def shop_fields(page: str, catalogs: Path, designs: Iterable[tuple[str, str]] = ()) -> list[Field]:
    """The fields of one of the shop's pages; `designs` are those of all its books."""
    match page:
        case "shop":
            return _rates()
        case "markup":
            return _markup()
        case "shelf":
            return [wanted_field(designs)]
    return _letterhead(catalogs)


def wanted_field(designs: Iterable[tuple[str, str]]) -> Field:
    """What is wanted for the shelf: of the shop, or of a job."""
    return Field(
        "wanted", "Designs wanted", "table", "Each design once.", least=3, one="Design wanted",
        columns=(
            Field("design", "Design", "pick", options=tuple(designs), blank="none", broad=True),
            Field("pieces", "Pieces", "number", mode="numeric"),
            Field("worth", "Worth of a piece", "number", mode="decimal"),
        ),
    )  # fmt: skip


def _rates() -> list[Field]:
    return [
        Field("currency", "Currency", hint="Three letters.", needed=True),
        Field("labour_rate", "What an hour is charged at", "number", needed=True, mode="decimal"),
        Field("labour_cost", "What an hour costs you", "number", "Nothing: what it is charged at.", mode="decimal"),
        Field("comeback_cost", "What a unit that comes back costs you", "number", needed=True, mode="decimal"),
        Field("day_cost", "What a working day of waiting costs", "number", mode="decimal"),
        Field("holidays", "Days on which nobody works", "days",
              "Besides Saturday and Sunday, between commas: 2026-05-25, 2026-12-25."),
        Field("worth_changing", "An exact block is recommended up to so much more", "number", mode="decimal"),
        Field("tax_parts", "Tax on parts", "number", "A rate, such as 0.065.", mode="decimal"),
        Field("tax_labour", "Tax on labour", "number", mode="decimal"),
        Field("tax_cores", "Tax on core charges", "number", "On those that the customer pays.", mode="decimal"),
        Field("shop_supplies.share", "Shop supplies, as a share of labour", "number", "From 0 to 1, such as 0.04.",
              mode="decimal"),
        Field("shop_supplies.cap", "Shop supplies, at most", "number", "Nothing: no end.", mode="decimal"),
        Field("quote_days", "Days for which a quote holds", "number", mode="numeric"),
        Field("mixed_share", "How often a part was swapped before a unit came to you", "number",
              "A share, 0.1 where nothing is said: what the bench reckons with.", mode="decimal"),
    ]  # fmt: skip


def _markup() -> list[Field]:
    return [
        Field("markup", "Mark-up", "table",
              "By what a part costs you, from the cheapest up. The last step has no end. Sold at cost times factor.", least=4,
              one="Step",
              columns=(
                  Field("up_to", "Parts up to", "number", mode="decimal"),
                  Field("factor", "Factor", "number", mode="decimal"),
              )),
        Field("fx", "Exchange rates", "named", "What one unit of a supplier's currency costs in yours.", least=2,
              one="Exchange rate",
              columns=(Field("currency", "Currency"), Field("rate", "Costs", "number", mode="decimal"))),
    ]  # fmt: skip


def _letterhead(catalogs: Path) -> list[Field]:
    return [
        Field("letterhead.name", "The shop's name"),
        Field("letterhead.address", "Address", "lines", "At most five lines."),
        Field("letterhead.phone", "Telephone"),
        Field("letterhead.mail", "Mail"),
        Field("letterhead.tax_number", "Tax number"),
        Field("letterhead.logo", "Picture", "pick", "A .png or .jpg of the shop's folder, at most 1 MB; send one in below.",
              options=tuple((name, name) for name in pictures_in(catalogs)), blank="none"),
        Field("letterhead.terms", "Terms of payment", "long"),
        Field("letterhead.warranty", "Warranty", "long"),
        Field("letterhead.closing", "Last words", "long"),
        Field("letterhead.paper", "Paper", "pick", options=(("letter", "letter"), ("a4", "A4")), blank="by the currency"),
        Field("letterhead.language", "Language of the customer's papers", "pick", "Two letters.",
              options=tuple((code, code) for code in languages()), default="en"),
    ]  # fmt: skip


def pictures_in(catalogs: Path) -> list[str]:
    """The pictures that stand beside shop.toml."""
    return sorted(
        path.name
        for path in catalogs.iterdir()
        if path.suffix.lower() in (".png", ".jpg", ".jpeg") and path.is_file() and not path.name.startswith(".")
    )
