"""Random pools: a small shop and several jobs whose orders, stocks, breaks, packs and cores meet.

"small" is for the buyer that tries everything, "middle" for the two programs. Every job leaves exactly one world. Where one
number stands in two families, nothing that it is gets wanted for the shelf and it is never in hand: whose piece it would
then be, no file says.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from random import Random

from .random_shops import (
    BASE_PRICE,
    BUILT,
    CONDITION_FACTOR,
    CONDITIONS,
    ERAS,
    FACTS,
    VEHICLE_FACTS,
    Book,
    Table,
    draw_accepts,
    draw_design,
    draw_eras,
    draw_fact,
    draw_found,
    draw_marks,
    draw_mode,
    draw_position,
    draw_rate,
    draw_task,
    draw_when,
    some_designs,
    write_parts,
    write_sheets,
    write_toml,
)


@dataclass(frozen=True)
class Size:
    """How much a pool of one size holds."""

    jobs: tuple[int, ...]
    positions: tuple[int, ...]
    designs: tuple[int, ...]
    suppliers: tuple[int, ...]
    sells: float
    kits: tuple[int, ...]
    two_families: float
    strict: float
    """How often a book or a job forbids something."""


SIZES = {
    "small": Size((2, 2, 3, 3), (1, 2, 2, 2, 3), (1, 2, 2), (2, 2, 2, 3), 0.7, (0, 0, 1, 1), 0.25, 0.8),
    "middle": Size((5, 5, 6, 7, 8, 10), (3, 3, 4, 5), (1, 2, 2, 3), (6, 6, 7, 8), 0.38, (0, 0, 1, 1, 2), 0.25, 0.3),
}
PLACES = ["block", "body", "plate", "pump", "screen"]
PRICES = {**BASE_PRICE, "pump": 90}


@dataclass
class Draw:
    """What one pool is drawn from."""

    random: Random
    size: Size
    seed: int
    jobs: int
    date: dt.date
    level: bool
    shelf: bool
    """A shelf that pays, freight next to nothing, days that cost, few suppliers: who carries what no job needs matters."""
    common: set[str] = field(default_factory=set)
    """Designs that a number common to two families fills."""
    common_numbers: set[str] = field(default_factory=set)

    def chance(self, share: float) -> bool:
        """True in that share of the draws."""
        return self.random.random() < share


def write_pool(seed: int, folder: Path, size: str = "small") -> list[Path]:
    """Write catalogs/ and scenarios/ of the pool with that seed; returns its jobs in the order of their numbers."""
    random = Random(f"pool {size} {seed}")
    terms = SIZES[size]
    date = dt.date(2026, 3, 2) + dt.timedelta(days=random.randrange(28))
    draw = Draw(random, terms, seed, random.choice(terms.jobs), date, random.random() < 0.2, random.random() < 0.3)
    catalogs, scenarios = folder / "catalogs", folder / "scenarios"
    scenarios.mkdir(parents=True, exist_ok=True)
    books = {f"fam{seed}": draw_family(draw, f"fam{seed}", "")}
    if draw.chance(terms.two_families):
        books[f"gam{seed}"] = draw_family(draw, f"gam{seed}", "" if draw.chance(0.4) else "g-")
    if size == "small" and any(len(book.positions) > 2 for book, _ in books.values()):
        draw.jobs = 2
    suppliers = [draw_terms(draw, f"s{n}") for n in range(random.choice(terms.suppliers))]
    parts = {family: draw_range(draw, book, suppliers, family) for family, (book, _) in books.items()}
    share_numbers(draw, books, parts)
    for family, (_, tables) in books.items():
        (catalogs / family).mkdir(parents=True, exist_ok=True)
        write_toml(catalogs / family / "interchange.toml", tables)
        write_parts(catalogs / family / "parts.csv", parts[family] or [empty_row()])
    first = next(iter(books.values()))[0]
    for supplier in suppliers:
        priced = [row for book, _ in books.values() for row in book.offers.get(supplier["code"], [])]
        first.offers[supplier["code"]] = priced
        write_sheets(first, supplier, catalogs / "price-sheets" / supplier["code"])
    write_toml(catalogs / "suppliers.toml", {"supplier": suppliers})
    write_toml(catalogs / "shop.toml", draw_shop(draw, books))
    jobs = []
    for document in draw_jobs(draw, books, parts):
        jobs.append(scenarios / f"{document['job']['number']}.toml")
        write_toml(jobs[-1], document)
    return jobs


def empty_row() -> Table:
    """A row of parts.csv of a supplier's number that no sheet prices."""
    return {"supplier": "s0", "part_number": "NONE-1", "fills": "block-1", "condition": "new"}


