"""Small random shops in the contract's format, every field of it used by one seed or another."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import openpyxl

Table = dict[str, Any]
ERAS = ["e1", "e2", "e3"]
BUILT = {"e1": "2003-05", "e2": "2008-02", "e3": "2014-09"}
YEARS = [*range(2001, 2016)]
YEAR_IN = {"e1": 2003, "e2": 2008, "e3": 2013}
SHARED_YEAR = 2005
FACTS: dict[str, list[str]] = {
    "lever": ["gate", "tap"],
    "drive": ["two", "four"],
    "cooler": ["plain", "tall"],
}
VEHICLE_FACTS = ["drive"]
BASE_PRICE = {"block": 240, "plate": 60, "screen": 18, "body": 120}
CONDITIONS = ["new", "reman", "used"]
CONDITION_FACTOR = {"new": 1.0, "reman": 0.85, "used": 0.65}
VIN_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"


@dataclass
class Book:
    """What the rest of a shop is drawn around."""

    random: Random
    date: dt.date
    level: bool
    """Round prices and no comebacks, so that many plans cost the same."""
    dear: bool
    """Breaks that are dearer, freight next to nothing and a shelf that pays: lines split over modes."""
    edges: bool = False
    """A small shop in which most orders lie near a threshold, a minimum or a break."""
    positions: list[str] = field(default_factory=list)
    optional: list[str] = field(default_factory=list)
    designs: dict[str, list[str]] = field(default_factory=dict)
    marks: dict[str, Table] = field(default_factory=dict)
    offers: dict[str, list[Table]] = field(default_factory=dict)

    def chance(self, share: float) -> bool:
        """True in that share of the draws."""
        return self.random.random() < share

    def money(self, low: float, high: float, places: str = "0.01") -> Decimal:
        """An amount; a whole one now and then, always where the shop is level."""
        value = Decimal(str(self.random.uniform(low, high)))
        if self.level:
            return (value / 10).quantize(Decimal(1)) * 10
        return value.quantize(Decimal("1" if self.chance(0.3) else places))

    def all_designs(self) -> list[str]:
        """Every design, position by position."""
        return [design for position in self.positions for design in self.designs[position]]


def write_shop(seed: int, folder: Path, edges: bool = False) -> list[Path]:
    """Write catalogs/ and scenarios/ of the shop with that seed; returns its jobs.

    With `edges` it is a small shop, its sheets all text, in which most orders lie near a threshold, a minimum or a break.
    """
    random = Random(seed)
    date = dt.date(2026, 3, 2) + dt.timedelta(days=random.randrange(28))
    book = Book(random, date, level=random.random() < 0.25, dear=random.random() < 0.15, edges=edges)
    catalogs, scenarios = folder / "catalogs", folder / "scenarios"
    family = f"fam{seed}"
    (catalogs / family).mkdir(parents=True, exist_ok=True)
    scenarios.mkdir(parents=True, exist_ok=True)
    own = Random(f"inspections {seed}")  # its own stream: the other draws stay as they were
    tables = draw_book(book, family)
    inspections = draw_inspections(own, book.positions)
    write_toml(catalogs / family / "interchange.toml", {**tables, **inspections})
    suppliers = draw_suppliers(book)
    terms = Random(f"optional terms {seed}")
    for supplier in suppliers:
        supplier |= draw_optional_terms(book, terms)
    parts = [row for s in suppliers for row in draw_parts(book, s["code"])]
    write_parts(catalogs / family / "parts.csv", parts)
    for supplier in suppliers:
        write_sheets(book, supplier, catalogs / "price-sheets" / supplier["code"])
    write_toml(catalogs / "suppliers.toml", {"supplier": suppliers})
    write_toml(catalogs / "shop.toml", draw_shop(book))
    jobs = []
    for n in range(2):
        number = f"{seed}-{n}"
        jobs.append(scenarios / f"{number}.toml")
        document = {**draw_job(book, number, family), **draw_readings(own, inspections)}
        write_toml(jobs[-1], with_parts_in_hand(book, Random(f"in hand {number}"), document, parts))
    return jobs


def draw_optional_terms(book: Book, random: Random) -> Table:
    """What few suppliers say: a fee for each order, and what goes back within which time."""
    terms: Table = {}
    if random.random() < 0.35:
        terms["order_fee"] = Decimal(random.choice(["5", "3.755", "12.50"])) if not book.level else 10
    if random.random() < 0.6:
        terms["return_days"] = random.choice([0, 5, 14])
    if random.random() < 0.5:
        terms["restock_share"] = Decimal(random.choice(["0.1", "0.155", "0.25", "1"]))
    if random.random() < 0.4:
        terms["core_days"] = random.choice([0, 10])
    if random.random() < 0.3:
        terms["core_needs"] = "complete, drained"
    return terms


def with_parts_in_hand(book: Book, random: Random, document: Table, parts: list[Table]) -> Table:
    """In two jobs of five one part in hand or more, now and then in the wrong box; in one of five a number that is not to be
    had."""
    limits = dict(document["limits"])
    if random.random() < 0.2:
        limits["unavailable"] = [
            f"{row['supplier']}/{row['part_number']}" for row in random.sample(parts, min(2, len(parts)))
        ]
    if random.random() >= 0.4:
        return {**document, "limits": limits}
    hands: Table = {}
    for position in random.sample(book.positions, random.choice([1, 1, 2])):
        design = random.choice(book.designs[position])
        source = random.choice(["received", "received", "shelf", "customer"])
        hands[position] = hand = {"design": design, "source": source}
        mine = [row for row in parts if design in row["fills"].split(" + ")] if random.random() < 0.8 else parts
        if mine and random.random() < 0.8:
            row = random.choice(mine)
            hand |= {"supplier": row["supplier"]}
            hand |= {"part_number": row["part_number"]} if random.random() < 0.9 else {}
        if random.random() < 0.8:
            worth = BASE_PRICE[position] * random.uniform(0.5, 1.3)
            hand["cost"] = (
                Decimal(str(worth)).quantize(Decimal("0.01")) if not book.level else Decimal(round(worth / 10) * 10)
            )
        if random.random() < 0.5:
            hand["came"] = book.date - dt.timedelta(days=random.choice([0, 1, 5, 6, 12]))
    return {**document, "limits": limits, "in_hand": hands}


# The book


def draw_book(book: Book, family: str) -> Table:
    """interchange.toml, and with it the positions and designs that all else speaks of."""
    random = book.random
    others = random.sample(["plate", "screen", "body"], 3 if book.chance(0.25) and not book.edges else 2)
    book.positions = ["block", *sorted(others)]
    book.optional = [p for p in book.positions[1:] if book.chance(0.25)]
    most = 2 if book.edges else 3 if len(book.positions) == 4 else 4
    for position in book.positions:
        book.designs[position] = [f"{position}-{n + 1}" for n in range(random.randint(2, most))]
    marks = draw_marks(book)
    return {
        "format": 1,
        "family": {"code": family, "name": f"Family {family}"},
        "era": draw_eras(),
        "fact": [draw_fact(code) for code in FACTS],
        "position": [draw_position(book, p) for p in book.positions],
        "mark": marks,
        "design": [draw_design(book, p, d) for p in book.positions for d in book.designs[p]],
        "rule": [draw_rule(book, n) for n in range(random.randint(1, 3))],
        "task": [draw_task(book, n) for n in range(random.randint(1, 3))],
    }


def draw_eras() -> list[Table]:
    """Three eras, with one change inside a model year."""
    return [
        {"code": "e1", "name": "first", "from": "2001-01", "to": "2005-06", "model_years": YEARS[:5]},
        {"code": "e2", "name": "second", "from": "2005-07", "to": "2010-12", "model_years": YEARS[4:10]},
        {"code": "e3", "name": "third", "from": "2011-01", "model_years": YEARS[10:]},
    ]


def draw_inspections(random: Random, positions: list[str]) -> Table:
    """In one book of four: a range to measure at some position, and now and then readings that pass by name."""
    if random.random() >= 0.25:
        return {}
    ohms: Table = {"code": "ohms", "position": random.choice(positions), "ask": "How many ohms?", "unit": "ohm",
                   "accept": [10, Decimal("14.5")], "source": "invented", "caution": "Battery off."}  # fmt: skip
    tight: Table = {"code": "tight", "position": random.choice(positions), "ask": "Is it tight?",
                    "accept": ["yes", "nearly"], "source": "invented"}  # fmt: skip
    return {"inspection": [ohms, tight] if random.random() < 0.5 else [ohms]}


def draw_readings(random: Random, inspections: Table) -> Table:
    """What was measured: passing, failing, at the edge, or nothing."""
    readings: Table = {}
    for inspection in inspections.get("inspection", []):
        values = (
            [10, Decimal("14.5"), 12, Decimal("9.9"), 15] if inspection["code"] == "ohms" else ["yes", "nearly", "no"]
        )
        if random.random() < 0.8:
            readings[inspection["code"]] = random.choice(values)
    return {"readings": readings} if readings else {}


def draw_fact(code: str) -> Table:
    """One question to the person at the bench."""
    fact: Table = {"code": code, "ask": f"Which {code}?", "values": FACTS[code]}
    return {**fact, "of": "vehicle"} if code in VEHICLE_FACTS else fact


def draw_position(book: Book, code: str) -> Table:
    """One position, its options only where they bite."""
    position: Table = {"code": code, "name": code.title()}
    if code == "block":
        position["lead"] = True
    if code in book.optional:
        position["optional"] = True
    if book.chance(0.25):
        position["comeback_cost"] = book.money(100, 900)
    if book.chance(0.12):
        position["conditions"] = book.random.sample(CONDITIONS, 2)
    if book.chance(0.1):
        position["may_keep"] = False
    return position


def draw_marks(book: Book) -> list[Table]:
    """One mark by count and one by sort for some positions, with what each design shows."""
    marks: list[Table] = []
    for position in book.positions:
        for design in book.designs[position]:
            book.marks[design] = {}
        if book.chance(0.6):
            marks.append({"code": f"{position}-holes", "position": position, "ask": "How many holes?"})
            for n, design in enumerate(book.designs[position]):
                book.marks[design][f"{position}-holes"] = 4 + n // book.random.choice([1, 1, 2])
            colours = {"code": f"{position}-colour", "position": position, "ask": "Which colour?"}
            marks.append({**colours, "values": ["grey", "black"], "needs": "pan off"})
            for design in book.designs[position]:
                if book.chance(0.7):
                    book.marks[design][f"{position}-colour"] = book.random.choice(["grey", "black"])
    return marks


def draw_rate(book: Book, high: float) -> Decimal | str:
    """A comeback rate, at times as a count of fitted ones."""
    if book.chance(0.3):
        fitted = book.random.randint(20, 90)
        return f"{book.random.randint(0, int(high * fitted))}/{fitted}"
    return Decimal(str(round(book.random.uniform(0, high), 3)))


def draw_design(book: Book, position: str, code: str) -> Table:
    """One design; most may be used in most eras."""
    fitted = book.random.sample(ERAS, book.random.choice([1, 2, 2]))
    retrofits = [e for e in ERAS if e not in fitted and book.chance(0.95 if book.edges else 0.75)]
    design: Table = {"code": code, "position": position, "name": code.replace("-", " ")}
    design |= {"fitted": sorted(fitted), "retrofits": retrofits}
    if book.marks[code]:
        design["marks"] = book.marks[code]
    if book.chance(0.9):
        design["weight_kg"] = Decimal(str(round(book.random.uniform(0.2, 6), 3)))
    if not book.level and book.chance(0.7):
        design["comeback_rate"] = draw_rate(book, 0.12)
    if not book.level and book.chance(0.6):
        design["kept_comeback_rate"] = draw_rate(book, 0.3)
    return design


def some_designs(book: Book, position: str, least: int) -> list[str]:
    """Some of a position's designs, "none" among them at an optional one at times."""
    designs = book.designs[position]
    some = sorted(book.random.sample(designs, min(len(designs), book.random.randint(least, len(designs)))))
    return [*some, "none"] if position in book.optional and book.chance(0.6) else some


