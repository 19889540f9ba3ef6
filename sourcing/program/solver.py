"""Solving a program: HiGHS in process, handed the model in one go; CBC as fallback and second opinion.

Every answer is read back as whole numbers and every row checked with them; an answer that fails is no answer.
"""

from __future__ import annotations

import math
import os
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import StrEnum
from threading import Event
from typing import Any

import pulp

# HiGHS takes a row as kept within this; with gaps of 0 it made no error over hundreds of jobs, tighter ones did.
FEASIBILITY = 1e-6
# Read back as whole numbers, a row must hold up to float noise on whole coefficients.
NOISE = 1e-6
GRACE_SECONDS = 5.0


class Outcome(StrEnum):
    OPTIMAL = "optimal"
    STOPPED = "stopped"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Solved:
    """What a solver said: values by variable name (whole numbers for integers), objective and bound in cents."""

    outcome: Outcome
    values: Mapping[str, float] | None
    objective: float | None
    bound: float | None
    solver: str
    interrupted: bool = False


Progress = Callable[[float | None, float | None], None]


@dataclass(frozen=True, slots=True)
class Effort:
    """How long and how hard to try.

    `told` hears of the best plan and of the bound, in cents, while HiGHS is at work. `start` is a known solution by variable
    name: what it does not name the solver finds itself, one that breaks a row it leaves aside. CBC starts without. `stop`: asked
    now and then whether a person wants the best so far, where there is no Ctrl-C to say so. `cutoff`: solutions above so many
    cents are not wanted; HiGHS calls a program infeasible that has no other, CBC takes no notice of it. `searching`: HiGHS looks
    for plans by smaller programs of its own; below a near cutoff that takes longer than it saves.
    """

    seconds: float | None = None
    presolve: bool = True
    engine: str = "highs"
    threads: int = 1
    gap: float = 0.0
    told: Progress | None = None
    start: Mapping[str, float] | None = None
    stop: Callable[[], bool] | None = None
    cutoff: float | None = None
    searching: bool = True


# How HiGHS looks for plans by smaller programs; a version that lacks one of these goes on without.
SEARCHES = ("mip_heuristic_run_rins", "mip_heuristic_run_rens", "mip_heuristic_run_root_reduced_cost")


def solve(model: pulp.LpProblem, effort: Effort) -> Solved:
    """Minimise a program, with a gap of 0 where no other is asked for.

    Ctrl-C stops the solver, which then gives the best that it has.
    """
    if effort.engine == "highs":
        try:
            import highspy  # noqa: F401
        except ImportError:
            return _cbc(model, effort)
        solved = _highs(model, effort)
        # HiGHS 1.16 has called a start optimal that its own bound denies, where presolve left nothing to search.
        if effort.start and solved.outcome == Outcome.OPTIMAL and _denied(solved):
            return _highs(model, replace(effort, start=None))
        return solved
    return _cbc(model, effort)


def _denied(solved: Solved) -> bool:
    """Whether a solution called optimal lies above the solver's own bound."""
    if solved.objective is None or solved.bound is None:
        return False
    return solved.objective - solved.bound > NOISE * max(1.0, abs(solved.objective))


def broken_rows(model: pulp.LpProblem, values: Mapping[str, float]) -> list[str]:
    """Names of the rows that the values, integers made whole, do not keep."""
    broken = []
    for name, row in model.constraints.items():
        total = sum(coefficient * values[var.name] for var, coefficient in row.items()) + row.constant
        if (row.sense != pulp.LpConstraintGE and total > NOISE) or (
            row.sense != pulp.LpConstraintLE and total < -NOISE
        ):
            broken.append(name)
    return broken


def value_of(expression: pulp.LpAffineExpression, values: Mapping[str, float]) -> float:
    return float(sum(coefficient * values[var.name] for var, coefficient in expression.items()) + expression.constant)


def _whole(variables: list[pulp.LpVariable], raw: list[float]) -> dict[str, float]:
    return {
        var.name: float(round(value)) if var.cat == pulp.LpInteger else float(value)
        for var, value in zip(variables, raw, strict=True)
    }