# Families


def draw_family(draw: Draw, code: str, prefix: str) -> tuple[Book, Table]:
    """A book, its designs' codes beginning with the prefix, and its interchange.toml."""
    random = draw.random
    book = Book(random, draw.date, level=draw.level, dear=False, edges=True)
    others = sorted(random.sample(PLACES[1:], random.choice(draw.size.positions) - 1))
    book.positions = ["block", *others]
    book.optional = [p for p in others if draw.chance(0.2)]
    for position in book.positions:
        book.designs[position] = [f"{prefix}{position}-{n + 1}" for n in range(random.choice(draw.size.designs))]
    marks = draw_marks(book)
    places = [draw_position(book, p) for p in book.positions]
    for place in places:
        if "conditions" in place and not draw.chance(draw.size.strict):
            del place["conditions"]
    several = len(book.positions) > 1
    rules = sum(draw.chance(draw.size.strict) for _ in range(random.choice([1, 1, 2])))
    tables: Table = {
        "format": 1,
        "family": {"code": code, "name": "Invented"},
        "era": draw_eras(),
        "fact": [draw_fact(code) for code in FACTS],
        "position": places,
        "mark": marks,
        "design": [draw_design(book, p, d) for p in book.positions for d in book.designs[p]],
        "rule": [draw_rule(book, n) for n in range(rules)] if several else [],
        "task": [draw_task(book, n) for n in range(random.randint(0, 2))] if several else [],
    }
    return book, {name: table for name, table in tables.items() if table != []}


def draw_rule(book: Book, n: int) -> Table:
    """A need or a never over two positions, seldom without a condition."""
    first, second = book.random.sample(book.positions, 2)
    rule: Table = {"code": f"r{n}", "says": f"reason {n}", "source": f"bulletin {n}, invented"}
    when = draw_when(book, [])
    if when:
        rule["when"] = when
    if book.chance(0.5):
        rule.setdefault("when", {})[first] = some_designs(book, first, 1)[:1]
        rule["need"] = {second: some_designs(book, second, 1)}
    else:
        rule["never"] = {p: some_designs(book, p, 1)[:1] for p in (first, second)}
    return rule


# Suppliers and parts


def draw_terms(draw: Draw, code: str) -> Table:
    """One supplier whose thresholds are for two or three jobs rather than one."""
    book = Book(draw.random, draw.date, level=draw.level, dear=False, edges=True)
    random = draw.random
    supplier: Table = {"code": code, "name": f"Supplier {code}"}
    if code == "s1" and draw.chance(0.4):
        supplier["currency"] = "CAD"
    if draw.chance(0.5):
        supplier["lead_days"] = random.randint(0, 3)
    if draw.chance(0.35):
        supplier["order_minimum"] = book.money(60, 300 * draw.jobs)
    if draw.chance(0.5):
        supplier["core_recovery"] = Decimal(random.choice(["0.5", "0.8", "0.333"]))
    if draw.chance(0.4):
        supplier["core_return_cost"] = book.money(5, 40, "0.001")
    if draw.chance(0.4):
        supplier["breaks"] = random.choice(["all-units", "incremental"])
    if draw.chance(0.15):
        supplier["order_fee"] = Decimal("3.755")
    if draw.chance(0.4):
        supplier |= {"return_days": random.choice([0, 14]), "restock_share": Decimal(random.choice(["0.1", "1"]))}
    both = [("ground", 4), ("express", 1)]
    ways = both if draw.shelf else random.choice([[], both[:1], both, both])
    freight = [draw_mode(book, mode, days) for mode, days in ways]
    for mode in freight:
        if draw.shelf:
            mode["flat"] = book.money(0, 12)
        if "free_over" in mode:
            mode["free_over"] = book.money(100, 350 * draw.jobs)
    if freight:
        supplier["freight"] = freight
    return supplier