def draw_when(book: Book, positions: list[str]) -> Table:
    """A condition over eras, facts and positions; empty now and then."""
    when: Table = {}
    if book.chance(0.35):
        when["era"] = sorted(book.random.sample(ERAS, book.random.randint(1, 2)))
    if book.chance(0.25):
        when["vehicle_era"] = sorted(book.random.sample(ERAS, 2))
    if book.chance(0.5):
        fact = book.random.choice([*FACTS])
        when[fact] = [book.random.choice(FACTS[fact])]
    if positions and book.chance(0.4):
        position = book.random.choice(positions)
        when[position] = some_designs(book, position, 1)
    return when


def draw_rule(book: Book, n: int) -> Table:
    """A need, a never or an allow."""
    random = book.random
    positions = random.sample(book.positions, random.choice([2, 2, 3]))
    rule: Table = {"code": f"r{n}", "says": f"reason {n}", "source": f"bulletin {n}, invented"}
    if book.chance(0.2):
        rule["caution"] = "check the end play"
    when = draw_when(book, [p for p in book.positions if p not in positions])
    if when:
        rule["when"] = when
    match random.choice(["need", "never", "allow"]):
        case "need":
            rule["need"] = {p: some_designs(book, p, 2) for p in positions[: random.randint(1, 2)]}
        case "never":
            rule["never"] = {p: some_designs(book, p, 1)[:2] for p in positions}
        case _:
            rows = [[draw_cell(book, p) for p in positions] for _ in range(random.randint(3, 6))]
            rule["allow"] = {"positions": positions, "rows": rows}
    return rule


