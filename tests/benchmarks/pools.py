"""Pools of thousands of like jobs: time to proof beside a plain class formulation handed to HiGHS."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import TypeVar

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]
import highspy  # noqa: E402
import numpy as np  # noqa: E402
from program.tiny import Table, sold, tiny  # noqa: E402

from sourcing.plan import Status  # noqa: E402
from sourcing.pool.lots import Pool, pool_of  # noqa: E402
from sourcing.pool.plan import PoolPlan  # noqa: E402
from sourcing.problem import Problem  # noqa: E402
from sourcing.program.ahead import NOTHING_AHEAD  # noqa: E402
from sourcing.program.ahead.ceilings import ceilings_of  # noqa: E402
from sourcing.program.answer import Watch  # noqa: E402
from sourcing.program.build import build  # noqa: E402
from sourcing.program.together import answer_together  # noqa: E402

T = TypeVar("T")
POSITIONS, DESIGNS = 6, 5


def classes_of_jobs(classes: int, suppliers: int, jobs: int, seed: int = 1) -> list[Problem]:
    """Sealed problems that differ in what was found, may be kept and may be used.

    Suppliers have breaks, free freight, and stock for a tenth or three tenths of the jobs, or unlimited.
    """
    random = Random(seed)
    places = [f"p{i}" for i in range(POSITIONS)]
    drawn = [
        {"code": f"{place}-{j}", "comeback_rate": f"{random.randint(0, 9)}/100", "weight_kg": random.randint(1, 6)}
        for place in places
        for j in range(DESIGNS)
    ]
    codes = [str(design["code"]) for design in drawn]
    terms: dict[str, Table] = {}
    for n in range(suppliers):
        flat = random.randint(20, 90)
        terms[f"s{n}"] = {
            "order_minimum": random.choice([0, 200]),
            "freight": [
                {"mode": "ground", "days": random.randint(1, 4), "flat": flat, "free_over": random.randint(250, 1000)}
            ],
        }
    offers = []
    for supplier in terms:
        for design in random.sample(codes, k=len(codes) // 3):
            price = random.randint(40, 160)
            breaks = {random.choice([5, 10]): price * 0.95, random.choice([50, 100]): price * 0.9}
            stock = random.choice([None, None, max(1, jobs // 10), jobs * 3 // 10])
            pack = random.choice([1, 1, 1, 4])
            more = {"core_charge": random.randint(5, 30), "pack": pack, **({"stock": stock} if stock else {})}
            offers.append(sold(supplier, f"N-{design}", design, price, breaks, **more))
    tied = []
    for i in range(0, POSITIONS - 1):
        if i != 3:  # two groups of positions that ask nothing of each other
            pairs = [[f"p{i}-{a}", f"p{i + 1}-{b}"] for a in range(DESIGNS) for b in range(DESIGNS) if (a - b) % 3 != 1]
            tied.append({"allow": {"positions": [f"p{i}", f"p{i + 1}"], "rows": pairs}})
    tasks = [{"hours": 1, "when": {"p0": ["p0-0", "p0-1"]}}, {"hours": 0.5, "when": {"p4": ["p4-2"]}}]
    made: list[Problem] = []
    seen: set[tuple[object, ...]] = set()
    while len(made) < classes:
        found = {place: f"{place}-{random.randrange(DESIGNS)}" for place in places}
        keep = random.sample(places, k=random.randint(0, 2))
        exclude = random.sample(codes, k=random.randint(0, 3))
        if (key := (tuple(found.values()), tuple(sorted(keep)), tuple(sorted(exclude)))) in seen:
            continue
        seen.add(key)
        problem = tiny(places, drawn, offers, rules=tied, tasks=tasks, suppliers=terms, found=found,
                       shop={"labour_rate": 60, "comeback_cost": 300}, limits={"keep": keep, "exclude": exclude})  # fmt: skip
        if problem.fitting is not None:
            made.append(problem)
    return made


def jobs_of(classes: Sequence[Problem], jobs: int) -> list[Problem]:
    """So many jobs, each class in turn with its own weight."""
    made = []
    for n in range(jobs):
        problem = classes[(n * n + n // 7) % len(classes)]
        head = problem.job.job.model_copy(update={"number": f"{n:06}"})
        made.append(replace(problem, job=problem.job.model_copy(update={"job": head})))
    return made


def plain(pool: Pool, limit: float) -> tuple[float, float]:
    """The plain class formulation, all of it in arrays: whole combinations counted, pieces by offer, one variable a price step.

    Seconds of HiGHS and its optimum in cents. It knows what these pools use and no more.
    """
    cost: list[float] = []
    upper: list[float] = []
    rows: list[tuple[dict[int, float], float, float]] = []

    def column(cents: float, most: float) -> int:
        cost.append(cents)
        upper.append(most)
        return len(cost) - 1

    inf = highspy.kHighsInf
    everybody = pool.jobs
    pieces: dict[int, dict[int, float]] = {offer.id: {} for offer in pool.offers}
    core_there: dict[str, dict[int, float]] = {}
    cores = {design: 0 for lot in pool.lots for design in lot.problem.cores.values()}
    for lot in pool.lots:
        problem, count = lot.problem, lot.count
        made: dict[int, float] = {}
        bought: dict[tuple[str, str], dict[int, float]] = {}
        assert problem.fitting is not None
        for held in problem.fitting.combinations():
            labour = sum(work.cents for work in problem.works if work.due(held, ()))
            way = column(labour, count)
            made[way] = 1
            for place in held.items():
                bought.setdefault(place, {})[way] = -1
        rows.append((made, count, count))
        for (position, design), row in bought.items():
            if problem.keepable.get(position) == design:
                kept = column(problem.comeback_cents(position, None, design), count)
                row[kept] = 1
                core_there.setdefault(design, {})[kept] = -1
            for offer in problem.offers:
                if design in offer.part.fills:
                    fill = column(problem.comeback_cents(position, offer, design), count)
                    row[fill] = 1
                    pieces[offer.id][fill] = 1
            rows.append((row, 0, 0))
        for design in problem.cores.values():
            cores[design] += count
    orders: dict[str, list[tuple[int, float]]] = {}
    opened: dict[str, int] = {}
    back: dict[str, dict[int, float]] = {}
    for offer in pool.offers:
        total: dict[int, float] = dict.fromkeys(pieces[offer.id], -1)
        opens = opened.setdefault(offer.supplier, column(pool.terms[offer.supplier].modes[0].flat_cents, 1))
        most = min(everybody, offer.stock or everybody)
        taken = {}
        for n, step in enumerate(offer.steps):
            last = offer.steps[n + 1].quantity - 1 if n + 1 < len(offer.steps) else -(-most // offer.pack) * offer.pack
            first = -(-step.quantity // offer.pack) * offer.pack
            last = min(last, offer.stock or last) // offer.pack * offer.pack
            if first > last:
                continue
            yes, packs = column(0, 1), column((step.cents + offer.core_cents) * offer.pack, last // offer.pack)
            rows += [({packs: 1, yes: -last / offer.pack}, -inf, 0), ({packs: 1, yes: -first / offer.pack}, 0, inf)]
            total[packs] = offer.pack
            taken[yes] = 1.0
            orders.setdefault(offer.supplier, []).append((packs, step.minor * offer.pack))
        rows += [(total, 0, offer.pack - 1), (taken, -inf, 1), ({**taken, opens: -1}, -inf, 0)]
        credit = pool.terms[offer.supplier].core_credit(offer.core_cents)
        accepted = [d for d in cores if d in offer.part.core_accepts]
        if credit and accepted:
            given = {column(-credit, everybody): 1.0 for _ in accepted}
            for design, var in zip(accepted, given, strict=True):
                back.setdefault(design, {})[var] = 1
            held = {var: -weight for var, weight in total.items() if weight > 0}
            rows.append(({**held, **given}, -inf, 0))
    for design, row in back.items():
        kept_row = dict.fromkeys(core_there.get(design, {}), 1.0)
        rows.append(({**row, **kept_row}, -inf, cores[design]))
    for supplier, sums in orders.items():
        mode = pool.terms[supplier].modes[0]
        minimum = pool.terms[supplier].order_minimum_minor
        rows.append(({**dict(sums), opened[supplier]: -minimum}, 0, inf))
        free = column(-mode.flat_cents, 1)
        rows.append(({free: 1, opened[supplier]: -1}, -inf, 0))
        rows.append(({**dict(sums), free: -(mode.free_over_minor or 0)}, 0, inf))
    return _by_highs(cost, upper, rows, limit)


def _by_highs(
    cost: list[float], upper: list[float], rows: list[tuple[dict[int, float], float, float]], limit: float
) -> tuple[float, float]:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(cost), len(rows)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = np.array(cost), np.zeros(len(cost)), np.array(upper)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
    lp.row_lower_, lp.row_upper_ = np.array([low for _, low, _ in rows]), np.array([high for _, _, high in rows])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *(len(row) for row, _, _ in rows)])
    lp.a_matrix_.index_ = np.array([var for row, _, _ in rows for var in row])
    lp.a_matrix_.value_ = np.array([weight for row, _, _ in rows for weight in row.values()])
    engine = highspy.Highs()
    for name, value in {
        "output_flag": False,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 0.0,
        "threads": 1,
        "time_limit": limit,
    }.items():
        engine.setOptionValue(name, value)
    started = time.process_time()
    engine.passModel(lp)
    engine.run()
    return time.process_time() - started, engine.getInfo().objective_function_value


SMALL = ((3, 30), (6, 200))
SIZES = ((12, 2_000), (12, 20_000), (60, 2_000), (240, 2_000))


def measure(quick: bool = False, limit: float = 120.0) -> None:
    """Print seconds of processor time for each size: the parts of the answer, the whole program alone, the plain formulation.

    `build` makes the program, `bound` adds up like pieces and prices the rows (both are in `answer`); `gap` is how far that bound
    lies below the least cost. The program alone and the plain formulation are stopped at the limit.
    """
    head = "".join(f"{name:>9}" for name in ("build", "bound", "gap %", "answer", "alone", "plain", "ratio"))
    print(f"\n{'pool: classes x jobs, 40 suppliers':<36}{head}")
    for classes, jobs in SMALL if quick else SIZES:
        pool = pool_of(jobs_of(classes_of_jobs(classes, 40, jobs), jobs))
        program, building = _timed(lambda pool=pool: build(pool))
        ceilings, bounding = _timed(lambda program=program: ceilings_of(program, Watch(None)))
        plan, ours = _timed(lambda pool=pool: answer_together(pool, ties=False))
        alone, asked = _timed(lambda pool=pool: answer_together(pool, Watch(limit), False, NOTHING_AHEAD))
        theirs, optimum = plain(pool, limit)
        assert plan.status != Status.PROVEN or optimum > plan.cost - 0.5, "the plain formulation has a cheaper plan"
        assert Status.PROVEN not in (plan.status, alone.status) or not alone.gets or alone.cost >= plan.cost
        gap = 0.0 if ceilings is None else 100 * (plan.cost - ceilings.bound) / plan.cost
        print(f"{f'{classes} x {jobs}':<36}{building:>9.2f}{bounding:>9.2f}{gap:>9.3f}{ours:>9.2f}{asked:>9.2f}{theirs:>9.2f}"
              f"{ours / theirs:>9.2f}" + _unlike("program alone", alone.cost if alone.gets else None, plan)
              + _unlike("plain", optimum if math.isfinite(optimum) else None, plan), flush=True)  # fmt: skip


def _timed(work: Callable[[], T]) -> tuple[T, float]:
    started = time.process_time()
    return work(), time.process_time() - started


def _unlike(name: str, cents: float | None, plan: PoolPlan) -> str:
    """What somebody stopped at that has no plan of the same cost."""
    if cents is not None and abs(cents - plan.cost) < 0.5:
        return ""
    return f"; {name}: " + ("no plan" if cents is None else f"{100 * (cents / plan.cost - 1):.3f} % dearer")


if __name__ == "__main__":
    measure()