def draw_range(draw: Draw, book: Book, suppliers: list[Table], family: str) -> list[Table]:
    """One family's parts.csv; most designs that nobody sold by then the last supplier sells."""
    rows: list[Table] = []
    for supplier in suppliers:
        missing: set[str] = set()
        if supplier is suppliers[-1]:
            sold = {d for row in rows for d in row["fills"].split(" + ")}
            missing = {d for d in book.all_designs() if d not in sold and draw.chance(0.85)}
        rows += draw_parts(draw, book, supplier["code"], family, missing)
    return rows


def draw_parts(draw: Draw, book: Book, supplier: str, family: str, missing: set[str]) -> list[Table]:
    """A supplier's rows of one family's parts.csv; what they cost is kept for its sheets."""
    random, rows = draw.random, []
    fills: list[tuple[str, ...]] = [(d,) for d in book.all_designs() if d in missing or draw.chance(draw.size.sells)]
    for _ in range(random.choice(draw.size.kits)):
        if len(book.positions) > 1 and draw.chance(0.8):
            places = random.sample(book.positions, 2)
            kit = [random.choice(book.designs[p]) for p in places]
            fills.append(tuple(kit + kit[:1] * draw.chance(0.3)))
        else:
            fills.append((random.choice(book.all_designs()),) * 2)
    for n, designs in enumerate(fills):
        condition = random.choice(CONDITIONS)
        number = f"{family[0].upper()}{supplier[1:]}{n:02}"
        row: Table = {"supplier": supplier, "part_number": number, "fills": " + ".join(designs)}
        row |= {"condition": condition, "warranty_months": random.choice(["", 3, 12, 24])}
        row |= {"core_accepts": accepts(book, designs), "comeback_rate": ""}
        if not draw.level and draw.chance(0.25):
            row["comeback_rate"] = draw_rate(book, 0.2)
        rows.append(row)
        book.offers.setdefault(supplier, []).append(draw_priced(draw, book, number, designs, condition))
    return rows


def place_of(design: str) -> str:
    """The position that a design's code names."""
    return design.removeprefix("g-").split("-")[0]


def accepts(book: Book, designs: tuple[str, ...]) -> str:
    """Like for like, or any of a position's designs, or one unlike design that another job may bring."""
    if designs[0].startswith("g-"):
        of_position = book.designs[place_of(designs[0])]
        return book.random.choice(["", "|".join(of_position), book.random.choice(of_position)])
    if book.chance(0.2):
        return book.random.choice(book.all_designs())
    return draw_accepts(book, designs)


