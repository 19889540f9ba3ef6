"""The forms of a job: what each asks, as fields to draw; what comes back, as lines of the job's file.

A form says of each key that it governs what is to stand there, or None. Whether that will do is for the job's own model to
say: a text that is no number is passed on as a text, and comes back as a fault with its place.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from sourcing.book.family import NONE, Family, Inspection, Mark
from sourcing.jobtext import Lines
from sourcing.page.cameform import came_fields
from sourcing.page.chargeform import charge_fields
from sourcing.page.fields import Fields, Said
from sourcing.page.fieldsaid import reading_in
from sourcing.tomltext import dotted, literal

MARKS = "marks"  # of a position: known by its marks


FormOf = Callable[[Said, Family, Lines], Fields]


def unit_fields(said: Said, family: Family, base: Lines) -> Fields:
    """Job, vehicle and unit. A fact stays under the table in which the file has it; a new one goes where the book has it."""
    fields: Fields = {
        "job.number": _text(said.get("number")),
        "job.family": literal(family.code),
        "job.customer": _text(said.get("customer")),
        "job.date": _plain(said.get("date")),
        "vehicle.vin": _text(said.get("vehicle-vin").upper()),
        "vehicle.built": _text(said.get("vehicle-built")),
        "vehicle.model_year": _plain(said.get("vehicle-model-year")),
        "unit.tag": _text(said.get("unit-tag")),
        "unit.built": _text(said.get("unit-built")),
        "unit.model_year": _plain(said.get("unit-model-year")),
    }
    for fact in family.facts:
        value = _text(said.get(f"fact-{fact.code}"))
        vehicle, unit = dotted(("vehicle", "facts", fact.code)), dotted(("unit", "facts", fact.code))
        here = [key for key in (vehicle, unit) if key in base] or [vehicle if fact.of == "vehicle" else unit]
        fields |= dict.fromkeys(here, value)
    return fields


def bench_fields(said: Said, family: Family, base: Lines) -> Fields:
    """What was found at each position, what was measured on it, and what may go back in."""
    fields: Fields = {}
    for position in family.position:
        fields |= _found(said, family, position, base)
    for inspection in family.inspections:
        key = dotted(("readings", inspection.code))
        fields[key] = _reading(inspection, said.get(f"reading-{inspection.code}"), base.get(key))
    keep = [position for position in family.position if position in said.all("keep")]
    fields["limits.keep"] = literal(keep) if keep else _empty("limits.keep", base)
    return fields


def _reading(inspection: Inspection, said: str, stands: str | None) -> str | None:
    """A reading: a number where numbers pass, otherwise as it was typed."""
    if stands is not None and _shown(stands) == said:
        return stands
    reading = reading_in(said)
    of_numbers = any(isinstance(one, Decimal) for one in inspection.accept)
    return literal(reading) if of_numbers and reading is not None else _text(said)


def _found(said: Said, family: Family, position: str, base: Lines) -> Fields:
    at = dotted(("found", position))
    marks = {mark.code: said.get(f"mark-{mark.code}") for mark in family.marks if mark.position == position}
    seen = {code: value for code, value in marks.items() if value}
    known = said.get(f"known-{position}")
    fields: Fields = {key: None for key in base if key == at or key.startswith(f"{at}.")}
    if known and known != MARKS:
        return fields | {at: literal(known)}
    if seen:
        told = {dotted(("found", position, code)): _mark(family.mark[code], value) for code, value in seen.items()}
        return fields | told
    return fields


def _mark(mark: Mark, value: str) -> str:
    """A mark as the book writes it, where it lists the value; otherwise as a number where it is one."""
    for one in mark.values or ():
        if str(one) == value:
            return literal(one)
    return literal(int(value)) if re.fullmatch(r"-?\d{1,15}", value) else literal(value)


def limit_fields(said: Said, family: Family, base: Lines) -> Fields:
    """What a plan must respect, besides the rules of fitment; by when, and what is to be least."""
    fields: Fields = {
        "job.need_by": _plain(said.get("need_by")),
        "job.minimise": _unless(said.get("minimise"), "whole", "job.minimise", base),
        "labour.base_hours": _plain(said.get("base_hours")),
        "limits.min_warranty_months": _unless_zero(said.get("min_warranty_months"), base),
        "limits.max_suppliers": _plain(said.get("max_suppliers")),
    }
    for name in ("require", "exclude", "avoid_suppliers"):
        key = f"limits.{name}"
        chosen = list(dict.fromkeys(said.all(name)))
        fields[key] = literal(chosen) if chosen else _empty(key, base)
    for name in ("conditions", "suppliers", "cores"):
        key = f"limits.{name}"
        fields[key] = literal(list(dict.fromkeys(said.all(name)))) if said.get(f"some-{name}") else None
    return fields


FORMS: Mapping[str, FormOf] = {
    "unit": unit_fields, "bench": bench_fields, "limits": limit_fields, "charges": charge_fields, "came": came_fields,
}  # fmt: skip
"""Every form by its name; a new one is listed here, and its template says `form` in a hidden field."""


def plain(lines: Lines) -> dict[str, Any]:
    """Lines as plain values, for a form to be filled with: a list is a list, of tables where it is one; all else is a text."""
    return {key: _shown(value) for key, value in lines.items()}


def _shown(value: str) -> Any:
    told = tomllib.loads(f"x = {value}", parse_float=Decimal)["x"]
    if isinstance(told, list):
        return [one if isinstance(one, dict) else str(one) for one in told]
    if isinstance(told, bool):
        return "true" if told else "false"
    return str(told)


def in_words(line: str | None) -> str:
    """What a line says, for a person to choose by: of a list of tables a row after the other, "" where there is none."""
    if line is None or not re.match(r"\[\s*\{", line):
        return line or ""
    return "; ".join(", ".join(f"{key} {one}" for key, one in row.items()) for row in plain({"x": line})["x"])


def keys_in_words(key: str, family: Family | None) -> str:
    """A key of a job's file as a person calls it."""
    table, *rest = re.findall(r'"(?:[^"\\]|\\.)*"|[^.]+', key)
    names = [one.strip('"') for one in rest]
    named = list(_named(table, names, family)) if family else names
    return ": ".join([_TABLES.get(table, table), *named])


