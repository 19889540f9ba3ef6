"""Time to a proven optimum on facility problems, beside plain solvers on the same data: gap 0, one thread, one run each.

`answer` is the tool's whole answer to the sealed problem: arrays made, optimum proven, equals settled, plan priced and checked.
`search` is its search alone, on the arrays that the peers get too. Peers: the plain program with strong links x_ij <= y_j, built
by their own usual means, building included. CPU seconds (of the process, and of the children that a peer starts); a limit
is on the clock.
"""

from __future__ import annotations

import statistics
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage
from typing import Any

import numpy as np
from instances import Facilities, gap, level, plane, problem_of, published, uniform, warehouse
from program.hard import hard
from program.priced import priced

from sourcing.problem import Problem
from sourcing.program.ahead import EVERY_STEP, NOTHING_AHEAD
from sourcing.program.answer import answer

PUBLISHED = Path(__file__).resolve().parents[3] / "shared" / "published"
LIMIT, QUICK_LIMIT = 120.0, 20.0
# A peer's answer: whether it proved an optimum, and which.
Answered = tuple[bool, float]


def instances(quick: bool) -> Iterator[Facilities]:
    """Published ones where they are there, then those made by recipe."""
    names = ["cap71", "cap72", "cap73", "cap74", "cap101", "cap102", "cap103", "cap104"]
    paths = [PUBLISHED / f"{name}.txt" for name in names]
    yield from (published(path) for path in paths if path.is_file())
    if quick:
        yield from (uniform("B", 50, 50, 1), uniform("C", 60, 60, 1), gap(40, 40, 1))
        return
    yield from (plane(100, 100, 1), gap(60, 60, 1), gap(100, 100, 1))
    yield from (uniform(kind, 100, 100, 1) for kind in "ABC")
    yield from (level(3000, 0, 10000, 100, seed) for seed in (1, 2))
    yield from (level(12000, 1000, 2000, 100, seed) for seed in (1, 2))
    yield warehouse(1000, 100, 1)
    yield from (uniform(kind, 200, 200, 1) for kind in "BC")
    yield from (level(3000, 0, 10000, 200, 1), level(12000, 1000, 2000, 200, 1))


# Peers: each the plain program by its own usual means


def by_pulp(given: Facilities, limit: float, engine: str) -> Answered:
    """Plain PuLP, with its own HiGHS or CBC."""
    import pulp

    customers, facilities = given.serving.shape
    model = pulp.LpProblem("facilities", pulp.LpMinimize)
    opens = [pulp.LpVariable(f"y_{j}", cat="Binary") for j in range(facilities)]
    serves = {
        (i, j): pulp.LpVariable(f"x_{i}_{j}", 0, 1)
        for i in range(customers)
        for j in range(facilities)
        if np.isfinite(given.serving[i, j])
    }
    model += pulp.lpSum(float(given.placing[j]) * opens[j] for j in range(facilities)) + pulp.lpSum(
        float(given.serving[key]) * var for key, var in serves.items()
    )
    by_customer: dict[int, list[Any]] = {i: [] for i in range(customers)}
    for (i, j), var in serves.items():
        by_customer[i].append(var)
        model += var <= opens[j]
    for row in by_customer.values():
        model += pulp.lpSum(row) == 1
    if engine == "HiGHS":
        solver = pulp.HiGHS(msg=False, timeLimit=limit, gapRel=0, gapAbs=0, threads=1)
    else:
        solver = pulp.PULP_CBC_CMD(msg=False, timeLimit=limit, gapRel=0, gapAbs=0, threads=1)
    model.solve(solver)
    return model.sol_status == pulp.LpSolutionOptimal, float(pulp.value(model.objective) or np.inf)


def by_highspy(given: Facilities, limit: float) -> Answered:
    """Bare highspy, the model handed over in one piece."""
    import highspy

    customers, facilities = given.serving.shape
    rows, columns = np.nonzero(np.isfinite(given.serving))
    links = len(rows)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = facilities + links, customers + links
    lp.col_cost_ = np.concatenate([given.placing, given.serving[rows, columns]])
    lp.col_lower_, lp.col_upper_ = np.zeros(lp.num_col_), np.ones(lp.num_col_)
    whole, share = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
    lp.integrality_ = [whole] * facilities + [share] * links
    lp.row_lower_ = np.concatenate([np.ones(customers), np.full(links, -np.inf)])
    lp.row_upper_ = np.concatenate([np.ones(customers), np.zeros(links)])
    per_row = np.bincount(rows, minlength=customers)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(per_row), links + 2 * np.arange(1, links + 1)])
    pairs = np.stack([facilities + np.arange(links), columns], axis=1).ravel()
    lp.a_matrix_.index_ = np.concatenate([facilities + np.arange(links), pairs])
    lp.a_matrix_.value_ = np.concatenate([np.ones(links), np.tile([1.0, -1.0], links)])
    engine = highspy.Highs()
    for name, value in {"output_flag": False, "threads": 1, "mip_rel_gap": 0.0, "mip_abs_gap": 0.0,
                        "time_limit": limit}.items():  # fmt: skip
        engine.setOptionValue(name, value)
    engine.passModel(lp)
    engine.run()
    proven = engine.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return proven, float(engine.getInfo().objective_function_value)