def draw_cell(book: Book, position: str) -> str:
    """A design, "*" or "none"."""
    if book.chance(0.35):
        return "*"
    return book.random.choice([*book.designs[position], *(["none"] if position in book.optional else [])])


def draw_task(book: Book, n: int) -> Table:
    """Work that some plans need."""
    task: Table = {"code": f"t{n}", "name": f"task {n}", "hours": book.random.choice([Decimal("0.25"), 1])}
    if book.chance(0.4):
        task["cost"] = book.money(10, 90)
    if book.chance(0.6) and (when := draw_when(book, book.positions)):
        task["when"] = when
    if book.chance(0.6):
        task["replacing"] = book.random.sample(book.positions, book.random.randint(1, 2))
    if book.chance(0.2):
        task["caution"] = "mind the spring"
    return task


# Suppliers, parts and sheets


def draw_suppliers(book: Book) -> list[Table]:
    """Two or three suppliers, one of them abroad at times."""
    count = book.random.randint(2, 2 if book.edges else 3)
    return [draw_supplier(book, f"s{n}", "CAD" if n == 1 and book.chance(0.6) else None) for n in range(count)]


def draw_supplier(book: Book, code: str, currency: str | None) -> Table:
    """One supplier's terms."""
    random = book.random
    supplier: Table = {"code": code, "name": f"Supplier {code}"}
    if currency or book.chance(0.5):
        supplier["currency"] = currency or "USD"
    if book.chance(0.6):
        supplier["lead_days"] = random.randint(0, 3)
    if book.chance(0.6 if book.edges else 0.25):
        supplier["order_minimum"] = book.money(40, 500) if book.edges else book.money(20, 150)
    if book.chance(0.5):
        supplier["core_recovery"] = Decimal(random.choice(["0.5", "0.8", "0.9", "0.333"]))
    if book.chance(0.4):
        supplier["core_return_cost"] = book.money(5, 40, "0.001")
    if book.chance(0.5):
        supplier["breaks"] = random.choice(["all-units", "incremental"])
    both = [("ground", 4), ("express", 1)]
    modes = both if book.dear else random.choice([[], both[:1], both, [("ground", 3), ("express", 1)]])
    if book.edges and not modes:
        modes = both[:1]
    freight = [draw_mode(book, mode, days) for mode, days in modes]
    if freight:
        supplier["freight"] = freight
    return supplier


