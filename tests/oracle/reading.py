"""A shop folder in the contract's format, read plainly into values."""

from __future__ import annotations

import csv
import datetime as dt
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import openpyxl

from .money import times, to_cents

NONE = "none"
CONDITIONS = frozenset({"new", "reman", "used"})
When = dict[str, list[str]]

# The fields of a sheet and the header texts that our own sheets use for them.
HEADERS = {
    "part number": "part_number",
    "description": "description",
    "price": "price",
    "currency": "currency",
    "core charge": "core_charge",
    "stock": "stock",
    "pack": "pack",
    "min qty": "minimum",
    "lead days": "lead_days",
    "valid until": "valid_until",
    "break qty": "break_quantity",
}
BREAK_HEADER = re.compile(r"^(?:qty\s*)?(\d+)\s*(?:\+|-\s*\d+)?$", re.IGNORECASE)
SHEET_NAME = re.compile(r"^(\d{4}-\d{2}-\d{2})(.*)$")
UPDATE_WORD = re.compile(r"(?<![a-z])update(?![a-z])", re.IGNORECASE)


@dataclass(frozen=True)
class Era:
    """A stretch of months; `last` is None where it still runs."""

    code: str
    first: str
    last: str | None
    model_years: tuple[int, ...]

    def holds(self, month: str) -> bool:
        """Whether a month "YYYY-MM" lies in the era, both ends included."""
        return self.first <= month and (self.last is None or month <= self.last)


@dataclass(frozen=True)
class Position:
    """A place in the unit; `comeback_cost` in cents, the shop's where it has none."""

    code: str
    lead: bool
    optional: bool
    comeback_cost: int
    conditions: frozenset[str]
    may_keep: bool


@dataclass(frozen=True)
class Design:
    """What may stand at a position; `eras` are those fitted and those retrofitted."""

    code: str
    position: str
    eras: frozenset[str]
    marks: dict[str, Any]
    weight_kg: Decimal
    comeback_rate: Fraction
    kept_rate: Fraction


@dataclass(frozen=True)
class Rule:
    """One of need, never and allow under a `when`."""

    code: str
    when: When
    need: dict[str, list[str]] | None
    never: dict[str, list[str]] | None
    allow_positions: list[str] | None
    allow_rows: list[list[str]]


@dataclass(frozen=True)
class Task:
    """Work on some plans; `labour_cents` is what it costs the shop."""

    code: str
    hours: Decimal
    cost_cents: int
    labour_cents: int
    when: When
    replacing: list[str] | None


@dataclass(frozen=True)
class Family:
    """What fits what."""

    code: str
    eras: list[Era]
    facts: dict[str, list[Any]]
    positions: list[Position]
    designs: dict[str, Design]
    rules: list[Rule]
    tasks: list[Task]
    inspections: list[dict[str, Any]]

    def designs_of(self, position: str) -> list[Design]:
        """The designs of one position, as the book lists them."""
        return [d for d in self.designs.values() if d.position == position]


@dataclass(frozen=True)
class FreightMode:
    """Terms of one way of sending; `free_over` in the supplier's cents, the rest in the shop's."""

    mode: str
    days: int
    flat: int
    per_kg: int
    free_over: int | None


@dataclass(frozen=True)
class Supplier:
    """Terms of a supplier; `order_minimum` in its own cents, `core_return_cost` in the shop's."""

    code: str
    currency: str
    rate: Decimal
    lead_days: int
    order_minimum: int
    core_recovery: Decimal
    core_return_cost: int
    incremental: bool
    modes: list[FreightMode]
    columns: dict[str, str]
    order_fee: int = 0
    return_days: int | None = None
    restock_share: Decimal = Decimal(0)
    core_days: int | None = None


