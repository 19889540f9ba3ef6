"""From a problem to its plan: honest words for what is known, a second try where two witnesses differ, one among equals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pulp
import pytest

from program.hard import hard
from program.test_solver import Impatient, small
from program.tiny import sold, tiny
from sourcing.breaches import breaches
from sourcing.faults import OurFault
from sourcing.plan import Plan, Status
from sourcing.problem import Problem
from sourcing.program import answer as answering
from sourcing.program import solver
from sourcing.program.ahead import NOTHING_AHEAD
from sourcing.program.answer import answer
from sourcing.program.solver import Effort, Outcome, Solved, solve

Script = Callable[[Solved, Effort], Solved]


def scripted(monkeypatch: pytest.MonkeyPatch, script: Script) -> list[Effort]:
    """The solver's word on the cheapest plan, changed by a script; the efforts that were made."""
    asked: list[Effort] = []

    def solve_it(model: pulp.LpProblem, effort: Effort) -> Solved:
        asked.append(effort)
        return script(solve(model, replace(effort, seconds=None)), effort)

    monkeypatch.setattr(answering, "solve", solve_it)
    return asked


def test_a_stopped_solver_gives_the_best_found_with_its_bound_and_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, outcome=Outcome.STOPPED, bound=104_50.0))
    plan = answer(small(), seconds=60)
    assert (plan.status, plan.cost, plan.proof.bound) == (Status.BEST_FOUND, 110_00, 104_50)
    assert plan.proof.gap == pytest.approx(0.05)  # 5.50 of 110.00


def test_a_bound_less_than_a_cent_below_proves_the_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, outcome=Outcome.STOPPED, bound=109_99.5))
    plan = answer(small(), seconds=60)
    assert (plan.status, plan.proof.bound, plan.proof.gap) == (Status.PROVEN, 110_00, 0.0)


def test_a_bound_a_cent_below_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, outcome=Outcome.STOPPED, bound=109_99.0))
    assert answer(small(), seconds=60).status == Status.BEST_FOUND


def test_a_stopped_solver_without_a_bound_claims_none(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, outcome=Outcome.STOPPED, bound=None))
    plan = answer(small(), seconds=60)
    assert (plan.status, plan.proof.bound, plan.proof.gap) == (Status.BEST_FOUND, None, None)


def test_nothing_found_in_time_is_not_called_impossible(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: Solved(Outcome.UNKNOWN, None, None, None, "HiGHS"))
    plan = answer(small(), seconds=1e-9)
    assert (plan.status, plan.choice) == (Status.NOTHING_FOUND, None)


def test_a_plan_that_differs_from_its_own_arithmetic_is_solved_again(monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong_at_first(solved: Solved, effort: Effort) -> Solved:
        return replace(solved, objective=(solved.objective or 0) - 1) if effort.presolve else solved

    asked = scripted(monkeypatch, wrong_at_first)
    plan = answer(small())
    assert (plan.status, plan.cost) == (Status.PROVEN, 110_00)
    assert [(e.engine, e.presolve) for e in asked[:2]] == [("highs", True), ("highs", False)]


def test_the_other_solver_is_asked_last(monkeypatch: pytest.MonkeyPatch) -> None:
    def tampered(solved: Solved, effort: Effort) -> Solved:
        if effort.engine == "cbc" or solved.values is None:
            return solved
        return replace(solved, values=dict.fromkeys(solved.values, 0.0))

    scripted(monkeypatch, tampered)
    plan = answer(small())
    assert (plan.status, plan.cost, plan.proof.solver) == (Status.PROVEN, 110_00, "CBC")


def test_a_claim_above_the_plan_is_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, outcome=Outcome.STOPPED, bound=(s.bound or 0) + 5))
    with pytest.raises(OurFault, match="says no plan is below"):
        answer(small())


def test_where_no_solver_agrees_no_quote_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, lambda s, _: replace(s, objective=(s.objective or 0) + 1))
    with pytest.raises(OurFault, match="own arithmetic differ"):
        answer(small())


def test_a_short_limit_on_a_long_job_is_told_honestly() -> None:
    problem = hard(8, 6, 8)
    plan = answer(problem, seconds=0.5)
    assert plan.status in (Status.BEST_FOUND, Status.NOTHING_FOUND, Status.PROVEN)
    if plan.choice is not None:
        assert breaches(problem, plan.choice) == []
        assert plan.proof.bound is None or plan.proof.bound <= plan.cost
        assert plan.cost >= 277_00  # its optimum, by HiGHS without a limit


def test_ctrl_c_before_any_plan_ends_the_job(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Impatient, "pressed", 0)
    monkeypatch.setattr(solver, "Event", Impatient)
    asked: list[Effort] = []

    def counted(model: pulp.LpProblem, effort: Effort) -> Solved:
        asked.append(effort)
        if len(asked) > 1:  # the person has pressed Ctrl-C: nobody should be asked again
            return Solved(Outcome.UNKNOWN, None, None, None, "asked again")
        return solve(model, effort)

    monkeypatch.setattr(answering, "solve", counted)
    plan = answer(hard(12, 6, 10), ahead=NOTHING_AHEAD)
    assert plan.status == Status.NOTHING_FOUND
    assert len(asked) == 1


