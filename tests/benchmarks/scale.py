"""Jobs of the largest size that the tool promises to prove, made by code: a sealed problem of many tables, and a shop's folder."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from pathlib import Path
from random import Random
from typing import Any

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]
import xlsxwriter  # noqa: E402
from program.tiny import sold, tiny  # noqa: E402

from sourcing.problem import Problem  # noqa: E402
from sourcing.program.ahead import EVERY_STEP, NOTHING_AHEAD  # noqa: E402
from sourcing.program.ahead.floor import PARTS_OF_A_CENT, floor_of  # noqa: E402
from sourcing.program.answer import answer  # noqa: E402

Row = tuple[str, ...]
# Scopes drawn for a table, of which the one that its rows suit best is taken.
TRIES = 8


def sizes_of(tables: int, rows: int) -> list[int]:
    """Rows of each table, adding up to `rows`: the n-th largest is about an n-th of the largest, none below four."""
    whole = sum(1 / n for n in range(1, tables + 1))
    sizes = [max(4, round(rows / whole / n)) for n in range(1, tables + 1)]
    sizes[0] += rows - sum(sizes)
    return sizes


def scope(random: Random, held: Sequence[Sequence[str]], rows: int, reach: int, open_share: float) -> list[int]:
    """Positions near each other, one of the first few now and then, of which `rows` are about an `open_share` of all rows."""
    centre = random.randrange(len(held))
    near = [n for n in range(centre - reach, centre + reach + 1) if 0 <= n < len(held) and n != centre]
    random.shuffle(near)
    if random.random() < 0.1:
        near.insert(0, random.randrange(min(6, len(held))))
    chosen = [centre]
    for n in dict.fromkeys(near):
        if len(chosen) >= 2 and prod(len(held[i]) for i in chosen) * open_share >= rows:
            break
        if n != centre:
            chosen.append(n)
    return sorted(chosen)


def rows_of(random: Random, values: Sequence[Sequence[str]], planted: Row, rows: int) -> list[Row]:
    """So many different rows of one table, the planted one among them.

    Rows go by one of the positions, as books do: with each of its designs, some designs of every other go, all with each
    other. The last of these groups is cut short where there would be too many rows.
    """
    rows = min(rows, prod(map(len, values)))
    key = random.randrange(len(values))
    share = (rows / prod(map(len, values))) ** (1 / max(1, len(values) - 1))
    made = {planted}
    designs = list(values[key])
    while len(made) < rows:
        random.shuffle(designs)
        for design in designs:
            some = [[value for value in one if random.random() < share] or [random.choice(one)] for one in values]
            some[key] = [design]
            fresh = [row for row in product(*some) if row not in made]
            made.update(fresh[: rows - len(made)])
    return sorted(made)


def book(
    random: Random, positions: int, tables: int, rows: int, reach: int, spread: tuple[float, float]
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Designs of each position, and rules that list rows; one planted combination stands in all of them."""
    held = [[f"p{p}-{n}" for n in range(random.randint(2, 10))] for p in range(positions)]
    planted = [random.choice(values) for values in held]
    rules = []
    left = rows
    sizes = sizes_of(tables, rows)[::-1]  # the largest last: it takes what the others left over
    for n, size in enumerate(sizes):
        share = random.uniform(*spread)
        size = left if n == len(sizes) - 1 else size
        tries = [scope(random, held, size, reach, share) for _ in range(TRIES)]
        named = min(tries, key=lambda one: abs(share * prod(len(held[p]) for p in one) - size))
        values = [held[p] for p in named]
        made = rows_of(
            random, values, tuple(planted[p] for p in named), max(size, round(share * min(100, prod(map(len, values)))))
        )
        left -= len(made)
        rules.append({"allow": {"positions": [f"p{p}" for p in named], "rows": [list(row) for row in made]}})
    return held, rules