def draw_mode(book: Book, mode: str, days: int) -> Table:
    """One way of sending."""
    low, high = (10, 45) if mode == "ground" else (20, 70)
    terms: Table = {"mode": mode, "days": days, "flat": book.money(low, high)}
    if book.dear:
        terms["flat"] = book.money(0, 6)
    if book.chance(0.4):
        terms["per_kg"] = book.money(1, 4, "0.001")
    if book.chance(0.9 if book.edges else 0.6):
        terms["free_over"] = book.money(60, 450)
    return terms


def draw_parts(book: Book, supplier: str) -> list[Table]:
    """A supplier's rows of parts.csv; what they cost is kept for its sheets."""
    random, rows = book.random, []
    sold = [(d,) for d in book.all_designs() if book.chance(0.6 if book.edges else 0.7)]
    fills: list[tuple[str, ...]] = [*sold]
    for _ in range(random.choice([0, 1, 1, 2])):
        first, second = random.sample(book.positions, 2)
        fills.append((random.choice(book.designs[first]), random.choice(book.designs[second])))
    if book.chance(0.25):
        fills.append((random.choice(book.all_designs()),) * 2)
    for n, designs in enumerate(fills):
        condition = random.choice(CONDITIONS)
        number = random.choice([f"{supplier.upper()}-{n}E5", f"00{supplier[1]}{n:02}77", f"{supplier}{n:03}"])
        row: Table = {"supplier": supplier, "part_number": number, "fills": " + ".join(designs)}
        row |= {"condition": condition, "warranty_months": random.choice(["", 0, 3, 12, 24])}
        row |= {"core_accepts": draw_accepts(book, designs), "comeback_rate": "", "replaced_by": ""}
        if not book.level and book.chance(0.25):
            row["comeback_rate"] = draw_rate(book, 0.2)
        row["note"] = "shelf worn" if book.chance(0.1) else ""
        rows.append(row)
        book.offers.setdefault(supplier, []).append(draw_priced(book, number, designs, condition))
    if rows and book.chance(0.2):
        old = {**random.choice(rows), "part_number": f"{supplier}-OLD"}
        rows.append({**old, "replaced_by": rows[0]["part_number"]})
    return rows


