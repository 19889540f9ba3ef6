"""What the solvers say is read honestly: limits, infeasibility, interruption, and values that do not hold."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pulp
import pytest

from program.hard import hard
from program.tiny import sold, tiny
from sourcing.problem import Problem
from sourcing.program import solver
from sourcing.program.build import build
from sourcing.program.solver import Effort, Outcome, broken_rows, solve, value_of


def small() -> Problem:
    """60 + 40 with two freights of 5, or 110 in one order of 5: 110 against 115."""
    return tiny(["block", "plate"], ["block-1", "plate-1"],
                [sold("s", "A", "block-1", 60), sold("t", "B", "plate-1", 40), sold("t", "C", "block-1", 70)],
                suppliers={s: {"freight": [{"mode": "ground", "days": 1, "flat": 5}]} for s in ("s", "t")})  # fmt: skip


@pytest.mark.parametrize("effort", [Effort(), Effort(presolve=False), Effort(engine="cbc")])
def test_every_engine_finds_the_same_cost(effort: Effort) -> None:
    solved = solve(build(small()).model, effort)
    assert (solved.outcome, solved.objective) == (Outcome.OPTIMAL, 110_00)  # 60 + 40 + 5 + 5 beats 70 + 40 + 5


@pytest.mark.parametrize("engine", ["highs", "cbc"])
def test_no_plan_is_infeasible_and_leaves_no_values(engine: str) -> None:
    model = build(small()).model
    model += pulp.lpSum(model.variables()) <= 1, "hopeless"
    solved = solve(model, Effort(engine=engine))
    assert (solved.outcome, solved.values) == (Outcome.INFEASIBLE, None)


def test_cbc_leaves_the_model_as_it_was() -> None:
    model = build(small()).model
    rows = list(model.constraints)
    solve(model, Effort(engine="cbc"))
    assert list(model.constraints) == rows
    assert solve(model, Effort()).objective == 110_00


def test_without_cbc_the_answer_is_unknown_not_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pulp.PULP_CBC_CMD, "available", lambda self: False)
    solved = solve(build(small()).model, Effort(engine="cbc"))
    assert (solved.outcome, solved.values) == (Outcome.UNKNOWN, None)


def test_an_empty_program_costs_its_constant() -> None:
    model = pulp.LpProblem("empty", pulp.LpMinimize)
    model.setObjective(pulp.LpAffineExpression(constant=3))
    assert solve(model, Effort()).objective == 3


def test_a_plan_keeps_every_row_and_a_tampered_one_does_not() -> None:
    model = build(small()).model
    solved = solve(model, Effort())
    assert solved.values is not None
    assert broken_rows(model, solved.values) == []
    for var in model.variables():
        if solved.values[var.name] == 1:
            assert broken_rows(model, {**solved.values, var.name: 0}), f"without {var.name} every row still holds"


def test_broken_rows_are_named_on_either_side() -> None:
    model = pulp.LpProblem("sides", pulp.LpMinimize)
    x = model.add_variable("x", 0, 9, pulp.LpInteger)
    model += x <= 5, "at_most"
    model += x >= 2, "at_least"
    model += 2 * x == 6, "exactly"
    assert broken_rows(model, {"x": 3}) == []
    assert broken_rows(model, {"x": 6}) == ["at_most", "exactly"]
    assert broken_rows(model, {"x": 1}) == ["at_least", "exactly"]


def test_whole_numbers_are_read_back_whole() -> None:
    solved = solve(build(small()).model, Effort())
    assert solved.values is not None
    assert set(solved.values.values()) <= {0.0, 1.0}


def test_a_time_limit_gives_what_is_known_and_no_more() -> None:
    model = build(hard(12, 6, 10)).model
    solved = solve(model, Effort(seconds=0.3))
    assert solved.outcome in (Outcome.STOPPED, Outcome.UNKNOWN)
    if solved.values is None:
        assert solved.objective is None
    else:
        assert broken_rows(model, solved.values) == []
        assert solved.objective == pytest.approx(value_of(model.objective, solved.values))
        assert solved.bound is None or solved.bound <= solved.objective


def test_the_number_of_threads_may_change_within_a_process() -> None:
    for threads in (1, 2, 1):
        assert solve(build(small()).model, Effort(threads=threads)).objective == 110_00


class Impatient(threading.Event):
    """A wait for the solver at which the person presses Ctrl-C as often as `presses` says, before the solver ends."""

    presses = 1
    pressed = 0

    def is_set(self) -> bool:
        return super().is_set() and Impatient.pressed >= Impatient.presses

    def wait(self, timeout: float | None = None) -> bool:
        done = super().wait(timeout)
        if Impatient.pressed < Impatient.presses:
            Impatient.pressed += 1
            raise KeyboardInterrupt
        return done


def test_ctrl_c_stops_the_solver_which_gives_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Impatient, "pressed", 0)
    monkeypatch.setattr(solver, "Event", Impatient)
    solved = solve(build(hard(12, 6, 10)).model, Effort())
    assert Impatient.pressed == 1
    assert solved.outcome in (Outcome.STOPPED, Outcome.UNKNOWN)
    assert (solved.values is None) == (solved.outcome == Outcome.UNKNOWN)


def test_the_best_plan_and_the_bound_are_told_while_the_solver_works() -> None:
    heard: list[tuple[float | None, float | None]] = []
    solved = solve(build(hard(12, 6, 10)).model, Effort(told=lambda best, bound: heard.append((best, bound))))
    assert any(best is not None and bound is not None and bound <= best for best, bound in heard)
    assert solved.objective is not None
    assert all(best is None or best > solved.objective - 0.01 for best, _ in heard)


def test_a_second_ctrl_c_goes_on_to_whoever_called(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Impatient, "pressed", 0)
    monkeypatch.setattr(Impatient, "presses", 2)
    monkeypatch.setattr(solver, "Event", Impatient)
    with pytest.raises(KeyboardInterrupt):
        solve(build(hard(12, 6, 10)).model, Effort())


PRESSED = """
import signal, sys, threading
from program.hard import hard
from sourcing.program.build import build
from sourcing.program.solver import Effort, run_watched, solve
signal.signal(signal.SIGINT, signal.default_int_handler)
model = build(hard(14, 8, 12)).model
main, pressed = threading.main_thread().ident, []

def waits():  # whether the main thread stands in the wait for the solver
    frame = sys._current_frames()[main]
    inside = frame.f_code.co_filename == threading.__file__
    while frame is not None and frame.f_code is not run_watched.__code__:
        frame = frame.f_back
    return inside and frame is not None

def at_work(best, bound):
    if not pressed and waits():
        pressed.append(True)
        signal.pthread_kill(main, signal.SIGINT)

print(solve(model, Effort(told=at_work)).interrupted)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_a_process_whose_solver_was_stopped_by_ctrl_c_ends_in_peace() -> None:
    """Interrupted, a thread's join takes it for ended in Python 3.11: we read a solver at work, and the end was an abort."""
    tests = Path(__file__).resolve().parents[1]
    paths = os.pathsep.join([str(tests), str(tests.parent)])
    run = subprocess.run(
        [sys.executable, "-c", PRESSED], capture_output=True, text=True, env={**os.environ, "PYTHONPATH": paths}
    )
    assert (run.returncode, run.stdout, run.stderr) == (0, "True\n", "")


def test_an_overrun_time_limit_is_stopped_from_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solver, "GRACE_SECONDS", -0.3)  # the guard strikes before the solver's own limit
    solved = solve(build(hard(12, 6, 10)).model, Effort(seconds=0.4))
    assert solved.outcome in (Outcome.STOPPED, Outcome.UNKNOWN)
