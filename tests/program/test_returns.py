"""Which cores go back: the same sum for one job and for several; Ctrl-C in the middle of it ends the run, not the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pulp
import pytest

from program.tiny import Table, chosen, sold, tiny
from sourcing.plan import Choice, Status
from sourcing.pool.lots import Pool, pool_of
from sourcing.problem import Problem
from sourcing.program import returns
from sourcing.program.answer import answer
from sourcing.program.returns import best_returns
from sourcing.program.solver import Effort, Solved, solve
from sourcing.program.together import answer_together

# A found block; the block and the plate that are bought both take it, the plate's number comes first.
OFFERS = [sold("s", "B", "block-1", 50, core_charge=20),
          sold("s", "A", "plate-1", 10, core_charge=20, core_accepts=["block-1"])]  # fmt: skip


def job(number: str = "1", **given: Table) -> Problem:
    return tiny(
        ["block", "plate"], ["block-1", "plate-1"], OFFERS, found={"block": "block-1"}, job={"number": number}, **given
    )


def bought() -> tuple[Problem, Choice]:
    problem = job()
    return problem, chosen(problem, {"block": "block-1", "plate": "plate-1"}, {"A": 1, "B": 1})


def pressed(monkeypatch: pytest.MonkeyPatch, times: int) -> list[Effort]:
    """Ctrl-C while cores are given up, so often; the questions that were asked."""
    asked: list[Effort] = []

    def interrupted(model: pulp.LpProblem, effort: Effort) -> Solved:
        asked.append(effort)
        return replace(solve(model, effort), interrupted=len(asked) <= times)

    monkeypatch.setattr(returns, "solve", interrupted)
    return asked


def taken_by(problem: Problem, choice: Choice) -> list[str]:
    return [problem.offer[item.offer].part.number.spelt for item in choice.returns]


def test_one_job_and_two_together_give_up_the_same_cores() -> None:
    # 20.00 back for the one core of each unit, whichever piece takes it.
    alone = answer(job())
    both = answer_together(pool_of([job("1"), job("2")]))
    assert alone.choice is not None and taken_by(alone.problem, alone.choice) == ["A"]
    assert [len(one.choice.returns) for one in both.gets] == [1, 1]
    assert (alone.totals.core_credit, both.totals.core_credit) == (20_00, 40_00)


def test_ctrl_c_nobody_hears_of_ends_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = pressed(monkeypatch, 1)
    with pytest.raises(KeyboardInterrupt):
        best_returns(*bought())
    assert len(asked) == 1


def test_ctrl_c_is_heard_of_and_the_cores_are_given_up_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = best_returns(*bought())
    pressed(monkeypatch, 1)
    heard: list[str] = []
    assert best_returns(*bought(), lambda: heard.append("stop")) == expected != ()
    assert heard == ["stop"]


def test_a_second_ctrl_c_ends_the_run_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    pressed(monkeypatch, 2)
    with pytest.raises(KeyboardInterrupt):
        best_returns(*bought(), lambda: None)


@pytest.mark.parametrize(
    ("ask", "asked_for"),
    [(answer, job()), (answer_together, pool_of([job("1"), job("2")]))],
    ids=["a job", "a pool"],
)
def test_ctrl_c_while_cores_are_given_up_keeps_the_plan_and_says_so(
    monkeypatch: pytest.MonkeyPatch, ask: Callable[[Any], Any], asked_for: Problem | Pool
) -> None:
    cost = ask(asked_for).cost
    pressed(monkeypatch, 1)
    plan = ask(asked_for)
    assert (plan.status, plan.cost) == (Status.PROVEN, cost)
    assert plan.proof.interrupted and not plan.proof.settled