def _highs(model: pulp.LpProblem, effort: Effort) -> Solved:
    import highspy

    variables = model.variables()
    engine = engine_for(effort)
    engine.passModel(_as_lp(highspy, model, variables))
    if effort.start:
        known = effort.start
        start_from(engine, {i: known[var.name] for i, var in enumerate(variables) if var.name in known})
    stopped, interrupted = run_watched(engine, effort)
    return replace(_read_highs(highspy, engine, model, variables, stopped), interrupted=interrupted)


def engine_for(effort: Effort) -> Any:
    """A HiGHS without a model, told how long and how hard to try."""
    import highspy

    with _quiet_first_banner():
        engine: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    engine.setOptionValue("output_flag", False)
    options: dict[str, Any] = {
        "mip_rel_gap": effort.gap,
        "mip_abs_gap": 0.0,
        "mip_feasibility_tolerance": FEASIBILITY,
        "presolve": "on" if effort.presolve else "off",
        "threads": effort.threads,
    }
    if effort.seconds is not None:
        options["time_limit"] = max(0.01, effort.seconds)
    if effort.cutoff is not None:
        options["objective_bound"] = effort.cutoff
    for name, value in options.items():
        if engine.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise ValueError(f"HiGHS refuses the option {name} = {value!r}")
    # Takes 3 ms of every solve, a quarter of a small one, and finds only poor plans; an engine that does not know it goes on.
    engine.setOptionValue("mip_heuristic_run_feasibility_jump", False)
    for name in SEARCHES if not effort.searching else ():
        engine.setOptionValue(name, False)
    if effort.told is not None:
        # The log has an event of its own, but none comes while the log is off.
        engine.cbMipInterrupt.subscribe(lambda event: _tell(effort, event.data_out))
    return engine


def _tell(effort: Effort, heard: Any) -> None:
    assert effort.told is not None
    best, bound = heard.mip_primal_bound, heard.mip_dual_bound
    effort.told(best if math.isfinite(best) else None, bound if math.isfinite(bound) else None)


def start_from(engine: Any, known: Mapping[int, float]) -> None:
    """Hand HiGHS values to start from, by column."""
    import numpy as np

    values = np.array(list(known.values()), dtype=float)
    engine.setSolution(len(known), np.array(list(known), dtype=np.int32), values)


def _as_lp(highspy: Any, model: pulp.LpProblem, variables: list[pulp.LpVariable]) -> Any:
    column = {var.name: index for index, var in enumerate(variables)}
    lp = highspy.HighsLp()
    lp.num_col_ = len(variables)
    lp.num_row_ = len(model.constraints)
    costs = [0.0] * len(variables)
    for var, coefficient in model.objective.items():
        costs[column[var.name]] = float(coefficient)
    lp.col_cost_ = costs
    lp.offset_ = float(model.objective.constant)
    lp.col_lower_ = [-math.inf if var.lowBound is None else float(var.lowBound) for var in variables]
    lp.col_upper_ = [math.inf if var.upBound is None else float(var.upBound) for var in variables]
    integer, continuous = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
    lp.integrality_ = [integer if var.cat == pulp.LpInteger else continuous for var in variables]
    lower, upper, start, index, value = [], [], [0], [], []
    for row in model.constraints.values():
        for var, coefficient in row.items():
            index.append(column[var.name])
            value.append(float(coefficient))
        start.append(len(index))
        right = -float(row.constant)
        lower.append(-math.inf if row.sense == pulp.LpConstraintLE else right)
        upper.append(math.inf if row.sense == pulp.LpConstraintGE else right)
    lp.row_lower_, lp.row_upper_ = lower, upper
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = lp.num_col_, lp.num_row_
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = start, index, value
    return lp


