"""From a sealed problem to its plan: solve, read back, let the plan price and check itself, settle ties."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sourcing.book.family import NONE
from sourcing.book.fitting import Reason
from sourcing.breaches import breaches
from sourcing.faults import OurFault
from sourcing.plan import Choice, Plan, Proof, Status, plan_of, price
from sourcing.problem import Problem
from sourcing.program.ahead import EVERY_STEP, Ahead
from sourcing.program.ahead.dominated import without_dominated
from sourcing.program.ahead.looking import looked_ahead
from sourcing.program.ahead.starting import values_of
from sourcing.program.ahead.tables import Tables, many_rows
from sourcing.program.build import build
from sourcing.program.dealing import bought
from sourcing.program.returns import best_returns
from sourcing.program.solver import Effort, Outcome, Progress, Solved, broken_rows, solve
from sourcing.program.ties import Settling, settle
from sourcing.program.variables import Variables

# Tried in turn until the program and the plan's own arithmetic agree.
ATTEMPTS = (("highs", True), ("highs", False), ("cbc", True))  # engine, presolve
# Float noise on a bound in cents.
NEARLY = 1e-3


@dataclass
class Watch:
    """A budget of seconds, and how often the solver was asked. `gap`: good enough, as a share of the cost; 0 asks for proof.

    `stop` is asked whether a person wants the best so far.
    """

    seconds: float | None
    threads: int = 1
    gap: float = 0.0
    told: Progress | None = None
    stop: Callable[[], bool] | None = None
    started: float = 0.0
    solves: int = 0
    interrupted: bool = False

    def __post_init__(self) -> None:
        self.started = time.monotonic()

    @property
    def out_of_time(self) -> bool:
        return self.seconds is not None and self.spent >= self.seconds

    @property
    def spent(self) -> float:
        return time.monotonic() - self.started

    def solve(
        self,
        model: Any,
        engine: str = "highs",
        presolve: bool = True,
        start: Mapping[str, float] | None = None,
        cutoff: float | None = None,
    ) -> Solved:
        """Ask the solver once, within what is left of the budget; remembers whether a person stopped it."""
        solved = solve(model, replace(self.effort(engine, presolve), start=start, cutoff=cutoff))
        self.interrupted = self.interrupted or solved.interrupted
        return solved

    def hear(self) -> None:
        """A person asks for the best so far: what is at hand is finished, nothing more is asked."""
        self.interrupted = True

    def proof(self, solver: str, bound: int | None = None, gap: float | None = None) -> Proof:
        return Proof(solver, bound, gap, self.spent, self.solves, self.interrupted)

    def effort(self, engine: str = "highs", presolve: bool = True) -> Effort:
        self.solves += 1
        left = None if self.seconds is None else self.seconds - self.spent
        return Effort(left, presolve, engine, self.threads, self.gap, self.told, stop=self.stop)


def answer(
    problem: Problem, seconds: float | None = None, threads: int = 1, ties: bool = True, ahead: Ahead = EVERY_STEP
) -> Plan:
    """The cheapest valid plan of a problem, or why there is none.

    Parameters
    ----------
    seconds : time limit; when it strikes, the best plan so far, called best_found with its bound
    ties : settle which of several plans at the same cost it is; without, the cost is as proven and the plan any of them
    ahead : what is done before the solver is asked; the answer is the same without

    Raises
    ------
    OurFault
        where no solver's answer agrees with the plan's own arithmetic
    """
    return answer_within(problem, Watch(seconds, threads), ties, ahead)


def answer_within(problem: Problem, watch: Watch, ties: bool = True, ahead: Ahead = EVERY_STEP) -> Plan:
    """The same within a watch that goes on: its limit and gap, who is told of progress, who may stop it."""
    if problem.fitting is None:
        return Plan(problem, Status.IMPOSSIBLE, reasons=why_no_plan(problem))
    lean = without_dominated(problem) if ahead.dominated else problem
    plan = _below_cutoffs(lean, watch, ties) if ahead.tables and many_rows(lean) else None
    if plan is None:
        settling = settle if ties else None
        plan = looked_ahead(
            lean, ahead, watch, settling, lambda some, start, settling: _by_program(some, watch, settling, start)
        )
    reasons = why_no_plan(problem) if plan.status == Status.IMPOSSIBLE else plan.reasons
    if plan.status == Status.PROVEN:
        reasons = _cannot_be_bought(problem)
    return replace(plan, problem=problem, reasons=reasons)


def _below_cutoffs(problem: Problem, watch: Watch, ties: bool) -> Plan | None:
    """The plan of a book of large tables, from what plans up to a cutoff can hold; None where that leads nowhere.

    The cutoff starts near the bound and rises until a plan below it is found, or is the cost of one found above it.
    """
    found: Plan | None = None
    bound: int | None = None
    try:
        tables = Tables(problem, lambda: watch.out_of_time)
        cutoff: int | None = tables.guess()
        while cutoff is not None and not watch.out_of_time:
            lean = tables.up_to(cutoff)
            plan = None if lean is None else _by_program(lean, watch, None, found.choice if found else None)
            if lean is None or plan is None or plan.status == Status.IMPOSSIBLE:
                if found is not None:
                    raise OurFault(f"nothing is left of the tables at {cutoff}, the cost of a plan that was found")
                cutoff = tables.further(cutoff)
                continue
            if plan.choice is not None and (found is None or plan.cost <= found.cost):
                found = plan
            if plan.status != Status.PROVEN:
                # What was left out of the program costs more than the cutoff.
                bound = None if plan.proof.bound is None else min(plan.proof.bound, cutoff + 1)
                break
            if plan.cost <= cutoff:
                left = lean if plan.cost == cutoff else tables.up_to(plan.cost) or lean
                return _settled(left, plan, watch) if ties else plan
            tables.charge(plan.cost)
            cutoff = plan.cost
    except KeyboardInterrupt:
        watch.interrupted = True
        if found is None:
            return Plan(problem, Status.NOTHING_FOUND, proof=watch.proof(""))
    if found is None:
        return None
    return _as_far_as(found, min(found.cost, max(tables.bound, bound or tables.bound)), watch)


def _settled(left: Problem, plan: Plan, watch: Watch) -> Plan:
    """A proven plan with its ties settled among all plans of its cost; as it is, and said so, where time is up before."""
    settled = _by_program(left, watch, settle, plan.choice)
    if settled.status == Status.PROVEN and settled.cost == plan.cost:
        return settled
    return replace(plan, proof=replace(plan.proof, settled=False))


def _as_far_as(plan: Plan, bound: int, watch: Watch) -> Plan:
    """The best plan found when the time was up, with the bound that holds for all."""
    gap = abs(plan.cost - bound) / max(1, abs(plan.cost))
    proof = watch.proof(plan.proof.solver, bound, gap)
    return plan_of(plan.problem, plan.choice, Status.BEST_FOUND, proof) if plan.choice is not None else plan


def _by_program(problem: Problem, watch: Watch, settling: Settling | None, start: Choice | None = None) -> Plan:
    """The cheapest valid plan of a problem by the program, from a first plan where there is one; None settles no ties."""
    program = build(problem)
    values = values_of(program, start) if start is not None else None
    last = ""
    for engine, presolve in ATTEMPTS:
        solved = watch.solve(program.model, engine, presolve, values)
        if solved.outcome == Outcome.INFEASIBLE:
            proof = watch.proof(solved.solver)
            return Plan(problem, Status.IMPOSSIBLE, reasons=why_no_plan(problem), proof=proof)
        if solved.values is None:
            last = f"{solved.solver} found nothing"
            if solved.interrupted or watch.out_of_time:
                break
            continue
        choice, last = _read(program, solved, watch)
        if choice is not None and not last:
            return _finished(program, solved, choice, watch, settling)
    if last.endswith("found nothing"):
        return Plan(problem, Status.NOTHING_FOUND, proof=watch.proof(last))
    raise OurFault(f"the program and the plan's own arithmetic differ: {last}")


def why_no_plan(problem: Problem) -> tuple[Reason, ...]:
    """Why a problem has no plan: what the book and the limits bar, and what cannot be bought."""
    return (*problem.blocked, *_cannot_be_bought(problem))


def _cannot_be_bought(problem: Problem) -> tuple[Reason, ...]:
    """The parts that would fit the unit but cannot be bought, each with its reason."""
    return tuple(reason for reason in problem.refusals if problem.fits & set(reason.designs))


def choice_of(v: Variables, values: dict[str, float], watch: Watch, like: Choice | None = None) -> Choice:
    """Read a program's values as a choice, its returns chosen anew as the greatest credit less what returning costs.

    `like` is a choice already read: where it buys and keeps the same, its returns are the same.
    """
    problem = v.problem

    def on(var: Any) -> bool:
        return values[var.name] > 0.5

    combination = {p: next(d for d in problem.domains[p] if on(v.unit.holds[p, d])) for p in problem.positions}
    kept = tuple(p for p in problem.positions if p in v.unit.keeps and on(v.unit.keeps[p]))
    fills = {p: offer for (offer, p, _), var in v.unit.fills.items() if on(var)}
    purchases = bought(v, values)
    fills = {p: fills[p] for p in problem.positions if p in fills and combination[p] != NONE}
    here = tuple(p for p in problem.positions if p in v.unit.here and on(v.unit.here[p]))
    back = tuple(p for p in problem.positions if p in v.unit.goes_back and on(v.unit.goes_back[p]))
    bare = Choice(combination, kept, fills, purchases, (), here, back)
    if like is not None and (like.purchases, like.kept, like.sent_back) == (bare.purchases, bare.kept, bare.sent_back):
        return replace(bare, returns=like.returns)
    return replace(bare, returns=best_returns(problem, bare, watch.hear))


def _read(v: Variables, solved: Solved, watch: Watch) -> tuple[Choice | None, str]:
    """A solver's answer as a choice, and what is wrong with it; nothing where the plan agrees with it to the cent."""
    assert solved.values is not None
    broken = broken_rows(v.model, solved.values)
    if broken:
        return None, f"{solved.solver} breaks {', '.join(broken[:5])}"
    choice = choice_of(v, dict(solved.values), watch)
    return choice, _differences(v.problem, choice, solved)