@dataclass(frozen=True)
class Offer:
    """A part number that can be bought on the job's day.

    `steps` are (quantity from, own cents, shop cents), the first from quantity 1.
    """

    supplier: str
    number: str
    fills: tuple[str, ...]
    condition: str
    warranty_months: int
    accepts: frozenset[str]
    comeback_rate: Fraction | None
    steps: tuple[tuple[int, int, int], ...]
    core_charge: int
    core_credit: int
    stock: int | None
    pack: int
    minimum: int
    lead_days: int
    weight_kg: Decimal

    def step(self, quantity: int) -> tuple[int, int, int]:
        """The step that a quantity reaches."""
        return max(s for s in self.steps if s[0] <= quantity)

    def line(self, quantity: int, incremental: bool) -> tuple[int, int]:
        """A line's total in (own cents, shop cents)."""
        if not incremental:
            _, own, shop = self.step(quantity)
            return quantity * own, quantity * shop
        pieces = [self.step(n) for n in range(1, quantity + 1)]
        return sum(p[1] for p in pieces), sum(p[2] for p in pieces)

    def smallest(self) -> int:
        """The smallest quantity of one line: one piece raised to minimum and pack."""
        return -(-max(1, self.minimum) // self.pack) * self.pack


@dataclass(frozen=True)
class Shop:
    """The shop's own amounts in cents; wanted is design to (pieces, worth)."""

    currency: str
    labour_cost: int
    comeback_cost: int
    day_cost: int
    holidays: frozenset[dt.date]
    fx: dict[str, Decimal]
    wanted: dict[str, tuple[int, int]]


@dataclass(frozen=True)
class Limits:
    """What a job forbids and demands; None where it says nothing."""

    keep: list[str] = field(default_factory=list)
    require: list[str] = field(default_factory=list)
    exclude: list[str] = field(default_factory=list)
    conditions: list[str] | None = None
    suppliers: list[str] | None = None
    avoid: list[str] = field(default_factory=list)
    min_warranty: int = 0
    max_suppliers: int | None = None
    cores: list[str] | None = None
    unavailable: frozenset[tuple[str, str]] = frozenset()


@dataclass(frozen=True)
class Hand:
    """A part that is here for one position: what using it, leaving it and (None: not possible) sending it back cost.

    `offer` is its number's row of the day where a core may go back against it; `kit` where that number is a kit;
    `stocks` where it is a wanted piece for the shelf when nothing uses it.
    """

    position: str
    design: str
    usable: bool
    used: int
    unused: int
    back: int | None
    offer: Offer | None
    kit: bool
    rate: Fraction
    stocks: bool
    core_charge: int
    unused_word: str


@dataclass(frozen=True)
class World:
    """One way that what is open about the unit may turn out."""

    era: str
    vehicle_era: str
    facts: dict[str, Any]

    def value(self, key: str) -> Any:
        """What a KEY of `when` other than a position stands at."""
        return {"era": self.era, "vehicle_era": self.vehicle_era}.get(key) or self.facts.get(key)


@dataclass(frozen=True)
class Job:
    """A job; `candidates` are the designs that each found part may be."""

    number: str
    date: dt.date
    need_by: dt.date | None
    minimise: str
    candidates: dict[str, list[str]]
    limits: Limits
    worlds: list[World]


@dataclass(frozen=True)
class Problem:
    """All that a job's answer depends on."""

    shop: Shop
    family: Family
    suppliers: dict[str, Supplier]
    offers: list[Offer]
    job: Job
    hands: dict[str, Hand] = field(default_factory=dict)

    def hand_pieces(self, sent_back: frozenset[str]) -> list[Offer]:
        """The offers of which a piece in hand can take a core, one entry a piece; a kit that two positions name once."""
        pieces: list[Offer] = []
        kits = set()
        for position, hand in self.hands.items():
            if hand.offer is None or position in sent_back:
                continue
            if hand.kit and (hand.offer.supplier, hand.offer.number) in kits:
                continue
            kits.add((hand.offer.supplier, hand.offer.number))
            pieces.append(hand.offer)
        return pieces

    def arrival(self, workdays: int) -> dt.date:
        """The day on which something sent `workdays` working days from the job's date is here."""
        day = self.job.date
        while not self._works(day):
            day += dt.timedelta(days=1)
        for _ in range(workdays):
            day += dt.timedelta(days=1)
            while not self._works(day):
                day += dt.timedelta(days=1)
        return day

    def _works(self, day: dt.date) -> bool:
        return day.weekday() < 5 and day not in self.shop.holidays

    def in_time(self, workdays: int) -> bool:
        """Whether a piece that takes `workdays` is here by need_by."""
        return self.job.need_by is None or self.arrival(workdays) <= self.job.need_by

    def known(self, position: str) -> str | None:
        """The found part's design where it is known as exactly one."""
        candidates = self.job.candidates.get(position, [])
        return candidates[0] if len(candidates) == 1 else None

    def keepable(self) -> dict[str, str]:
        """The found parts that may go back in: position to design."""
        allowed = {p.code for p in self.family.positions if p.may_keep} & set(self.job.limits.keep)
        return {p.code: d for p in self.family.positions if p.code in allowed and (d := self.known(p.code))}

    def cores(self) -> dict[str, str]:
        """The found parts that can be returned where they are not kept: position to design."""
        named = self.job.limits.cores
        return {
            p.code: d for p in self.family.positions if (named is None or p.code in named) and (d := self.known(p.code))
        }

    def wanted(self) -> dict[str, tuple[int, int]]:
        """The wanted designs that the family has: design to (pieces, worth in cents)."""
        return {d: w for d, w in self.shop.wanted.items() if d in self.family.designs}


def load(path: Path) -> dict[str, Any]:
    """A TOML file with exact decimals."""
    with path.open("rb") as file:
        return tomllib.load(file, parse_float=Decimal)


def day_of(value: Any) -> dt.date:
    """A date written as a TOML or spreadsheet date or as ISO 8601 text."""
    if isinstance(value, dt.datetime):
        return value.date()
    return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value).strip()[:10])