def by_cpsat(given: Facilities, limit: float) -> Answered:
    """CP-SAT with one worker."""
    from ortools.sat.python import cp_model

    customers, facilities = given.serving.shape
    model = cp_model.CpModel()
    opens = [model.new_bool_var("") for _ in range(facilities)]
    costs = [int(given.placing[j]) * opens[j] for j in range(facilities)]
    for i in range(customers):
        row = []
        for j in np.flatnonzero(np.isfinite(given.serving[i])):
            serves = model.new_bool_var("")
            model.add_implication(serves, opens[j])
            row.append(serves)
            costs.append(int(given.serving[i, j]) * serves)
        model.add_exactly_one(row)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit
    status = solver.solve(model)
    return status == cp_model.OPTIMAL, float(solver.objective_value)


PEERS: dict[str, Callable[[Facilities, float], Answered]] = {
    "PuLP+HiGHS": lambda given, limit: by_pulp(given, limit, "HiGHS"),
    "PuLP+CBC": lambda given, limit: by_pulp(given, limit, "CBC"),
    "highspy": by_highspy,
    "CP-SAT": by_cpsat,
}


def cpu() -> float:
    children = getrusage(RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def answered(problem: Problem, limit: float) -> tuple[bool, float, float]:
    """Whether proven, the cost, CPU seconds of the whole answer."""
    started = cpu()
    plan = answer(problem, limit)
    return plan.status == "proven", float(plan.cost), cpu() - started


def searched(given: Facilities, limit: float) -> tuple[bool, float, float, float]:
    """Whether proven, the cost, the root gap in per cent, CPU seconds of the search alone."""
    from sourcing.program.ahead.choosing import Placing, prove

    started, end = cpu(), time.monotonic() + limit
    proven = prove(Placing(given.placing, given.serving), False, lambda: time.monotonic() > end)
    assert proven is not None
    gap = 100 * max(0.0, proven.cents - proven.root) / proven.cents
    return proven.bound >= proven.cents, proven.cents, gap, cpu() - started


def measure_proofs(quick: bool = False, limit: float = LIMIT) -> None:
    """Print the table: every instance by everybody, then what it comes to."""
    warnings.simplefilter("ignore")
    limit = min(limit, QUICK_LIMIT) if quick else limit
    print(f"\nProofs: CPU s to a proven optimum, models built anew, gap 0, one thread, limit {limit:.0f} s")
    print(f"{'':<24}{'root gap':>9}{'answer':>8}{'search':>8}" + "".join(f"{name:>12}" for name in PEERS)
          + f"{'ratios':>14}")  # fmt: skip
    ratios: list[tuple[float, float, float]] = []
    for given in instances(quick):
        proven, cost, whole = answered(problem_of(given), limit)
        cost -= given.serving.shape[0]  # the cent that every price is dearer
        found, cents, gap_share, alone = searched(given, limit)
        assert not (proven and found) or cents == cost, given.name
        told, best = [], np.inf
        for peer in PEERS.values():
            started = cpu()
            peer_proven, peer_cost = peer(given, limit)
            taken = cpu() - started
            assert not (found and peer_proven) or round(peer_cost) == cents, given.name
            told.append(f"{taken:.2f}" if peer_proven else f"> {limit:.0f}")
            best = min(best, taken if peer_proven else limit)
        ratios.append((best, best / whole if proven else 0.0, best / alone if found else 0.0))
        mine = [f"{taken:.2f}" if done else f"> {limit:.0f}" for done, taken in ((proven, whole), (found, alone))]
        print(f"{given.name:<24}{gap_share:>8.2f}%{mine[0]:>8}{mine[1]:>8}" + "".join(f"{one:>12}" for one in told)
              + f"{ratios[-1][1]:>7.1f}{ratios[-1][2]:>7.1f}", flush=True)  # fmt: skip
    for n, name in ((1, "answer"), (2, "search")):
        slow = [ratio[n] for ratio in ratios if ratio[0] > 1]
        print(
            f"{name}: slower than the best of them on {sum(ratio[n] < 1 for ratio in ratios)} of {len(ratios)}", end=""
        )
        print(f"; times as fast on the {len(slow)} that take the best over a second: median {statistics.median(slow):.1f}"
              if slow else "")  # fmt: skip
    _measure_jobs(quick)


def _measure_jobs(quick: bool) -> None:
    """Jobs with rules, thresholds and waits: the program alone, and with what is done ahead of it."""
    print("\nJobs with rules between positions, minimums, free freight and waits: CPU s, ties settled")
    print(f"{'':<28}{'lines':>7}{'program':>10}{'ahead':>8}{'ratio':>8}")
    jobs = {f"priced #{seed}": priced(seed) for seed in range(2 if quick else 5)}
    jobs["hard 8 x 6 x 12"] = hard(8, 6, 12)
    for name, problem in jobs.items():
        times, costs = [], []
        for ahead in (NOTHING_AHEAD, EVERY_STEP):
            started = cpu()
            plan = answer(problem, ahead=ahead)
            times.append(cpu() - started)
            costs.append((plan.status, plan.choice))
        same = "" if costs[0] == costs[1] else "  !"
        print(f"{name:<28}{len(problem.lines):>7}{times[0]:>10.2f}{times[1]:>8.2f}{times[0] / times[1]:>8.1f}{same}")