def _named(table: str, names: list[str], family: Family) -> Iterator[str]:
    for name in names:
        if table in ("found", "in_hand") and name in family.position:
            yield family.position[name].name
        elif name in family.mark and table == "found":
            yield family.mark[name].ask
        elif name in family.fact and table in ("vehicle", "unit"):
            yield family.fact[name].ask
        elif name in family.inspection and table == "readings":
            yield family.inspection[name].ask
        elif name != "facts":
            yield _KEYS.get(name, name.replace("_", " "))


_TABLES = {"job": "Job", "vehicle": "Vehicle", "unit": "Unit", "found": "Found", "limits": "Limits", "labour": "Labour",
           "readings": "Measured", "in_hand": "In hand", "quote": "Quote",
           "wanted": "Wanted for the shelf", "extra": "Charged besides"}  # fmt: skip
_KEYS = {"need_by": "needed by", "keep": "may go back in", "require": "must be", "exclude": "must not be",
         "vin": "VIN", "conditions": "conditions allowed", "suppliers": "suppliers allowed",
         "minimise": "what is to be least"}  # fmt: skip


def _text(said: str) -> str | None:
    return literal(said) if said else None


def _plain(said: str) -> str | None:
    """A number or a date as such; anything else as a text, for the model to speak of."""
    if re.fullmatch(r"[1-9]\d{0,14}|0", said):
        return said
    if re.fullmatch(r"\d{1,12}\.\d{1,9}", said):
        return literal(Decimal(said))
    if re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", said):
        return said if _is_day(said) else literal(said)
    return _text(said)


def _is_day(said: str) -> bool:
    try:
        tomllib.loads(f"x = {said}")
    except ValueError:
        return False
    return True


def _unless(said: str, default: str, key: str, base: Lines) -> str | None:
    """A choice; where it is what holds anyway, only if the file says so already."""
    return literal(said) if said and (said != default or key in base) else None


def _unless_zero(said: str, base: Lines) -> str | None:
    return None if said in ("", "0") and "limits.min_warranty_months" not in base else _plain(said or "0")


def _empty(key: str, base: Lines) -> str | None:
    """An empty list stays where the file has one: that is no change."""
    return base[key] if base.get(key) == "[]" else None


def holds_none(family: Family, position: str) -> bool:
    """Whether a position may stay empty."""
    return NONE in family.holds[position]