def draw_priced(draw: Draw, book: Book, number: str, designs: tuple[str, ...], condition: str) -> Table:
    """One row of a price sheet: stocks that bind, packs bigger than one job's need, breaks that several jobs reach."""
    random = draw.random
    worth = sum(PRICES[place_of(d)] for d in designs) * CONDITION_FACTOR[condition]
    price = max(Decimal(1), book.money(worth * 0.85, worth * 1.15, "0.001"))
    row: Table = {"Part Number": number, "Description": " and ".join(designs), "Price": price}
    row |= {"Core Charge": "", "Stock": "", "Pack": "", "Min Qty": "", "Lead Days": "", "Valid Until": ""}
    if condition != "used" and draw.chance(0.5):
        row["Core Charge"] = book.money(worth * 0.1, worth * 0.5, "0.001")
    if draw.chance(0.4):
        row["Stock"] = random.choice([1, 1, 2, 2, 3, draw.jobs])
    if draw.chance(0.25):
        row["Pack"] = random.choice([2, 2, 3, 4])
    if draw.chance(0.25):
        row["Min Qty"] = random.choice([2, 3])
    if draw.chance(0.3):
        row["Lead Days"] = random.choice([0, 1, 2, 6])
    row["breaks"] = {}
    for quantity in (2, 3, 5):
        if draw.chance(0.35):
            factor = Decimal(random.choice(["0.9", "0.8", "0.6", "1.3"]))
            row["breaks"][quantity] = max(Decimal("0.5"), (price * factor).quantize(Decimal("0.01")))
    return row


def share_numbers(draw: Draw, books: dict[str, tuple[Book, Table]], parts: dict[str, list[Table]]) -> None:
    """Let one or two numbers of the first family fill a design of the second one too, as heavy there as here."""
    if len(books) < 2:
        return
    (one, (_, tables)), (two, (second, others)) = books.items()
    single = [row for row in parts[one] if " + " not in row["fills"]]
    for row in draw.random.sample(single, min(len(single), draw.random.choice([0, 1, 1, 2]))):
        weight = next(d.get("weight_kg", 0) for d in tables["design"] if d["code"] == row["fills"])
        free = [d for d in others["design"] if d["code"] not in draw.common]
        if not free:
            continue
        design = draw.random.choice(free)
        design["weight_kg"] = weight
        draw.common |= {row["fills"], design["code"]}
        draw.common_numbers.add(row["part_number"])
        accepts = draw.random.choice(["", "|".join(second.designs[design["position"]])])
        parts[two].append({**row, "fills": design["code"], "core_accepts": accepts, "comeback_rate": ""})


# The shop and its jobs


def draw_shop(draw: Draw, books: dict[str, tuple[Book, Table]]) -> Table:
    """shop.toml."""
    random = draw.random
    shop: Table = {"currency": "USD", "labour_rate": random.randint(90, 150)}
    shop["comeback_cost"] = random.choice([300, 450, Decimal("612.50")])
    if draw.chance(0.8 if draw.shelf else 0.5):
        shop["day_cost"] = random.choice([Decimal("12.5"), 25, 31])
    shop["holidays"] = [draw.date + dt.timedelta(days=random.randint(0, 5))]
    shop["fx"] = {"CAD": Decimal(random.choice(["0.7315", "0.75"]))}
    shop["markup"] = [{"factor": Decimal("1.35")}]
    if draw.shelf or draw.chance(0.4):
        shop["wanted"] = draw_wanted(draw, books)
    return {name: value for name, value in shop.items() if value != []}


def draw_wanted(draw: Draw, books: dict[str, tuple[Book, Table]]) -> list[Table]:
    """What is worth having on the shelf, of one family or both."""
    designs = sorted({d for book, _ in books.values() for d in book.all_designs()} - draw.common)
    wanted = []
    for design in draw.random.sample(designs, min(len(designs), draw.random.choice([1, 1, 2]))):
        worth = PRICES[place_of(design)] * draw.random.uniform(0.8 if draw.shelf else 0.4, 1.4 if draw.shelf else 1.1)
        row = {"design": design, "pieces": draw.random.choice([1, 1, 2])}
        wanted.append({**row, "worth": Decimal(str(worth)).quantize(Decimal("0.01"))})
    return wanted


