"""The fields of a family's book: what each kind of entry asks, and what a part number does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sourcing.book.family import Family
from sourcing.page.fields import CONDITIONS, Field, Kind, Options, options_of

KINDS = {
    "era": Kind("era", "era", "Eras", "Spans of build months in which nothing changed that matters here."),
    "fact": Kind("fact", "fact", "Facts", "What must be asked of the vehicle or the unit, because it decides."),
    "position": Kind(
        "position", "position", "Positions", "The places in the unit that a part fills; exactly one leads."
    ),
    "mark": Kind("mark", "mark", "Marks", "What can be seen or counted on a part."),
    "design": Kind(
        "design", "design", "Designs", "The forms of a part, whoever makes it, and the eras that each belongs in."
    ),
    "rule": Kind(
        "rule",
        "rule",
        "Rules",
        "What belongs with what, and why. Take each from the maker's service information or your own tested practice.",
    ),
    "task": Kind("task", "task", "Tasks", "Work that a choice brings with it."),
    "consumable": Kind(
        "consumable",
        "consumable",
        "Consumables",
        "Fluid, gaskets and the like: charged to the customer, and no part of the choice.",
    ),
    "inspection": Kind(
        "inspection",
        "inspection",
        "Inspections",
        "What must be measured on a found part before it may go back in. Take the limits from the maker's service information.",
    ),
}
FAMILY = Kind("family", "family", "Name", "How the family is called, on the page and on paper.", alone=True)
PART = Kind("part", "part number", "Part numbers", "Which supplier's number is which design.")


def fields_of(kind: str, family: Family) -> list[Field]:
    """The fields of a kind of a book's entries."""
    return _FIELDS[kind](family)


def family_fields() -> list[Field]:
    """The fields of the family itself. Its code is its folder's name, and stays."""
    return [Field("family.name", "Name", needed=True)]


def _era(_: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True, hint="Your short word for it, such as early."),
        Field("name", "Name", needed=True),
        Field("from", "From", hint="A month, YYYY-MM.", needed=True),
        Field("to", "To", hint="A month, YYYY-MM; the last era may leave it out."),
        Field(
            "model_years",
            "Model years",
            "years",
            "Such as 1998-2001, 2003. A year in which it changed stands in both eras.",
        ),
    ]


def _fact(_: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("ask", "The question to the person at the bench", "long", needed=True),
        Field("values", "Its answers", "list", "Between commas.", needed=True),
        Field("of", "Asked of", "pick", options=(("unit", "the unit"), ("vehicle", "the vehicle")), default="unit"),
    ]


def _position(_: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("name", "Name", needed=True),
        Field("lead", "It leads: its design names the route", "flag", default=False),
        Field("optional", "A unit may run without it", "flag", default=False),
        Field("may_keep", "The found part may go back in", "flag", default=True),
        Field("conditions", "What may fill it", "ticks", options=CONDITIONS, default=["new", "reman", "used"]),
        Field("comeback_cost", "What it costs when it comes back", "number", "Nothing: the shop's.", mode="decimal"),
    ]


def _mark(family: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("position", "On the part of", "pick", options=_positions(family), needed=True),
        Field("ask", "What to look at", "long", needed=True),
        Field("values", "What may be seen", "list", "Between commas. Nothing: any number or text."),
        Field("needs", "What must come off to see it"),
    ]


def _design(family: Family) -> list[Field]:
    eras = options_of(family.era)
    return [
        Field("code", "Code", needed=True),
        Field("position", "Position", "pick", options=_positions(family), needed=True),
        Field("name", "Name", needed=True),
        Field("fitted", "The factory fitted it in", "ticks", options=eras, default=[]),
        Field("retrofits", "It may also go into", "ticks", options=eras, default=[]),
        Field("marks", "What can be seen on it", "marks"),
        Field("weight_kg", "Weight in kg", "number", "To the gram, such as 1.250.", mode="decimal"),
        Field("comeback_rate", "How often it comes back", "number", "From 0 to 1, or better as counted: 3/41."),
        Field("kept_comeback_rate", "How often, when the found one goes back in", "number", "Nothing: the same."),
    ]