def test_ctrl_c_after_a_first_plan_gives_that_plan_with_its_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        answering, "solve", lambda model, effort: Solved(Outcome.UNKNOWN, None, None, None, "HiGHS", interrupted=True)
    )
    problem = hard(12, 6, 10)
    plan = answer(problem)
    assert plan.status == Status.BEST_FOUND
    assert plan.choice is not None
    assert breaches(problem, plan.choice) == []
    assert plan.proof.interrupted
    assert plan.proof.bound is not None
    assert plan.proof.bound <= plan.cost


# One among equals


def equals(offers: list[dict[str, object]], **sections: object) -> Plan:
    designs = ["block-1", "block-2", "plate-1", "plate-2"]
    plan = answer(tiny(["block", "plate"], designs, offers, **sections))
    assert plan.status == Status.PROVEN
    return plan


def told(plan: Plan) -> list[tuple[str, str, str, int]]:
    assert plan.choice is not None
    return [purchase.key for purchase in plan.choice.purchases]


def test_of_equals_the_designs_found_win() -> None:
    offers = [sold("s", "A", "block-1", 50), sold("s", "B", "block-2", 50), sold("s", "C", "plate-1", 10)]
    assert told(equals(offers, found={"block": "block-2"})) == [("s", "B", "counter", 1), ("s", "C", "counter", 1)]
    assert told(equals(offers)) == [("s", "A", "counter", 1), ("s", "C", "counter", 1)]


def test_of_equals_fewest_suppliers_win() -> None:
    # block-1 and plate-1 of one supplier against the plate of the other, which comes first by code.
    offers = [sold("b", "A", "block-1", 50), sold("a", "B", "plate-1", 10), sold("b", "C", "plate-1", 10)]
    assert told(equals(offers)) == [("b", "A", "counter", 1), ("b", "C", "counter", 1)]


def test_of_equals_the_earliest_last_arrival_wins() -> None:
    offers = [sold("s", "A", "block-1", 50, lead_days=2), sold("s", "B", "block-1", 50), sold("s", "C", "plate-1", 10)]
    assert told(equals(offers)) == [("s", "B", "counter", 1), ("s", "C", "counter", 1)]


def test_of_equals_the_first_design_by_code_wins_position_by_position() -> None:
    offers = [sold("s", n, d, 10) for n, d in (("A", "plate-2"), ("B", "plate-1"), ("C", "block-2"), ("D", "block-1"))]
    assert told(equals(offers)) == [("s", "B", "counter", 1), ("s", "D", "counter", 1)]


def test_of_equals_the_first_list_of_kept_positions_wins() -> None:
    # Either found part may stay and costs nothing; for 0.00 the other two are sold: all four ways cost nothing.
    offers = [sold("s", "A", "block-1", 0), sold("s", "B", "plate-1", 0)]
    plan = equals(offers, found={"block": "block-1", "plate": "plate-1"}, limits={"keep": ["block", "plate"]})
    assert plan.choice is not None
    # Fewest suppliers: none.
    assert (plan.choice.kept, told(plan)) == (("block", "plate"), [])


def test_of_equals_the_first_part_number_then_mode_wins() -> None:
    modes = {"s": {"freight": [{"mode": "b", "days": 1}, {"mode": "a", "days": 1}]}}
    offers = [sold("s", "Z", "block-1", 50), sold("s", "Y", "block-1", 50), sold("s", "C", "plate-1", 10)]
    assert told(equals(offers, suppliers=modes)) == [("s", "C", "a", 1), ("s", "Y", "a", 1)]


def test_of_equals_the_smaller_quantity_wins() -> None:
    # A second piece costs 10 and is worth 10 on the shelf.
    offers = [sold("s", "A", "block-1", 10), sold("s", "C", "plate-1", 10)]
    plan = equals(offers, wanted=[{"design": "block-1", "pieces": 2, "worth": 10}])
    assert told(plan) == [("s", "A", "counter", 1), ("s", "C", "counter", 1)]


def test_of_equal_returns_the_fewest_and_then_the_first_by_code_are_told() -> None:
    # One found block, two pieces that take it for 20 each.
    offers = [sold("s", "B", "block-1", 50, core_charge=20),
              sold("s", "A", "plate-1", 10, core_charge=20, core_accepts=["block-1"])]  # fmt: skip
    plan = equals(offers, found={"block": "block-1"})
    assert plan.choice is not None
    assert [plan.problem.offer[item.offer].part.number.spelt for item in plan.choice.returns] == ["A"]


def test_a_core_that_brings_nothing_after_its_costs_stays_whatever_is_minimised() -> None:
    # 20 back for 20: fewest returns, none.
    offers = [sold("s", "B", "block-1", 50, core_charge=20), sold("s", "A", "plate-1", 10)]
    plan = equals(
        offers, found={"block": "block-1"}, suppliers={"s": {"core_return_cost": 20}}, job={"minimise": "cash"}
    )
    assert plan.choice is not None and plan.choice.returns == ()


def test_returns_are_the_best_also_where_only_cash_counts() -> None:
    offers = [sold("s", "B", "block-1", 50, core_charge=20), sold("s", "A", "plate-1", 10)]
    plan = equals(offers, found={"block": "block-1"}, job={"minimise": "cash"})
    assert (plan.cost, plan.totals.core_credit, plan.totals.landed) == (80_00, 20_00, 60_00)


def test_a_limit_of_time_leaves_the_cost_proven_and_a_problem_unchanged() -> None:
    problem: Problem = small()
    assert answer(problem, ties=False).cost == answer(problem).cost == answer(problem, seconds=30).cost == 110_00