def rate_of(value: Any) -> Fraction:
    """A rate written as a number, as text or as "3/41", exactly."""
    return Fraction(value.replace(" ", "")) if isinstance(value, str) else Fraction(value)


def read_problem(catalogs: Path, job_path: Path) -> Problem:
    """Everything that one job depends on, joined."""
    job = load(job_path)
    raw_shop = load(catalogs / "shop.toml")
    shop = read_shop(raw_shop, job.get("wanted"))
    folder = catalogs / job["job"]["family"]
    family = read_family(load(folder / "interchange.toml"), shop)
    suppliers = read_suppliers(load(catalogs / "suppliers.toml"), shop)
    date = day_of(job["job"]["date"])
    offers = read_offers(catalogs, folder / "parts.csv", family, suppliers, date)
    hands = read_hands(catalogs, folder / "parts.csv", family, suppliers, job)
    return Problem(shop, family, suppliers, offers, read_job(job, family), hands)


def read_hands(
    catalogs: Path, parts_csv: Path, family: Family, suppliers: dict[str, Supplier], job: dict[str, Any]
) -> dict[str, Hand]:
    """The parts in hand, by position as the book lists them."""
    date, hands = day_of(job["job"]["date"]), {}
    with parts_csv.open(encoding="utf-8-sig", newline="") as file:
        parts = {(row["supplier"], fold(row["part_number"])): row for row in csv.DictReader(file)}
    for position in family.positions:
        raw = job.get("in_hand", {}).get(position.code)
        if raw is None:
            continue
        supplier = suppliers.get(raw.get("supplier", ""))
        part = parts.get((raw.get("supplier", ""), fold(raw.get("part_number", ""))))
        cost, source = to_cents(raw.get("cost", 0)), raw["source"]
        fills = [] if part is None else [design.strip() for design in part["fills"].split(" + ")]
        rate = family.designs[raw["design"]].comeback_rate
        if part is not None and part.get("comeback_rate") and raw["design"] in fills and source != "customer":
            rate = rate_of(part["comeback_rate"])
        offer = back = None
        core_charge = 0
        if supplier is not None and source != "customer":
            days = (date - day_of(raw.get("came", date))).days
            within = supplier.return_days is not None and days <= supplier.return_days
            if source == "received" and within and len(fills) < 2:
                back = times(cost, supplier.restock_share)
            rows = rows_in_force(catalogs, supplier, date).get(part["part_number"].strip()) if part else None
            if part is not None and rows:
                offer = make_offer(part, rows, family, supplier, date, barred=False)
            core_charge = offer.core_charge if offer is not None else 0
            if back is not None:
                back -= core_charge
            if supplier.core_days is not None and days > supplier.core_days:
                offer = None
        hands[position.code] = Hand(
            position.code,
            raw["design"],
            part is None or part["condition"].strip() in position.conditions,
            cost,
            cost if source == "received" else 0,
            back,
            offer,
            len(fills) > 1,
            rate,
            source == "received",
            core_charge,
            {"received": "left over", "shelf": "stays on the shelf", "customer": "given back"}[source],
        )
    return hands


def fold(number: str) -> str:
    """A part number without what people type differently."""
    return re.sub(r"[\s-]+", "", number).upper()


def read_shop(raw: dict[str, Any], job_wanted: list[dict[str, Any]] | None) -> Shop:
    """The shop's rates, with the job's wanted list where it has one."""
    wanted = raw.get("wanted", []) if job_wanted is None else job_wanted
    return Shop(
        currency=raw["currency"],
        labour_cost=to_cents(raw.get("labour_cost", raw["labour_rate"])),
        comeback_cost=to_cents(raw["comeback_cost"]),
        day_cost=to_cents(raw.get("day_cost", 0)),
        holidays=frozenset(day_of(day) for day in raw.get("holidays", [])),
        fx=raw.get("fx", {}),
        wanted={w["design"]: (int(w["pieces"]), to_cents(w["worth"])) for w in wanted},
    )


