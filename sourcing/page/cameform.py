"""What came, as a form says it, as lines of the job's file."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

from sourcing.book.family import Family
from sourcing.jobtext import Lines, dotted, literal

if TYPE_CHECKING:
    from sourcing.page.forms import Fields, Said

MOST_DUE = 60


def came_fields(said: Said, family: Family, base: Lines) -> Fields:
    """Each part that came under its position, each that cannot be had under `unavailable`; what is taken out again goes."""
    fields: Fields = {}
    listed = tomllib.loads(f"x = {base.get('limits.unavailable', '[]')}")["x"]
    had = [one for one in listed if one not in said.all("had")]
    for position in said.all("out"):
        fields |= _nothing_at(position, base)
    for number in range(MOST_DUE):
        what, position = said.get(f"what-{number}"), said.get(f"position-{number}")
        supplier, spelt = said.get(f"supplier-{number}"), said.get(f"number-{number}")
        if what in ("right", "wrong") and position in family.position:
            design = said.get(f"design-{number}") if what == "right" else said.get(f"instead-{number}")
            fields |= _nothing_at(position, base)
            fields |= _at(position, {
                "design": literal(design), "source": '"received"', "supplier": literal(supplier), "part_number": literal(spelt),
                "cost": _amount(said.get(f"cost-{number}")), "came": _day(said.get("came")),
            })  # fmt: skip
        elif what == "missing" and f"{supplier}/{spelt}" not in had:
            had.append(f"{supplier}/{spelt}")
    if had != listed:
        fields["limits.unavailable"] = literal(had) if had else None
    return fields


def _at(position: str, said: dict[str, str]) -> Fields:
    return {dotted(("in_hand", position, key)): value for key, value in said.items() if value}


def _nothing_at(position: str, base: Lines) -> Fields:
    at = dotted(("in_hand", position))
    return {key: None for key in base if key == at or key.startswith(f"{at}.")}


def _amount(said: str) -> str:
    return said if re.fullmatch(r"\d{1,8}\.\d{2}", said) else literal(said)


def _day(said: str) -> str:
    try:
        tomllib.loads(f"x = {said}")
    except ValueError:
        return literal(said)
    return said if re.fullmatch(r"\d{4}-\d{2}-\d{2}", said) else literal(said)