def draw_accepts(book: Book, designs: tuple[str, ...]) -> str:
    """Like for like, or any of a position's designs, or a single unlike one."""
    of_position = book.designs[designs[0].split("-")[0]]
    return book.random.choice(["", "", "|".join(of_position), book.random.choice(of_position)])


def draw_priced(book: Book, number: str, designs: tuple[str, ...], condition: str) -> Table:
    """One row of a price sheet."""
    random = book.random
    worth = sum(BASE_PRICE[d.split("-")[0]] for d in designs) * CONDITION_FACTOR[condition]
    price = max(Decimal(1), book.money(worth * 0.85, worth * 1.15, "0.001"))
    row: Table = {"Part Number": number, "Description": " and ".join(designs), "Price": price}
    row |= {"Core Charge": "", "Stock": "", "Pack": "", "Min Qty": "", "Lead Days": "", "Valid Until": ""}
    if condition != "used" and book.chance(0.5):
        row["Core Charge"] = book.money(worth * 0.1, worth * 0.5, "0.001")
    if book.chance(0.3):
        row["Stock"] = random.choice([0, 1, 1, 2, 4, 20])
    often = 0.3 if book.edges else 0.12
    if book.chance(often):
        row["Pack"] = random.choice([2, 3])
    if book.chance(often):
        row["Min Qty"] = random.choice([2, 3])
    if book.chance(0.3):
        row["Lead Days"] = random.choice([0, 1, 2, 6])
    if book.chance(0.15):
        row["Valid Until"] = book.date + dt.timedelta(days=random.choice([-3, -1, 0, 0, 5]))
    breaks = {}
    for quantity in (2, 3, 5):
        if book.chance(0.6 if book.dear or book.edges else 0.2):
            dearer = book.chance(0.8 if book.dear else 0.15)
            factor = Decimal("1.4" if dearer else random.choice(["0.9", "0.8", "0.4"]))
            breaks[quantity] = max(Decimal("0.5"), (price * factor).quantize(Decimal("0.01")))
    row["breaks"] = breaks
    return row


