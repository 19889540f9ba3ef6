"""What a job wants for the shelf, and what is charged besides, as lines of the job's file."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from typing import Any

from sourcing.book.family import NONE, Family
from sourcing.jobtext import Lines
from sourcing.page.fields import Field, Fields, Said
from sourcing.page.fieldsaid import beside, kept_as_it_is, number_in, value_in
from sourcing.page.shopfields import wanted_field
from sourcing.tomltext import literal

EXTRA = Field(
    "extra", "Charged besides", "table", "Towing, storage, a fee.", least=2, one="Charge",
    columns=(
        Field("name", "For what", broad=True),
        Field("amount", "Amount", "number", mode="decimal"),
        Field("taxed", "Taxed like", "pick", default="parts",
              options=(("parts", "parts"), ("labour", "labour"), ("no", "not taxed"))),
    ),
)  # fmt: skip
DISCOUNT = "quote.discount"


def wanted_of(family: Family) -> Field:
    """What a job of a family may want for the shelf."""
    return wanted_field((one.code, f"{one.name} ({one.code})") for one in family.designs if one.code != NONE)


def charge_fields(said: Said, family: Family, base: Lines) -> Fields:
    """The shelf's list of the job, or the shop's; the discount, and what is charged besides."""
    fields: Fields = {"extra": _rows(EXTRA, said, base)}
    fields["wanted"] = (_rows(wanted_of(family), said, base) or "[]") if said.get("some-wanted") else None
    if said.get("discount") != discount_in(base):
        fields |= {key: None for key in base if key.startswith(f"{DISCOUNT}.")}
        fields[DISCOUNT] = _discount(said.get("discount"))
    return fields


def _rows(field: Field, said: Said, base: Lines) -> str | None:
    """The rows of a list; as the file has them where they say the same."""
    old = None if field.key not in base else _plain(base[field.key])
    new = value_in(field, said)
    if field.key in base and kept_as_it_is(field, old, new):
        return base[field.key]
    return None if new is None else literal(beside(field, old, new))


def _discount(said: str) -> str | None:
    """An amount as a number, a share as a text such as "5 %"."""
    number = number_in(said)
    return None if number is None else literal(re.sub(r"\s*%", " %", said) if isinstance(number, str) else number)


def discount_in(lines: Lines) -> str:
    """A job's discount as its form shows it, also where the file writes it as a table."""
    share = lines.get(f"{DISCOUNT}.share")
    if share is not None:
        return f"{_shown(Decimal(str(_plain(share))) * 100)} %"
    said = lines.get(DISCOUNT, lines.get(f"{DISCOUNT}.amount"))
    return "" if said is None else str(_plain(said))


def _shown(number: Decimal) -> str:
    return format(number.normalize(), "f")


def _plain(line: str) -> Any:
    return tomllib.loads(f"x = {line}", parse_float=Decimal)["x"]