def _rule(family: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("says", "The reason, as you would say it at the counter", "long", needed=True),
        Field("source", "Where it is written", needed=True),
        Field("caution", "What must be watched", "long",
              "Printed where the rule holds. Put one where a mistake can hurt somebody."),
        _when(family),
        Field("need", "Each of these holds one of", "pairs", "A line for each position, such as plate = plate-3, plate-4"),
        Field("never", "Not all of these at once", "pairs", "A line for each position."),
        Field("allow", "Together one of these rows", "rows",
              "The first line names the positions, such as block, plate. Each further line is a row: block-a, plate-1. "
              "* stands for anything."),
    ]  # fmt: skip


def _task(family: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("name", "Name", needed=True),
        Field("hours", "Hours", "number", mode="decimal"),
        Field("cost", "Materials, or work sent out", "number", mode="decimal"),
        _when(family),
        _replacing(family),
        Field("caution", "What must be watched", "long"),
    ]


def _consumable(family: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("name", "Name", needed=True),
        Field("quantity", "How much of it", "number", "Nothing: 1.", default=1, mode="decimal"),
        Field("unit", "Counted in", hint="Such as litre. Nothing: pieces."),
        Field("price", "What the customer pays for one", "number", "Taxed like parts.", needed=True, mode="decimal"),
        _when(family),
        _replacing(family),
    ]


def _inspection(family: Family) -> list[Field]:
    return [
        Field("code", "Code", needed=True),
        Field("position", "On the found part of", "pick", options=_positions(family), needed=True),
        Field("ask", "What to measure", "long", "The question to the person who measures.", needed=True),
        Field("unit", "Unit", hint="Such as ohm. Nothing: a plain number or a word."),
        Field("accept", "What passes", "readings",
              "Two numbers are a range, both ends included: 11.5, 16.0. Otherwise each reading that passes, between commas: tight.",
              needed=True),
        Field("caution", "What must be watched", "long", "It stands beside the reading."),
        Field("source", "Where it is written", needed=True),
    ]  # fmt: skip


def _positions(family: Family) -> Options:
    return options_of(family.position)


def _when(family: Family) -> Field:
    keys = ", ".join([*family.fact, *family.position])
    hint = f"A line for each of era, vehicle_era, {keys}: era = {next(iter(family.era))}. Nothing: always."
    return Field("when", "Only when", "pairs", hint)


def _replacing(family: Family) -> Field:
    return Field("replacing", "When one of these gets a bought part", "ticks", "None: whenever the above holds.",
                 options=_positions(family))  # fmt: skip


_FIELDS: Mapping[str, Callable[[Family], list[Field]]] = {
    "era": _era, "fact": _fact, "position": _position, "mark": _mark, "design": _design, "rule": _rule, "task": _task,
    "consumable": _consumable, "inspection": _inspection,
}  # fmt: skip


def part_fields(family: Family, suppliers: Mapping[str, Any]) -> list[Field]:
    """The fields of a part number."""
    designs = tuple((design.code, f"{design.name} ({design.code})") for design in family.designs)
    return [
        Field("supplier", "Supplier", "pick", options=options_of(suppliers), needed=True),
        Field("part_number", "Its part number", needed=True, hint="As on its sheets, leading zeros and all."),
        Field("fills", "It is", "ticks", "Several: a kit sold as one.", options=designs, needed=True),
        Field("condition", "Condition", "pick", options=CONDITIONS, needed=True),
        Field("warranty_months", "Warranty in months", "number", mode="numeric"),
        Field(
            "core_accepts", "Cores that bring the core charge back", "ticks", "None: like for like.", options=designs
        ),
        Field(
            "comeback_rate",
            "How often it comes back",
            "number",
            "Nothing: as its design. From 0 to 1, or as counted: 3/41.",
        ),
        Field("replaced_by", "The number that follows it"),
        Field("note", "Note"),
    ]