def write_parts(path: Path, rows: list[Table]) -> None:
    """parts.csv without the columns that would be empty."""
    columns = [name for name in rows[0] if any(row[name] != "" for row in rows)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)


def write_sheets(book: Book, supplier: Table, folder: Path) -> None:
    """A supplier's dated record: an older sheet, the one in force, updates on it, one that is yet to come."""
    folder.mkdir(parents=True, exist_ok=True)
    random, rows = book.random, book.offers.get(supplier["code"], [])
    price = "Your Net" if book.chance(0.2) else "Price"
    if price != "Price":
        supplier["columns"] = {"price": price}
    style = Style(price, random.random() < 0.3, random.random() < 0.4, supplier.get("currency", "USD"))
    in_force = book.date - dt.timedelta(days=random.choice([0, 1, 30]))
    write_sheet(book, folder / f"{in_force - dt.timedelta(days=60)}", scaled(rows, "3"), style)
    if book.chance(0.5):  # an update that the sheet in force has overtaken
        write_sheet(book, folder / f"{in_force - dt.timedelta(days=9)}-UPDATE", scaled(rows[:2], "0.01"), style)
    late = random.sample(rows, min(len(rows), 2)) if book.chance(0.5) else []
    added = late[:1] if len(late) > 1 else []
    before = [row if row not in late else scaled([row], "1.7")[0] for row in rows if row not in added]
    other = {"Part Number": f"ZZ-{supplier['code']}", "Price": Decimal("9.99"), "breaks": {}}
    write_sheet(book, folder / f"{in_force} prices", [*before, other], style)
    if late:
        middle = in_force + (book.date - in_force) // 2
        if middle < book.date:
            write_sheet(book, folder / f"{middle} update", scaled(late, "0.5"), style)
        write_sheet(book, folder / f"{book.date} Update 2", late, style)
    if book.chance(0.5):
        write_sheet(book, folder / f"{book.date + dt.timedelta(days=2)}", scaled(rows, "0.1"), style)
    lately = {
        path.suffix for path in folder.iterdir() if in_force.isoformat() <= path.name[:10] <= book.date.isoformat()
    }
    if ".tsv" in lately and ".csv" not in lately:  # tabs prove no decimal mark, and two rows of 52.765 may not either
        supplier["sheet"] = {"decimal": "."}


@dataclass(frozen=True)
class Style:
    """How one supplier lays its sheets out."""

    price: str
    breaks_as_rows: bool
    states_currency: bool
    currency: str


def scaled(rows: list[Table], factor: str) -> list[Table]:
    """The same rows at other prices."""
    return [{**r, "Price": (r["Price"] * Decimal(factor)).quantize(Decimal("0.01"))} for r in rows]


def write_sheet(book: Book, stem: Path, rows: list[Table], style: Style) -> None:
    """One sheet as .csv, .tsv or .xlsx."""
    names = ["Part Number", "Description", style.price, "Core Charge", "Stock", "Pack", "Min Qty"]
    names += ["Lead Days", "Valid Until"]
    names += ["Currency"] if style.states_currency else []
    spellings = [("2+", "3+", "5+"), ("Qty 2", "Qty 3", "Qty 5"), ("2-2", "3-4", "5-9")]
    headers = dict(zip((2, 3, 5), book.random.choice(spellings), strict=True))
    table: list[list[Any]] = [[*names, *(["Break Qty"] if style.breaks_as_rows else headers.values())]]
    for row in rows:
        flat = {**row, style.price: row["Price"], "Currency": style.currency}
        cells = [flat.get(name, "") for name in names]
        if style.breaks_as_rows:
            table.append([*cells, 1])
            for quantity, price in row["breaks"].items():
                table.append([*cells[:2], price, *cells[3:], quantity])
        else:
            table.append([*cells, *(row["breaks"].get(q, "") for q in headers)])
    write_table(stem, table, ".csv" if book.edges else book.random.choice([".csv", ".tsv", ".xlsx"]))


