"""The forms of a book: what each entry asks, as fields to draw; what comes back, as the entry's values.

Whether a value will do is for the file's own model to say: a text that is no number is passed on as a text, and comes back as a
fault with its place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sourcing.book.family import Family
from sourcing.page.forms import Said

CONDITIONS = (("new", "new"), ("reman", "rebuilt"), ("used", "used"))
FREIGHTS = 3  # ways of sending that a supplier's form has room for


@dataclass(frozen=True)
class Field:
    """One field of a form.

    kind: text, long (several lines), number, flag, list (texts between commas), years, pick (one of `options`), ticks (some of
    them), pairs (a line for each key: `key = value, value`), rows (a line for each row: values between commas), marks.
    `default` is what holds where the file says nothing.
    """

    key: str
    label: str
    kind: str = "text"
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()
    default: Any = None
    needed: bool = False
    mode: str = ""


@dataclass(frozen=True)
class Kind:
    """A kind of entry: its list in the file, and how it is called."""

    name: str
    one: str
    many: str
    says: str


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
}
SUPPLIER = Kind("supplier", "supplier", "Suppliers", "Who sells to you, on what terms.")
PART = Kind("part", "part number", "Part numbers", "Which supplier's number is which design.")


def _options(named: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((code, one.name) for code, one in named.items())


def fields_of(kind: str, family: Family) -> list[Field]:
    """The fields of a kind of a book's entries."""
    eras, positions = _options(family.era), _options(family.position)
    keys = f"A line for each of era, vehicle_era, {', '.join([*family.fact, *family.position])}: era = {next(iter(family.era))}"
    whens = Field("when", "Only when", "pairs", f"{keys}. Nothing: always.")
    return {
        "era": [
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
        ],
        "fact": [
            Field("code", "Code", needed=True),
            Field("ask", "The question to the person at the bench", "long", needed=True),
            Field("values", "Its answers", "list", "Between commas.", needed=True),
            Field("of", "Asked of", "pick", options=(("unit", "the unit"), ("vehicle", "the vehicle")), default="unit"),
        ],
        "position": [
            Field("code", "Code", needed=True),
            Field("name", "Name", needed=True),
            Field("lead", "It leads: its design names the route", "flag", default=False),
            Field("optional", "A unit may run without it", "flag", default=False),
            Field("may_keep", "The found part may go back in", "flag", default=True),
            Field("conditions", "What may fill it", "ticks", options=CONDITIONS, default=["new", "reman", "used"]),
            Field(
                "comeback_cost", "What it costs when it comes back", "number", "Nothing: the shop's.", mode="decimal"
            ),
        ],
        "mark": [
            Field("code", "Code", needed=True),
            Field("position", "On the part of", "pick", options=positions, needed=True),
            Field("ask", "What to look at", "long", needed=True),
            Field("values", "What may be seen", "list", "Between commas. Nothing: any number or text."),
            Field("needs", "What must come off to see it"),
        ],
        "design": [
            Field("code", "Code", needed=True),
            Field("position", "Position", "pick", options=positions, needed=True),
            Field("name", "Name", needed=True),
            Field("fitted", "The factory fitted it in", "ticks", options=eras, default=[]),
            Field("retrofits", "It may also go into", "ticks", options=eras, default=[]),
            Field("marks", "What can be seen on it", "marks"),
            Field("weight_kg", "Weight in kg", "number", "To the gram, such as 1.250.", mode="decimal"),
            Field("comeback_rate", "How often it comes back", "number", "From 0 to 1, or better as counted: 3/41."),
            Field("kept_comeback_rate", "How often, when the found one goes back in", "number", "Nothing: the same."),
        ],
        "rule": [
            Field("code", "Code", needed=True),
            Field("says", "The reason, as you would say it at the counter", "long", needed=True),
            Field("source", "Where it is written", needed=True),
            Field(
                "caution",
                "What must be watched",
                "long",
                "Printed where the rule holds. Put one where a mistake can hurt somebody.",
            ),
            whens,
            Field(
                "need",
                "Each of these holds one of",
                "pairs",
                "A line for each position, such as plate = plate-3, plate-4",
            ),
            Field("never", "Not all of these at once", "pairs", "A line for each position."),
            Field(
                "allow",
                "Together one of these rows",
                "rows",
                "The first line names the positions, such as block, plate. Each further line is a row: block-a, plate-1. "
                "* stands for anything.",
            ),
        ],
        "task": [
            Field("code", "Code", needed=True),
            Field("name", "Name", needed=True),
            Field("hours", "Hours", "number", mode="decimal"),
            Field("cost", "Materials, or work sent out", "number", mode="decimal"),
            whens,
            Field(
                "replacing",
                "When one of these gets a bought part",
                "ticks",
                "None: whenever the above holds.",
                options=positions,
            ),
            Field("caution", "What must be watched", "long"),
        ],
    }[kind]