def draw_jobs(draw: Draw, books: dict[str, tuple[Book, Table]], parts: dict[str, list[Table]]) -> list[Table]:
    """Several jobs, some of them alike in all but number and customer."""
    random = draw.random
    minimise = random.choice(["whole", "whole", "whole", "landed", "cash"])
    wanted = draw_wanted(draw, books) if draw.chance(0.15) else None
    patterns = []
    documents = []
    for n in range(draw.jobs):
        if patterns and draw.chance(0.45):
            pattern = random.choice(patterns)
        else:
            family = list(books)[n % 2 if len(books) > 1 and n < 2 else random.randrange(len(books))]
            pattern = draw_pattern(draw, family, books[family][0], parts[family])
            patterns.append(pattern)
        head = {"number": f"{draw.seed}-{n:02}", "customer": f"Invented {n}", "date": draw.date}
        document = {**pattern, "job": {**pattern["job"], **head, "minimise": minimise}}
        if wanted:
            document["wanted"] = wanted
        documents.append(document)
    return documents


def draw_pattern(draw: Draw, family: str, book: Book, parts: list[Table]) -> Table:
    """A job but for its number, customer and date."""
    random = draw.random
    job: Table = {"family": family}
    if draw.chance(0.3):
        job["need_by"] = draw.date + dt.timedelta(days=random.randint(3, 10))
    facts = {fact: random.choice(values) for fact, values in FACTS.items()}
    document: Table = {"job": job}
    if draw.chance(0.3):
        vehicle = {k: v for k, v in facts.items() if k in VEHICLE_FACTS}
        facts = {k: v for k, v in facts.items() if k not in VEHICLE_FACTS}
        document["vehicle"] = {"built": BUILT[random.choice(ERAS)], "facts": vehicle}
    document["unit"] = {"built": BUILT[random.choice(ERAS)], "facts": facts}
    found = draw_found(book)
    if found:
        document["found"] = found
    document["limits"] = draw_limits(draw, book, parts)
    hands = draw_hands(draw, book, parts)
    if hands:
        document["in_hand"] = hands
    return document


def draw_limits(draw: Draw, book: Book, parts: list[Table]) -> Table:
    """Limits, each of them seldom."""
    random, strict = draw.random, draw.size.strict
    limits: Table = {}
    if draw.chance(0.3):
        limits["keep"] = [random.choice(book.positions)]
    if draw.chance(0.05 * strict):
        limits["exclude"] = [random.choice(book.all_designs())]
    if draw.chance(0.05 * strict):
        limits["require"] = [random.choice(book.all_designs())]
    if draw.chance(0.1 * strict):
        limits["conditions"] = sorted(random.sample(CONDITIONS, 2))
    if draw.chance(0.1 * strict):
        limits["avoid_suppliers"] = [f"s{random.randrange(2)}"]
    if draw.chance(0.05 * strict):
        limits["suppliers"] = ["s0", "s1"]
    if draw.chance(0.08 * strict):
        limits["min_warranty_months"] = 3
    if draw.chance((0.6 if draw.shelf else 0.25) * strict):
        limits["max_suppliers"] = random.choice([1, 1, 2])
    if draw.chance(0.15 * strict):
        limits["cores"] = [random.choice(book.positions)]
    if parts and draw.chance(0.15 * strict):
        row = random.choice(parts)
        limits["unavailable"] = [f"{row['supplier']}/{row['part_number']}"]
    return limits


def draw_hands(draw: Draw, book: Book, parts: list[Table]) -> Table:
    """Now and then a part that is here already."""
    random = draw.random
    if not draw.chance(0.15):
        return {}
    position = random.choice(book.positions)
    design = random.choice(book.designs[position])
    hand: Table = {"design": design, "source": random.choice(["received", "received", "shelf", "customer"])}
    mine = [r for r in parts if design in r["fills"].split(" + ") and r["part_number"] not in draw.common_numbers]
    if mine:
        row = random.choice(mine)
        hand |= {"supplier": row["supplier"], "part_number": row["part_number"]}
    hand["cost"] = Decimal(str(PRICES[position] * random.uniform(0.5, 1.2))).quantize(Decimal("0.01"))
    if draw.chance(0.6):
        hand["came"] = draw.date - dt.timedelta(days=random.choice([0, 1, 12]))
    return {position: hand}