def _differences(problem: Problem, choice: Choice, solved: Solved) -> str:
    assert solved.objective is not None
    wrong = breaches(problem, choice)
    if wrong:
        return f"{solved.solver}'s plan is not valid: {'; '.join(wrong[:3])}"
    cost = price(problem, choice)[0].of(problem.minimise)
    if solved.outcome == Outcome.OPTIMAL and abs(cost - solved.objective) > 0.01:
        return f"{solved.solver} says {solved.objective}, the plan costs {cost}"
    if cost > solved.objective + 0.01:
        return f"{solved.solver} says {solved.objective}, the plan costs {cost}"
    if solved.bound is not None and cost < solved.bound - 0.5:
        return f"{solved.solver} says no plan is below {solved.bound}, the plan costs {cost}"
    return ""


def _finished(v: Variables, solved: Solved, choice: Choice, watch: Watch, settling: Settling | None) -> Plan:
    problem = v.problem
    cost = price(problem, choice)[0].of(problem.minimise)
    # A cent is the smallest step: a bound above the next lower cent proves the plan. Optimal within a gap proves nothing.
    optimal = solved.outcome == Outcome.OPTIMAL and not watch.gap
    proven = optimal or (solved.bound is not None and solved.bound > cost - 1 + NEARLY)
    bound = cost if optimal else round(solved.bound) if solved.bound is not None else None
    if proven:
        values = settling(v, solved.values or {}, cost, watch) if settling else None
        settled = choice if values is None else choice_of(v, values, watch, choice)
        if breaches(problem, settled) or price(problem, settled)[0].of(problem.minimise) != cost:
            values, settled = None, choice
        proof = replace(watch.proof(solved.solver, cost, 0.0), settled=values is not None or settling is None)
        plan = plan_of(problem, settled, Status.PROVEN, proof)
        return replace(plan, reasons=_cannot_be_bought(problem))
    gap = None if bound is None else abs(cost - bound) / max(1, abs(cost))
    return plan_of(problem, choice, Status.BEST_FOUND, watch.proof(solved.solver, bound, gap))