def supplier_fields() -> list[Field]:
    """The fields of a supplier."""
    return [
        Field("code", "Code", needed=True, hint="Your short word for it; also the name of its folder of sheets."),
        Field("name", "Name", needed=True),
        Field("currency", "Its currency", hint="Three letters. Nothing: yours."),
        Field(
            "lead_days",
            "Working days until it sends",
            "number",
            "Where its sheet says nothing.",
            default=0,
            mode="numeric",
        ),
        Field("freight", "Ways of sending", "freight", "None: you fetch it at its counter, free, the same day."),
        Field("order_minimum", "Least that the parts of an order come to", "number", default=0, mode="decimal"),
        Field("order_fee", "Paid once on each order", "number", default=0, mode="decimal"),
        Field(
            "core_recovery",
            "Share of a core charge that comes back",
            "number",
            "From 0 to 1. Nothing: all of it.",
            mode="decimal",
        ),
        Field(
            "core_return_cost",
            "Cost of sending cores back",
            "number",
            "Once, where any goes back.",
            default=0,
            mode="decimal",
        ),
        Field("core_days", "Days within which a core is taken", "number", "Nothing: no end.", mode="numeric"),
        Field("core_needs", "The state that a core must be in"),
        Field(
            "return_days", "Days within which a part is taken back", "number", "Nothing: not at all.", mode="numeric"
        ),
        Field("restock_share", "Share of its price that the supplier keeps", "number", "From 0 to 1.", mode="decimal"),
        Field(
            "breaks",
            "Price breaks",
            "pick",
            options=(
                ("all-units", "all pieces at the price of the step reached"),
                ("incremental", "each piece at the price of its own step"),
            ),
            default="all-units",
        ),
    ]