def write_table(stem: Path, table: list[list[Any]], suffix: str) -> None:
    """Rows of cells as a file."""
    path = stem.with_name(stem.name + suffix)
    if suffix == ".xlsx":
        workbook = openpyxl.Workbook()
        sheet = workbook.worksheets[0]
        for row in table:
            sheet.append([float(c) if isinstance(c, Decimal) else None if c == "" else c for c in row])
        workbook.save(path)
        return
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter="," if suffix == ".csv" else "\t").writerows(table)


# The shop and its jobs


def draw_shop(book: Book) -> Table:
    """shop.toml."""
    holiday = book.date + dt.timedelta(days=book.random.randint(0, 5))
    shop: Table = {"currency": "USD", "labour_rate": book.random.randint(90, 150)}
    if book.chance(0.6):
        shop["labour_cost"] = Decimal(book.random.choice(["33.5", "41", "52.75"]))
    shop["comeback_cost"] = book.money(300, 900)
    if book.chance(0.6):
        shop["day_cost"] = book.random.choice([Decimal("12.5"), 25, 31])
    shop["holidays"] = [holiday.isoformat() if book.chance(0.3) else holiday]
    shop |= {"tax_parts": Decimal("0.07"), "tax_labour": 0, "quote_days": 14, "worth_changing": 25}
    shop["shop_supplies"] = {"share": Decimal("0.05"), "cap": 45}
    shop["fx"] = {"CAD": Decimal(book.random.choice(["0.7315", "0.75", "0.7"]))}
    shop["markup"] = [{"up_to": 100, "factor": Decimal("1.6")}, {"factor": Decimal("1.35")}]
    if book.chance(0.9 if book.dear or book.edges else 0.35):
        shop["wanted"] = draw_wanted(book)
    return shop


def draw_wanted(book: Book) -> list[Table]:
    """What is worth having on the shelf; one of another family now and then."""
    most = 3 if book.edges else 2
    designs: list[str] = book.random.sample(book.all_designs(), book.random.randint(1, most))
    wanted: list[Table] = []
    for design in designs:
        worth = BASE_PRICE[design.split("-")[0]]
        row = {"design": design, "pieces": book.random.randint(1, 2)}
        wanted.append({**row, "worth": book.money(worth * 0.4, worth * (1.3 if book.dear or book.edges else 0.95))})
    if book.chance(0.2):
        wanted.append({"design": "elsewhere-1", "pieces": 1, "worth": 10})
    return wanted


def draw_job(book: Book, number: str, family: str) -> Table:
    """One job."""
    era, vehicle_era = book.random.choice(ERAS), book.random.choice(ERAS)
    job: Table = {"number": number, "family": family, "customer": "Invented"}
    job["date"] = book.date.isoformat() if book.chance(0.2) else book.date
    if book.chance(0.4):
        job["need_by"] = book.date + dt.timedelta(days=book.random.randint(4, 12))
    if book.chance(0.4):
        job["minimise"] = book.random.choice(["whole", "landed", "cash"])
    facts = {fact: book.random.choice(values) for fact, values in FACTS.items() if not book.chance(0.05)}
    document: Table = {"job": job}
    unit: Table = {"tag": f"tag {number}"}
    if book.chance(0.5):  # a vehicle, at times undated
        vehicle = {} if book.chance(0.1) else draw_dated(book, vehicle_era, vin=True)
        vehicle["facts"] = {k: v for k, v in facts.items() if k in VEHICLE_FACTS}
        document["vehicle"] = vehicle
        facts = {k: v for k, v in facts.items() if k not in VEHICLE_FACTS}
        if book.chance(0.6):
            unit |= draw_dated(book, era, vin=False)
    else:
        unit |= draw_dated(book, era, vin=False)
    document["unit"] = {**unit, "facts": facts}
    found = draw_found(book)
    if found:
        document["found"] = found
    document["limits"] = draw_limits(book, found)
    document["labour"] = {"base_hours": Decimal("14.5")}
    if book.chance(0.25):
        document["wanted"] = draw_wanted(book)
    return document


