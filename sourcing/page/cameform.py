"""What came, as a form says it, as lines of the job's file."""

from __future__ import annotations

import re
import tomllib

from sourcing.book.family import Family
from sourcing.jobtext import Lines
from sourcing.page.fields import Fields, Said
from sourcing.page.fieldsaid import number_in
from sourcing.tomltext import dotted, literal

MOST_DUE = 60


def came_fields(said: Said, family: Family, base: Lines) -> Fields:
    """Each part that is here under its position, each that cannot be had under `unavailable`; what is taken out again goes."""
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
    fields |= _here(said, family, base)
    if had != listed:
        fields["limits.unavailable"] = literal(had) if had else None
    return fields


def _here(said: Said, family: Family, base: Lines) -> Fields:
    """A part that lay in the shop, or that the customer brought: it goes to its design's position."""
    known = family.design.get(said.get("here-design"))
    if known is None:
        return {}
    cost = number_in(said.get("here-cost"))
    told = {
        "design": literal(known.code), "source": literal(said.get("here-source") or "shelf"),
        "supplier": literal(said.get("here-supplier")) if said.get("here-supplier") else "",
        "part_number": literal(said.get("here-number")) if said.get("here-number") else "",
        "cost": "" if cost is None else literal(cost),
    }  # fmt: skip
    return _nothing_at(known.position, base) | _at(known.position, told)


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