def read_family(raw: dict[str, Any], shop: Shop) -> Family:
    """What fits what."""
    positions = [
        Position(
            p["code"],
            p.get("lead", False),
            p.get("optional", False),
            to_cents(p["comeback_cost"]) if "comeback_cost" in p else shop.comeback_cost,
            frozenset(p.get("conditions", CONDITIONS)),
            p.get("may_keep", True),
        )
        for p in raw["position"]
    ]
    return Family(
        code=raw["family"]["code"],
        eras=[Era(e["code"], e["from"], e.get("to"), tuple(e.get("model_years", []))) for e in raw["era"]],
        facts={f["code"]: f["values"] for f in raw.get("fact", [])},
        positions=positions,
        designs={d["code"]: read_design(d) for d in raw["design"]},
        rules=[read_rule(r) for r in raw.get("rule", [])],
        tasks=[read_task(t, shop) for t in raw.get("task", [])],
        inspections=raw.get("inspection", []),
    )


def read_design(raw: dict[str, Any]) -> Design:
    """One design, its kept rate falling back on its own."""
    rate = rate_of(raw.get("comeback_rate", 0))
    return Design(
        raw["code"],
        raw["position"],
        frozenset(raw.get("fitted", [])) | frozenset(raw.get("retrofits", [])),
        raw.get("marks", {}),
        Decimal(raw.get("weight_kg", 0)),
        rate,
        rate_of(raw["kept_comeback_rate"]) if "kept_comeback_rate" in raw else rate,
    )


def read_rule(raw: dict[str, Any]) -> Rule:
    """One rule in whichever of its three forms."""
    allow = raw.get("allow")
    return Rule(
        raw["code"],
        raw.get("when", {}),
        raw.get("need"),
        raw.get("never"),
        allow["positions"] if allow else None,
        allow["rows"] if allow else [],
    )


def read_task(raw: dict[str, Any], shop: Shop) -> Task:
    """One task with what it costs where it applies."""
    hours, cost = Decimal(raw.get("hours", 0)), Decimal(raw.get("cost", 0))
    labour = to_cents(Fraction(hours) * Fraction(shop.labour_cost, 100) + Fraction(cost))
    return Task(raw["code"], hours, to_cents(cost), labour, raw.get("when", {}), raw.get("replacing"))


def read_suppliers(raw: dict[str, Any], shop: Shop) -> dict[str, Supplier]:
    """Who sells, on what terms; every amount first rounded to its own cent, then converted."""
    suppliers = {}
    for s in raw["supplier"]:
        currency = s.get("currency", shop.currency)
        rate = Decimal(1) if currency == shop.currency else Decimal(shop.fx[currency])
        modes = [
            FreightMode(
                m["mode"],
                m["days"],
                times(to_cents(m["flat"]), rate),
                times(to_cents(m.get("per_kg", 0)), rate),
                to_cents(m["free_over"]) if "free_over" in m else None,
            )
            for m in s.get("freight", [])
        ] or [FreightMode("counter", 0, 0, 0, None)]
        suppliers[s["code"]] = Supplier(
            code=s["code"],
            currency=currency,
            rate=rate,
            lead_days=s.get("lead_days", 0),
            order_minimum=to_cents(s.get("order_minimum", 0)),
            core_recovery=Decimal(s.get("core_recovery", 1)),
            core_return_cost=times(to_cents(s.get("core_return_cost", 0)), rate),
            incremental=s.get("breaks", "all-units") == "incremental",
            modes=modes,
            columns=s.get("columns", {}),
            order_fee=times(to_cents(s.get("order_fee", 0)), rate),
            return_days=s.get("return_days"),
            restock_share=Decimal(s.get("restock_share", 0)),
            core_days=s.get("core_days"),
        )
    return suppliers


def read_offers(
    catalogs: Path, parts_csv: Path, family: Family, suppliers: dict[str, Supplier], date: dt.date
) -> list[Offer]:
    """The parts of parts.csv that have a price in force and can be bought, by supplier and number."""
    sheets = {code: rows_in_force(catalogs, supplier, date) for code, supplier in suppliers.items()}
    offers = []
    with parts_csv.open(encoding="utf-8-sig", newline="") as file:
        for part in csv.DictReader(file):
            rows = sheets.get(part["supplier"], {}).get(part["part_number"].strip())
            offer = make_offer(part, rows, family, suppliers[part["supplier"]], date) if rows else None
            if offer is not None:
                offers.append(offer)
    return sorted(offers, key=lambda o: (o.supplier, o.number))