def part_fields(family: Family, suppliers: Mapping[str, Any]) -> list[Field]:
    """The fields of a part number."""
    designs = tuple((design.code, f"{design.name} ({design.code})") for design in family.designs)
    return [
        Field("supplier", "Supplier", "pick", options=_options(suppliers), needed=True),
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


def shop_fields() -> list[Field]:
    """The fields of the shop itself, by their dotted keys."""
    return [
        Field("letterhead.name", "The shop's name, for the papers"),
        Field("currency", "Currency", hint="Three letters.", needed=True),
        Field("labour_rate", "What an hour is charged at", "number", needed=True, mode="decimal"),
        Field("labour_cost", "What an hour costs you", "number", "Nothing: what it is charged at.", mode="decimal"),
        Field("comeback_cost", "What a unit that comes back costs you", "number", needed=True, mode="decimal"),
        Field("day_cost", "What a working day of waiting costs", "number", mode="decimal"),
        Field("worth_changing", "An exact block is recommended up to so much more", "number", mode="decimal"),
        Field("tax_parts", "Tax on parts", "number", "A rate, such as 0.065.", mode="decimal"),
        Field("tax_labour", "Tax on labour", "number", mode="decimal"),
        Field("quote_days", "Days for which a quote holds", "number", mode="numeric"),
    ]


# -- what a form says --


def value_in(field: Field, said: Said, family: Family | None = None) -> Any:
    """What a form says of a field; None where it says nothing, or what holds anyway."""
    name = field.key.replace(".", "-")
    match field.kind:
        case "flag":
            ticked = bool(said.get(name))
            return None if ticked == field.default else ticked
        case "ticks":
            chosen = [code for code, _ in field.options if code in said.all(name)]
            return None if chosen == (field.default or []) else chosen
        case "list":
            return _texts(said.get(name)) or None
        case "years":
            return years_in(said.get(name))
        case "pairs":
            return pairs_in(said.get(name))
        case "rows":
            return rows_in(said.get(name))
        case "marks":
            return _marks(said, family) or None
        case "freight":
            return _freights(said) or None
        case "number":
            number = number_in(said.get(name))
            return None if field.default is not None and number == field.default else number
        case _:
            told = "\n".join(line.strip() for line in said.get(name).replace("\r\n", "\n").split("\n"))
            return told if told and told != field.default else None


def number_in(said: str) -> Any:
    """A number as such; anything else as a text, for the model to speak of.

    >>> number_in("12"), number_in("0.50"), number_in("3/41"), number_in("")
    (12, Decimal('0.50'), '3/41', None)
    """
    if re.fullmatch(r"0|[1-9]\d{0,14}", said):
        return int(said)
    return Decimal(said) if re.fullmatch(r"\d{1,12}\.\d{1,9}", said) else said or None


def years_in(said: str) -> Any:
    """Model years, stretches of them taken apart; what is none stays a text.

    >>> years_in("1998-2000, 2003"), years_in("soon")
    ([1998, 1999, 2000, 2003], ['soon'])
    """
    found: list[Any] = []
    for part in _texts(said):
        span = re.fullmatch(r"(\d{4})\s*-\s*(\d{4})", part)
        if span and 0 <= int(span[2]) - int(span[1]) < 200:
            found += range(int(span[1]), int(span[2]) + 1)
        else:
            found.append(int(part) if re.fullmatch(r"\d{1,9}", part) else part)
    return found or None


def pairs_in(said: str) -> Any:
    """Lines of `key = value, value`; a line that is none stands as a key without values.

    >>> pairs_in("plate = plate-3, plate-4")
    {'plate': ['plate-3', 'plate-4']}
    """
    found = {}
    for line in said.replace("\r\n", "\n").split("\n"):
        key, _, values = line.partition("=")
        if key.strip():
            found[key.strip()] = _texts(values)
    return found or None


def rows_in(said: str) -> Any:
    """The first line as positions, each further one as a row.

    >>> rows_in("block, plate\\nblock-a, plate-1")
    {'positions': ['block', 'plate'], 'rows': [['block-a', 'plate-1']]}
    """
    lines = [_texts(line) for line in said.replace("\r\n", "\n").split("\n") if line.strip()]
    return {"positions": lines[0], "rows": lines[1:]} if lines else None


def _texts(said: str) -> list[str]:
    return [part.strip() for part in said.split(",") if part.strip()]


def _marks(said: Said, family: Family | None) -> dict[str, Any]:
    """The marks of the chosen position, each as the book writes it."""
    found: dict[str, Any] = {}
    for mark in family.marks if family else ():
        value = said.get(f"mark-{mark.code}")
        if value and mark.position == said.get("position"):
            listed = next((one for one in mark.values or () if str(one) == value), None)
            found[mark.code] = (
                listed if listed is not None else int(value) if re.fullmatch(r"-?\d{1,15}", value) else value
            )
    return found


def _freights(said: Said) -> list[dict[str, Any]]:
    found = []
    for number in range(FREIGHTS + len(said.get("freights"))):
        row: dict[str, Any] = {"mode": said.get(f"freight-mode-{number}") or None}
        row |= {key: number_in(said.get(f"freight-{key}-{number}")) for key in ("days", "flat", "per_kg", "free_over")}
        row = {key: value for key, value in row.items() if value is not None}
        if row:
            found.append(row)
    return found


# -- what a form shows --


def shown_in(field: Field, value: Any) -> Any:
    """A value as its field shows it: a text; for ticks a list, for a flag a bool, for freight its rows."""
    if value is None:
        value = field.default
    match field.kind:
        case "flag":
            return bool(value)
        case "ticks":
            return [str(one) for one in value or []]
        case "list":
            return ", ".join(map(str, value or []))
        case "years":
            return _years_shown(value or [])
        case "pairs":
            return "\n".join(f"{key} = {', '.join(map(str, told))}" for key, told in (value or {}).items())
        case "rows":
            lines = (
                [value["positions"], *value["rows"]]
                if isinstance(value, dict) and {"positions", "rows"} <= value.keys()
                else []
            )
            return "\n".join(", ".join(map(str, line)) for line in lines)
        case "marks":
            return {key: str(one) for key, one in (value or {}).items()}
        case "freight":
            rows = list(value or [])
            return rows + [{}] * max(1, FREIGHTS - len(rows))
        case _:
            return "" if value is None else str(value)


def _years_shown(years: Sequence[Any]) -> str:
    told: list[str] = []
    run: list[int] = []
    for year in [*years, None]:
        if run and year == run[-1] + 1:
            run.append(year)
            continue
        if run:
            told.append(str(run[0]) if len(run) < 3 else f"{run[0]}-{run[-1]}")
            told += [str(run[1])] if len(run) == 2 else []
        run = [year] if isinstance(year, int) else []
        if year is not None and not run:
            told.append(str(year))
    return ", ".join(told)


def kept_as_it_is(field: Field, old: Any, new: Any) -> bool:
    """Whether a form leaves a value as the file has it: what the file says without need stays said."""
    if new is None:
        return old in (None, "", [], {}) or bool(old == field.default)
    if field.kind in ("number", "list") and old is not None and not isinstance(old, dict):
        return bool(shown_in(field, old) == shown_in(field, new))
    return bool(old == new)