def offers(random: Random, held: Sequence[Sequence[str]], suppliers: int) -> Iterator[dict[str, Any]]:
    """Each design from one to three suppliers, at prices of its own."""
    for values in held:
        level = random.choice((4, 12, 40, 150))
        for design in values:
            for n in random.sample(range(suppliers), random.randint(1, min(3, suppliers))):
                price = round(level * random.uniform(0.6, 1.8), 2)
                yield sold(f"s{n}", f"N{design}", design, price, core_charge=random.choice((0, 0, round(level / 3))))


def sealed(
    positions: int,
    tables: int,
    rows: int,
    suppliers: int = 6,
    seed: int = 1,
    reach: int = 8,
    spread: tuple[float, float] = (0.3, 0.6),
    suppliers_terms: dict[str, dict[str, Any]] | None = None,
    **shop: Any,
) -> Problem:
    """A sealed problem: so many positions and tables, `rows` rows in all, random prices.

    Without other terms every third supplier's freight is flat, and free from a sum on. `shop` are values of shop.toml.
    """
    random = Random(seed)
    held, rules = book(random, positions, tables, rows, reach, spread)
    terms = suppliers_terms or {
        f"s{n}": {"freight": [{"mode": "ground", "days": 3, "flat": 5 + n, "free_over": 300}]} if n % 3 == 0 else {}
        for n in range(suppliers)
    }
    places = [f"p{p}" for p in range(positions)]
    designs = [design for values in held for design in values]
    return tiny(places, designs, list(offers(random, held, suppliers)), rules=rules, suppliers=terms, shop=shop)