def make_offer(
    part: dict[str, str],
    rows: list[dict[str, Any]],
    family: Family,
    supplier: Supplier,
    date: dt.date,
    barred: bool = True,
) -> Offer | None:
    """A part joined with its rows in force; None where it cannot be bought on that day (`barred`: where that matters)."""
    first = rows[0]
    stock = whole(first.get("stock"))
    until = first.get("valid_until")
    if barred and (stock == 0 or (until not in (None, "") and day_of(until) < date)):
        return None
    own = steps_of(rows)
    if own is None:
        return None
    fills = tuple(design.strip() for design in part["fills"].split(" + "))
    accepts = frozenset(d.strip() for d in (part.get("core_accepts") or "").split("|") if d.strip())
    core = times(to_cents(first["core_charge"]), supplier.rate) if first.get("core_charge") else 0
    lead = whole(first.get("lead_days"))
    return Offer(
        supplier=supplier.code,
        number=part["part_number"].strip(),
        fills=fills,
        condition=part["condition"].strip(),
        warranty_months=int(part.get("warranty_months") or 0),
        accepts=accepts or frozenset(fills),
        comeback_rate=rate_of(part["comeback_rate"]) if part.get("comeback_rate") else None,
        steps=tuple((q, cents, times(cents, supplier.rate)) for q, cents in sorted(own.items())),
        core_charge=core,
        core_credit=times(core, supplier.core_recovery),
        stock=stock,
        pack=whole(first.get("pack")) or 1,
        minimum=whole(first.get("minimum")) or 1,
        lead_days=supplier.lead_days if lead is None else lead,
        weight_kg=sum((family.designs[d].weight_kg for d in fills), Decimal(0)),
    )


def steps_of(rows: list[dict[str, Any]]) -> dict[int, int] | None:
    """Quantity from to own cents, from columns and rows; None where a quantity stands at two prices."""
    steps: dict[int, int] = {}
    for row in rows:
        found = {whole(row.get("break_quantity")) or 1: row["price"], **row["breaks"]}
        for quantity, price in found.items():
            if price is None or price == "":
                continue
            if steps.setdefault(quantity, to_cents(price)) != to_cents(price):
                return None
    return steps if 1 in steps else None


def whole(value: Any) -> int | None:
    """A cell as a whole number; None where it is blank."""
    return None if value is None or str(value).strip() == "" else int(Decimal(str(value)))


def rows_in_force(catalogs: Path, supplier: Supplier, date: dt.date) -> dict[str, list[dict[str, Any]]]:
    """The newest whole sheet on or before the date with its updates laid over it: number to rows."""
    folder = catalogs / "price-sheets" / supplier.code
    whole_sheets: list[tuple[dt.date, Path]] = []
    updates: list[tuple[dt.date, Path]] = []
    for path in sorted(folder.iterdir()) if folder.is_dir() else []:
        match = SHEET_NAME.match(path.stem)
        if match and (day := dt.date.fromisoformat(match[1])) <= date:
            (updates if UPDATE_WORD.search(match[2]) else whole_sheets).append((day, path))
    if not whole_sheets:
        return {}
    base_day, base = max(whole_sheets)
    rows = rows_of(base, supplier)
    for _, path in sorted(update for update in updates if update[0] >= base_day):
        rows.update(rows_of(path, supplier))
    return rows


def rows_of(path: Path, supplier: Supplier) -> dict[str, list[dict[str, Any]]]:
    """One sheet's rows by part number."""
    table = cells_of(path)
    declared = {text.strip().lower(): name for name, text in supplier.columns.items()}
    names = {**HEADERS, **declared}
    header = [str(cell or "").strip() for cell in next(table)]
    rows: dict[str, list[dict[str, Any]]] = {}
    for cells in table:
        row: dict[str, Any] = {"breaks": {}}
        for text, cell in zip(header, cells, strict=False):
            value = cell.strip() if isinstance(cell, str) else cell
            if text.lower() in names:
                row[names[text.lower()]] = value
            elif match := BREAK_HEADER.match(text):
                row["breaks"][int(match[1])] = value
        number = str(row.get("part_number") or "").strip()
        if number and row.get("price") not in (None, ""):
            rows.setdefault(number, []).append(row)
    return rows