def draw_dated(book: Book, era: str, vin: bool) -> Table:
    """A date of manufacture in one of the ways that it is given; at times a year of two eras."""
    how = book.random.choice(["built", "built", "year", "vin" if vin else "year"])
    if how == "built":
        return {"built": BUILT[era]}
    if book.chance(0.2):
        return {"model_year": SHARED_YEAR}
    return {"vin": draw_vin(book, YEAR_IN[era])} if how == "vin" else {"model_year": YEAR_IN[era]}


def draw_vin(book: Book, year: int) -> str:
    """An invented VIN of that model year whose check digit agrees."""
    letters = "ABCDEFGHJKLMNPRSTUVWXYZ"
    seventh = book.random.choice(letters if year >= 2010 else "123456789")
    head = "9ZZ" + "".join(book.random.choice(letters) for _ in range(3)) + seventh + "7"
    tail = VIN_YEARS[(year - 1980) % 30] + f"7{book.random.randrange(10**6):06}"
    values = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", "12345678123457923456789", strict=True))
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    total = sum(int(values.get(c, c)) * w for c, w in zip(head + "0" + tail, weights, strict=True))
    return head + "0123456789X"[total % 11] + tail


def draw_found(book: Book) -> Table:
    """What is on the bench, named or by its marks."""
    found: Table = {}
    for position in book.positions:
        if book.chance(0.15):
            continue
        design = book.random.choice(book.designs[position])
        marks = dict(book.marks[design])
        if marks and book.chance(0.35):
            if len(marks) > 1 and book.chance(0.4):
                marks.pop(book.random.choice(sorted(marks)))
            found[position] = marks
        else:
            found[position] = design
    return found


def draw_limits(book: Book, found: Table) -> Table:
    """Limits, each of them seldom."""
    random = book.random
    draws: list[tuple[str, float, Callable[[], Any]]] = [
        ("keep", 0.5, lambda: random.sample(book.positions, random.randint(1, 2))),
        ("require", 0.12, lambda: [random.choice(book.all_designs())]),
        ("exclude", 0.15, lambda: [random.choice(book.all_designs())]),
        ("conditions", 0.12, lambda: sorted(random.sample(CONDITIONS, 2))),
        ("suppliers", 0.08, lambda: ["s0", "s1"]),
        ("avoid_suppliers", 0.08, lambda: ["s0"]),
        ("min_warranty_months", 0.08, lambda: 3),
        ("max_suppliers", 0.2, lambda: random.choice([1, 2, 2])),
        ("cores", 0.25, lambda: random.sample(book.positions, 2)),
    ]
    return {name: draw() for name, share, draw in draws if book.chance(share)}


# TOML


def write_toml(path: Path, document: Table) -> None:
    """A document as TOML: lists of tables as [[..]], tables two deep as [..], the rest in place."""
    path.write_text("\n".join(toml_lines(document, "")) + "\n", encoding="utf-8")


def toml_lines(table: Table, prefix: str) -> list[str]:
    """The lines of one table: its values first, then its tables."""
    headed = {k for k in table if not prefix or k in ("facts", "columns", "sheet")}
    tables = {k: v for k, v in table.items() if isinstance(v, dict) and k in headed}
    lists = {k: v for k, v in table.items() if isinstance(v, list) and v and isinstance(v[0], dict)}
    lines = [f"{k} = {toml_value(v)}" for k, v in table.items() if k not in tables and k not in lists]
    for name, inner in tables.items():
        lines += ["", f"[{prefix}{name}]", *toml_lines(inner, f"{prefix}{name}.")]
    for name, rows in lists.items():
        for row in rows:
            lines += ["", f"[[{prefix}{name}]]", *toml_lines(row, f"{prefix}{name}.")]
    return lines


def toml_value(value: Any) -> str:
    """One value in TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {toml_value(v)}" for k, v in value.items()) + "}"
    return str(value)