def write_shop(folder: Path, positions: int, suppliers: int, rows: int, named: int, seed: int = 1) -> Path:
    """A shop's folder: so many positions and suppliers, sheets of `rows` priced rows in all, a part of them in parts.csv.

    Every second sheet is an .xlsx, the others .csv. `named` rows are numbers that parts.csv gives the family: with the
    book's 3 to 5 designs a position, each design from several suppliers. Returns the job's path.
    """
    random = Random(seed)
    held = [[f"p{p}-{n}" for n in range(random.randint(3, 5))] for p in range(positions)]
    catalogs = folder / "catalogs"
    (catalogs / "large").mkdir(parents=True)
    (catalogs / "large" / "interchange.toml").write_text(_large_book(random, held), encoding="utf-8")
    (catalogs / "shop.toml").write_text(
        'currency = "USD"\nlabour_rate = 100\nlabour_cost = 50\ncomeback_cost = 200\nday_cost = 3\n', encoding="utf-8"
    )
    terms = [_terms(random, n) for n in range(suppliers)]
    (catalogs / "suppliers.toml").write_text("\n".join(terms), encoding="utf-8")
    designs = [(design, random.choice((6, 20, 60, 200))) for values in held for design in values]
    parts = ["supplier,part_number,fills,condition,warranty_months"]
    each = [rows // suppliers + (n < rows % suppliers) for n in range(suppliers)]
    for n, many in enumerate(each):
        mine = [designs[(n * 7919 + k * suppliers + k) % len(designs)] for k in range(named // suppliers)]
        mine = list(dict.fromkeys(mine))
        parts += [f"s{n},S{n}-{design},{design},{random.choice(('new', 'reman'))},12" for design, _ in mine]
        sheet: list[list[object]] = [["Part Number", "Description", "Net Price", "Core Charge", "In Stock", "Pack"]]
        for k in range(many):
            number, level = (f"S{n}-{mine[k][0]}", mine[k][1]) if k < len(mine) else (f"S{n}-X{k}", 50)
            sheet.append([number, f"Part {k}", round(level * random.uniform(0.7, 1.6), 2),
                          random.choice(("", 5, 12.5)), random.choice(("", 3, 8)), 1])  # fmt: skip
        _write_sheet(catalogs / "price-sheets" / f"s{n}" / "2026-03-02", sheet, n % 2 == 0)
    (catalogs / "large" / "parts.csv").write_text("\n".join(parts) + "\n", encoding="utf-8")
    job = folder / "job.toml"
    found = "\n".join(f'p{p} = "{values[0]}"' for p, values in enumerate(held))
    kept = ", ".join(f'"p{p}"' for p in range(0, positions, 3))
    job.write_text(
        '[job]\nnumber = "1"\nfamily = "large"\ndate = 2026-03-24\n[unit]\nbuilt = "2006-05"\n'
        f"[found]\n{found}\n[limits]\nkeep = [{kept}]\n",
        encoding="utf-8",
    )
    return job


def _large_book(random: Random, held: Sequence[Sequence[str]]) -> str:
    """Every fifth pair of neighbours is tied by a rule that lists pairs, with the first designs of all among them."""
    lines = ['format = 1\n[family]\ncode = "large"\nname = "A large family"']
    lines.append('[[era]]\ncode = "e"\nname = "the era"\nfrom = "2001-01"')
    for p, values in enumerate(held):
        lines.append(f'[[position]]\ncode = "p{p}"\nname = "Position {p}"' + ("\nlead = true" if p == 0 else ""))
        lines += [f'[[design]]\ncode = "{code}"\nposition = "p{p}"\nname = "Design {n} of {p}"\nfitted = ["e"]\n'
                  f"weight_kg = {random.randint(1, 40) / 10}\ncomeback_rate = {random.randint(0, 8) / 100}"
                  for n, code in enumerate(values)]  # fmt: skip
    for p in range(1, len(held), 2):
        pairs = [
            (a, b)
            for a in held[p - 1]
            for b in held[p]
            if random.random() < 0.6 or (a, b) == (held[p - 1][0], held[p][0])
        ]
        listed = ", ".join(f'["{a}", "{b}"]' for a, b in pairs)
        lines.append(f'[[rule]]\ncode = "r{p}"\nsays = "reason {p}"\nsource = "made by code"\n'
                     f'allow = {{positions = ["p{p - 1}", "p{p}"], rows = [{listed}]}}')  # fmt: skip
    for p in range(0, len(held), 25):
        lines.append(f'[[task]]\ncode = "t{p}"\nname = "Task {p}"\nhours = 0.5\nreplacing = ["p{p}"]')
    return "\n".join(lines) + "\n"


def _terms(random: Random, n: int) -> str:
    """A supplier: its freight flat, by weight above nothing, or free from a threshold on."""
    days = random.randint(1, 5)
    free = f"\nfree_over = {random.choice((150, 300, 600))}" if n % 3 == 0 else ""
    weight = f"\nper_kg = {random.randint(2, 9) / 10}" if n % 4 == 1 else ""
    return (
        f'[[supplier]]\ncode = "s{n}"\nname = "Supplier {n}"\nlead_days = {n % 3}\n[[supplier.freight]]\n'
        f'mode = "ground"\ndays = {days}\nflat = {random.randint(6, 30)}{weight}{free}\n'
    )


def _write_sheet(stem: Path, rows: Sequence[Sequence[object]], workbook: bool) -> None:
    stem.parent.mkdir(parents=True)
    if not workbook:
        with stem.with_suffix(".csv").open("w", newline="", encoding="utf-8") as out:
            csv.writer(out).writerows(rows)
        return
    book = xlsxwriter.Workbook(str(stem.with_suffix(".xlsx")), {"constant_memory": True})
    sheet = book.add_worksheet()
    for y, row in enumerate(rows):
        for x, cell in enumerate(row):
            if cell != "":
                sheet.write(y, x, cell)
    book.close()


# Positions, tables, rows in all, how near each other the positions of a table are, and the share of all rows that it lists.
BOOKS = ((139, 147, 3_000, 8, (0.3, 0.6)), (268, 332, 226_000, 8, (0.2, 0.5)), (268, 332, 226_000, 3, (0.5, 0.9)))
# Freight that is never waived, or from sums that are seldom reached: 3 times dearer for each next supplier.
DEAR: dict[str, dict[str, Any]] = {
    f"s{n}": {"freight": [{"mode": "ground", "days": 1 + n % 3, "flat": 5 + 3 * n,
                           **({"free_over": 300 * n * n} if n % 2 else {})}]}
    for n in range(6)
}  # fmt: skip


def cheapest_by_cp_sat(problem: Problem, seconds: float) -> str:
    """What CP-SAT takes, and finds, for the cheapest combination at its floors alone: no orders, one worker."""
    from ortools.sat.python import cp_model

    fitting, floor = problem.fitting, floor_of(problem)
    assert fitting is not None
    began = time.process_time()
    model = cp_model.CpModel()
    held = {position: model.new_int_var(0, len(designs) - 1, "") for position, designs in fitting.domains.items()}
    costs = []
    for position, designs in fitting.domains.items():
        for number, design in enumerate(designs):
            here = model.new_bool_var("")
            model.add(held[position] == number).only_enforce_if(here)
            model.add(held[position] != number).only_enforce_if(~here)
            costs.append(here * floor.least[position][design])
    for table in fitting.tables:
        numbers = [{design: number for number, design in enumerate(fitting.domains[p])} for p in table.positions]
        rows = {
            one
            for row in table.rows
            for one in product(*([of[d] for d in cell] for of, cell in zip(numbers, row, strict=True)))
        }
        model.add_allowed_assignments([held[p] for p in table.positions], sorted(rows))
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds, solver.parameters.num_workers = seconds, 1
    status = solver.status_name(solver.solve(model))
    found = (
        (solver.objective_value + floor.always) / PARTS_OF_A_CENT if status in ("OPTIMAL", "FEASIBLE") else float("nan")
    )
    return f"{status.lower()}, {found:.0f}, {time.process_time() - began:.1f} s of work"


def measure(seconds: float = 120, quick: bool = False) -> None:
    """Print what proving generated books takes, from the sealed problem on, and a whole quote of a large shop's folder.

    Beside it stand the program alone, with nothing done ahead, and CP-SAT for the cheapest combination without its orders.
    """
    for positions, tables, rows, reach, spread in BOOKS:
        for freight, terms in (("", None), (", freight seldom waived", DEAR)):
            problem = sealed(positions, tables, rows, reach=reach, spread=spread, suppliers_terms=terms)
            print(
                f"{positions} positions, {tables} tables, {rows} rows, {spread[0]:.0%} to {spread[1]:.0%} of all{freight}:"
            )
            for name, ahead in (("ours", EVERY_STEP), ("the program alone", NOTHING_AHEAD)):
                began = time.process_time()
                plan = answer(problem, seconds if ahead is EVERY_STEP else min(seconds, 20), ahead=ahead)
                print(f"  {name}: {plan.status}, {plan.cost if plan.choice else '-'}, {time.process_time() - began:.1f} s of work",
                      flush=True)  # fmt: skip
            if terms is None:
                print(f"  CP-SAT, combination alone: {cheapest_by_cp_sat(problem, min(seconds, 20))}", flush=True)
    if quick:
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        job = write_shop(folder, 1000, 100, 100_000, 20_000)
        import resource

        command = [sys.executable, "-m", "sourcing", "quote", str(job), "--catalogs", str(folder / "catalogs"), "--out",
                   str(folder / "reports"), "--time-limit", str(seconds)]  # fmt: skip
        environment = {**os.environ, "SOURCING_CACHE": str(folder / "cache")}
        began = time.perf_counter()
        run = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
        used_by = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"1000 positions, 100 suppliers, 100000 priced rows: {' '.join(run.stdout.splitlines()[2:3])}, "
              f"{time.perf_counter() - began:.1f} s, {used_by.ru_utime + used_by.ru_stime:.1f} s of work, "
              f"{used_by.ru_maxrss / 1024:.0f} MB", flush=True)  # fmt: skip


if __name__ == "__main__":
    measure(*map(float, sys.argv[1:]))