def cells_of(path: Path) -> Iterator[list[Any]]:
    """A sheet's rows of cells; numbers as exact decimals of what the cell shows."""
    if path.suffix == ".xlsx":
        sheet = openpyxl.load_workbook(path, data_only=True).worksheets[0]
        for cells in sheet.iter_rows(values_only=True):
            yield [Decimal(repr(c)) if isinstance(c, float) else c for c in cells]
    else:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from csv.reader(file, delimiter="\t" if path.suffix == ".tsv" else ",")


def read_job(raw: dict[str, Any], family: Family) -> Job:
    """The job with its found parts identified as far as their marks tell."""
    head, limits = raw["job"], raw.get("limits", {})
    return Job(
        number=head["number"],
        date=day_of(head["date"]),
        need_by=day_of(head["need_by"]) if "need_by" in head else None,
        minimise=head.get("minimise", "whole"),
        candidates={p: candidates(family, p, f) for p, f in raw.get("found", {}).items()},
        limits=Limits(
            keep=[p for p in limits.get("keep", []) if passed(raw.get("readings", {}), family, p)],
            require=limits.get("require", []),
            exclude=limits.get("exclude", []),
            conditions=limits.get("conditions"),
            suppliers=limits.get("suppliers"),
            avoid=limits.get("avoid_suppliers", []),
            min_warranty=limits.get("min_warranty_months", 0),
            max_suppliers=limits.get("max_suppliers"),
            cores=limits.get("cores"),
            unavailable=frozenset(
                (name.split("/", 1)[0], fold(name.split("/", 1)[1])) for name in limits.get("unavailable", [])
            ),
        ),
        worlds=worlds(raw, family),
    )


def passed(readings: dict[str, Any], family: Family, position: str) -> bool:
    """Whether every inspection of a position has a reading that passes: within two numbers, or one of those listed."""
    for inspection in family.inspections:
        if inspection["position"] == position:
            accept, reading = inspection["accept"], readings.get(inspection["code"])
            if reading is None:
                return False
            if len(accept) == 2 and not any(isinstance(one, str) for one in accept):
                if isinstance(reading, str) or not accept[0] <= reading <= accept[1]:
                    return False
            elif str(reading).lower() not in [str(one).lower() for one in accept]:
                return False
    return True


def candidates(family: Family, position: str, found: str | dict[str, Any]) -> list[str]:
    """The designs of a position that contradict none of what was seen."""
    if isinstance(found, str):
        return [found]
    return [
        d.code
        for d in family.designs_of(position)
        if all(d.marks.get(mark, value) == value for mark, value in found.items())
    ]


def worlds(raw: dict[str, Any], family: Family) -> list[World]:
    """Every pair of eras and every value of the open facts that the job leaves possible."""
    unit, vehicle = raw.get("unit", {}), raw.get("vehicle", {})
    unit_eras, vehicle_eras = eras_of(unit, family), eras_of(vehicle, family)
    if unit_eras and vehicle_eras:
        pairs = [(u, v) for u in unit_eras for v in vehicle_eras]
    else:  # one date for both, or none at all: they are in one era together
        pairs = [(e, e) for e in unit_eras or vehicle_eras or [era.code for era in family.eras]]
    given = {**vehicle.get("facts", {}), **unit.get("facts", {})}
    whens = [rule.when for rule in family.rules] + [task.when for task in family.tasks]
    asked = {key for when in whens for key in when} & set(family.facts)
    found: list[dict[str, Any]] = [given]
    for fact in sorted(asked - set(given)):
        found = [{**facts, fact: value} for facts in found for value in family.facts[fact]]
    return [World(era, vehicle_era, facts) for era, vehicle_era in pairs for facts in found]


def eras_of(table: dict[str, Any], family: Family) -> list[str]:
    """The eras that a vehicle's or a unit's own date allows; none where it has no date."""
    if "built" in table:
        return [era.code for era in family.eras if era.holds(table["built"])]
    if "model_year" in table:
        return [era.code for era in family.eras if table["model_year"] in era.model_years]
    if "vin" in table:
        return [era.code for era in family.eras if vin_year(table["vin"]) in era.model_years]
    return []


def vin_year(vin: str) -> int:
    """The model year of a VIN's tenth character; a letter in the seventh puts it in 2010 to 2039."""
    index = "ABCDEFGHJKLMNPRSTVWXY123456789".index(vin[9])
    return (2010 if vin[6].isalpha() else 1980) + index
