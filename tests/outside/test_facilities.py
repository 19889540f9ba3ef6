"""Published facility problems, written as a shop and quoted: the published optimum comes out to the cent.

Source: J. E. Beasley, "OR-Library: distributing test problems by electronic mail", Journal of the Operational Research
Society 41(11), 1990: uncapacitated warehouse location, files cap71..74 and cap101..104, optima of the file uncapopt.

A facility is a supplier with a flat freight charge, a customer is a position with one design, and serving a customer
whole from a facility is a price. Every published cost is a whole number of 1/400, so that multiplied by 400 it is
a whole number of cents. (By 10000, the round number that also serves, the dearest would be 141563940.00: more than
the tool takes for a price.) A few published serving costs are 0, and a price of 0 is none: a cent is added to every
price, so that the optimum rises by exactly a cent for each customer, whoever serves it.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import pytest

from sourcing import open_shop, quote_job

PUBLISHED = Path(__file__).resolve().parents[3] / "shared" / "published"
SCALE = 400  # cents for one unit of the published cost
OPTIMA = {
    "cap71": Decimal("932615.750"),
    "cap72": Decimal("977799.400"),
    "cap73": Decimal("1010641.450"),
    "cap74": Decimal("1034976.975"),
    "cap101": Decimal("796648.4375"),
    "cap102": Decimal("854704.200"),
    "cap103": Decimal("893782.1125"),
    "cap104": Decimal("928941.750"),
}


@dataclass(frozen=True)
class Instance:
    """A published problem: what opening each facility costs, and what each customer costs from each facility."""

    opening: list[Decimal]
    serving: list[list[Decimal]]


def read_instance(path: Path) -> Instance:
    """Read a file of the OR-Library; capacities and demands are not used."""
    numbers = iter(path.read_text(encoding="ascii").split())
    facilities, customers = int(next(numbers)), int(next(numbers))
    opening = []
    for _ in range(facilities):
        next(numbers)
        opening.append(Decimal(next(numbers)))
    serving = []
    for _ in range(customers):
        next(numbers)
        serving.append([Decimal(next(numbers)) for _ in range(facilities)])
    assert next(numbers, None) is None
    return Instance(opening, serving)


def amount(cost: Decimal, more: int = 0) -> str:
    """A published cost as an amount of the shop, exactly, and so many cents more."""
    cents = cost * SCALE + more
    assert cents == int(cents)
    return f"{int(cents) // 100}.{int(cents) % 100:02d}"


def write_shop(instance: Instance, folder: Path) -> Path:
    """Write an instance as catalogs and a job; returns the job."""
    catalogs = folder / "catalogs"
    book = [
        "format = 1",
        '[family]\ncode = "sites"\nname = "Sites"',
        '[[era]]\ncode = "e"\nname = "e"\nfrom = "2000-01"',
    ]
    parts, terms = [["supplier", "part_number", "fills", "condition"]], []
    for c in range(len(instance.serving)):
        lead = "\nlead = true" if c == 0 else ""
        book.append(f'[[position]]\ncode = "p{c:02d}"\nname = "Customer {c}"{lead}')
        book.append(f'[[design]]\ncode = "d{c:02d}"\nposition = "p{c:02d}"\nname = "Customer {c}"\nfitted = ["e"]')
    for f, opening in enumerate(instance.opening):
        code = f"s{f:02d}"
        terms.append(f'[[supplier]]\ncode = "{code}"\nname = "Facility {f}"')
        terms.append(f'[[supplier.freight]]\nmode = "road"\ndays = 0\nflat = {amount(opening)}')
        sheet = [["Part Number", "Price"]]
        for c, costs in enumerate(instance.serving):
            sheet.append([f"N{f:02d}{c:02d}", amount(costs[f], 1)])
            parts.append([code, f"N{f:02d}{c:02d}", f"d{c:02d}", "new"])
        write_csv(catalogs / "price-sheets" / code / "2026-01-02.csv", sheet)
    write_csv(catalogs / "sites" / "parts.csv", parts)
    (catalogs / "sites" / "interchange.toml").write_text("\n".join(book), encoding="utf-8")
    (catalogs / "suppliers.toml").write_text("\n".join(terms), encoding="utf-8")
    (catalogs / "shop.toml").write_text('currency = "USD"\n', encoding="utf-8")
    job = folder / "job.toml"
    job.write_text('[job]\nnumber = "1"\nfamily = "sites"\ndate = 2026-01-05\nminimise = "cash"\n', encoding="utf-8")
    return job


def write_csv(path: Path, rows: list[list[str]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


@pytest.mark.parametrize("name", OPTIMA)
def test_the_published_optimum_is_reached_to_the_cent(name: str, tmp_path: Path) -> None:
    path = PUBLISHED / f"{name}.txt"
    if not path.is_file():
        pytest.skip(f"the published instance is not there: {path}")
    instance = read_instance(path)
    job = write_shop(instance, tmp_path)
    answered = quote_job(open_shop(tmp_path / "catalogs"), job)
    assert answered.plan.status == "proven"
    assert answered.plan.totals is not None
    assert answered.plan.totals.cash == OPTIMA[name] * SCALE + len(instance.serving)


def test_a_time_limit_gives_honest_bounds_around_the_published_optimum(tmp_path: Path) -> None:
    """However soon the time is up: the bound is not above the optimum, the plan not below it."""
    path = PUBLISHED / "cap101.txt"
    if not path.is_file():
        pytest.skip(f"the published instance is not there: {path}")
    instance = read_instance(path)
    job = write_shop(instance, tmp_path)
    optimum = OPTIMA["cap101"] * SCALE + len(instance.serving)
    shop = open_shop(tmp_path / "catalogs")
    for seconds in (0.01, 0.5, 0.7, 0.9):
        plan = quote_job(shop, job, seconds).plan
        assert plan.status in ("proven", "best_found", "nothing_found")
        assert plan.proof.bound is None or plan.proof.bound <= optimum
        if plan.choice is not None:
            assert plan.totals is not None
            assert plan.totals.cash >= optimum
            assert plan.status == "best_found" or plan.totals.cash == optimum