def run_watched(engine: Any, effort: Effort) -> tuple[bool, bool]:
    """Run HiGHS beside us, so that Ctrl-C and an overrun time limit can stop it; whether either did, whether Ctrl-C.

    A second Ctrl-C goes on to whoever called, once HiGHS has let go: a process that ends while it runs would be aborted.
    """
    engine.HandleUserInterrupt = True
    ended, pressed = Event(), 0

    def work() -> None:
        try:
            engine.run()
        finally:
            ended.set()

    end = None if effort.seconds is None else time.monotonic() + effort.seconds + GRACE_SECONDS
    threading.Thread(target=work, daemon=True).start()
    stopped = False
    while not ended.is_set():
        try:
            # Not the thread's own join: interrupted, that takes the thread for ended though it runs (Python 3.11).
            ended.wait(0.1)
            late = end is not None and time.monotonic() > end
            if effort.stop is not None and effort.stop():
                pressed, late = max(pressed, 1), True
        except KeyboardInterrupt:
            pressed, late = pressed + 1, True
        if late:
            stopped = True
            engine.cancelSolve()
    if pressed > 1:
        raise KeyboardInterrupt
    return stopped, pressed > 0


def _read_highs(
    highspy: Any, engine: Any, model: pulp.LpProblem, variables: list[pulp.LpVariable], stopped: bool
) -> Solved:
    outcome = outcome_of(highspy, engine, stopped)
    if outcome == Outcome.INFEASIBLE:
        return Solved(outcome, None, None, None, "HiGHS")
    info = engine.getInfo()
    values = _whole(variables, list(engine.getSolution().col_value)) if outcome != Outcome.UNKNOWN else None
    kinds = highspy.HighsModelStatus
    if not variables and engine.getModelStatus() in (kinds.kOptimal, kinds.kModelEmpty):
        outcome, values = Outcome.OPTIMAL, {}
    objective = None if values is None else value_of(model.objective, values)
    bound = info.mip_dual_bound if math.isfinite(info.mip_dual_bound) else None
    if outcome == Outcome.OPTIMAL and bound is None:
        bound = objective
    return Solved(outcome, values, objective, bound, "HiGHS")


def outcome_of(highspy: Any, engine: Any, stopped: bool) -> Outcome:
    """What HiGHS came to; UNKNOWN where it has no values to show."""
    status, kinds = engine.getModelStatus(), highspy.HighsModelStatus
    if status in (kinds.kInfeasible, kinds.kUnboundedOrInfeasible, kinds.kObjectiveBound):
        return Outcome.INFEASIBLE
    if engine.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome.UNKNOWN
    return Outcome.OPTIMAL if status in (kinds.kOptimal, kinds.kModelEmpty) and not stopped else Outcome.STOPPED


def _cbc(model: pulp.LpProblem, effort: Effort) -> Solved:
    engine = pulp.PULP_CBC_CMD(msg=False, gapRel=effort.gap, gapAbs=0, timeLimit=effort.seconds, threads=effort.threads)
    if not engine.available():
        return Solved(Outcome.UNKNOWN, None, None, None, "CBC is not there")
    twin = model.copy()
    try:
        twin.solve(engine)
    except pulp.PulpSolverError:
        return Solved(Outcome.UNKNOWN, None, None, None, "CBC")
    found = twin.sol_status in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible)
    if not found:
        outcome = Outcome.INFEASIBLE if twin.status == pulp.LpStatusInfeasible else Outcome.UNKNOWN
        return Solved(outcome, None, None, None, "CBC")
    variables = model.variables()
    values = _whole(variables, [var.varValue or 0.0 for var in variables])
    objective = value_of(model.objective, values)
    proven = twin.sol_status == pulp.LpSolutionOptimal and not effort.gap
    return Solved(
        Outcome.OPTIMAL if proven else Outcome.STOPPED, values, objective, objective if proven else None, "CBC"
    )


_banner_shown = False


@contextmanager
def _quiet_first_banner() -> Any:
    """The first HiGHS of a process prints a banner to file descriptor 1, which would break --json."""
    global _banner_shown
    if _banner_shown:
        yield
        return
    _banner_shown = True
    kept = os.dup(1)
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(sink)
