"""From a pool to its plan: solve, deal out, let the plan price and check itself, settle which of equal plans it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pulp

from sourcing.book.fitting import Reason
from sourcing.faults import OurFault
from sourcing.plan import Plan, Status
from sourcing.pool.breaches import breaches
from sourcing.pool.lots import Lot, Pool
from sourcing.pool.plan import Got, PoolPlan, line_key, price
from sourcing.program.ahead import EVERY_STEP, Ahead
from sourcing.program.answer import ATTEMPTS, NEARLY, Watch, answer_within, why_no_plan
from sourcing.program.build import build
from sourcing.program.dealing import bought, deal
from sourcing.program.objective import cost
from sourcing.program.returns import with_returns
from sourcing.program.solver import Outcome, Solved, broken_rows
from sourcing.program.variables import Variables

# Beyond so many variables, like ones added up, it is not asked which of several plans at the same cost it is.
MOST_TO_SETTLE = 20_000


def answer_together(pool: Pool, watch: Watch | None = None, ties: bool = True, ahead: Ahead = EVERY_STEP) -> PoolPlan:
    """The cheapest valid plan for all jobs of a pool, or why there is none.

    Parameters
    ----------
    watch : time limit, gap, threads, and who is told of progress; when the limit strikes, the best plan so far, called
        best_found with its bound
    ties : among plans at the proven cost take one with the fewest designs that differ from those found, of these one with the
        fewest suppliers

    Raises
    ------
    OurFault
        where no solver's answer agrees with the plan's own arithmetic
    """
    watch = watch or Watch(None)
    if pool.alone:
        return _of_one(pool, answer_within(pool.first, watch, ties, ahead))
    blocked = tuple(reason for lot in pool.lots if lot.problem.fitting is None for reason in why_impossible(lot))
    if blocked:
        return PoolPlan(pool, Status.IMPOSSIBLE, reasons=blocked)
    program = build(pool)
    if ahead.ceilings and len(program.model.variables()) >= ahead.least_variables:
        plan = _by_ceilings(program, watch, ties)
        if plan is not None:
            return plan
    return _by_program(program, watch, ties)


def _by_ceilings(v: Variables, watch: Watch, ties: bool) -> PoolPlan | None:
    """The plan from what is left below a ceiling; None where that says nothing that holds, and the whole program is asked."""
    from sourcing.program.ahead.ceilings import ceilings_of

    ceilings = ceilings_of(v, watch)
    solved = ceilings.solved() if ceilings is not None else None
    if ceilings is None or solved is None:
        return PoolPlan(v.pool, Status.NOTHING_FOUND, proof=watch.proof("HiGHS")) if watch.interrupted else None
    if solved.outcome == Outcome.INFEASIBLE:
        return PoolPlan(v.pool, Status.IMPOSSIBLE, proof=watch.proof(solved.solver))
    if solved.values is None:
        spent = watch.interrupted or watch.out_of_time
        return PoolPlan(v.pool, Status.NOTHING_FOUND, proof=watch.proof(solved.solver)) if spent else None
    plan, _ = _read(v, solved, watch)
    if plan is None or not ties or plan.status != Status.PROVEN:
        return plan
    unsettled = replace(plan, proof=replace(plan.proof, settled=False))
    if watch.interrupted or watch.out_of_time or len(ceilings.small.arrays.cost) > MOST_TO_SETTLE:
        return unsettled
    values = ceilings.settled(plan.cost, _tie_weights(v), dict(solved.values))
    return _if_as_cheap(v, values, plan, unsettled, watch)


def _by_program(program: Variables, watch: Watch, ties: bool) -> PoolPlan:
    """The plan by the whole program."""
    pool, last = program.pool, ""
    for engine, presolve in ATTEMPTS:
        solved = watch.solve(program.model, engine, presolve)
        if solved.outcome == Outcome.INFEASIBLE:
            return PoolPlan(pool, Status.IMPOSSIBLE, proof=watch.proof(solved.solver))
        if solved.values is None:
            last = f"{solved.solver} found nothing"
            if solved.interrupted or watch.out_of_time:
                break
            continue
        plan, last = _read(program, solved, watch)
        if plan is not None:
            return _settled(program, plan, watch) if ties and plan.status == Status.PROVEN else plan
    if last.endswith("found nothing"):
        return PoolPlan(pool, Status.NOTHING_FOUND, proof=watch.proof(last))
    raise OurFault(f"the program and the plan's own arithmetic differ: {last}")


def _of_one(pool: Pool, plan: Plan) -> PoolPlan:
    """The plan of a job by itself as that of its pool: the same, ties and all."""
    if plan.choice is None:
        reasons = why_impossible(pool.lots[0]) if plan.status == Status.IMPOSSIBLE else plan.reasons
        return PoolPlan(pool, plan.status, reasons=reasons, proof=plan.proof)
    lines = {purchase.line.offer.id: line_key(purchase) for purchase in reversed(plan.choice.purchases)}
    gets = (Got(plan.problem, plan.choice, {place: lines[offer] for place, offer in plan.choice.fills.items()}),)
    totals, orders = price(pool, gets, plan.choice.purchases)
    if totals != plan.totals or breaches(pool, gets, plan.choice.purchases):
        raise OurFault("a job by itself and its pool of one are told differently")
    return PoolPlan(pool, plan.status, gets, plan.choice.purchases, totals, orders, (), plan.proof)


def why_impossible(lot: Lot) -> tuple[Reason, ...]:
    """Why a lot's jobs have no plan, whatever the others do: the reasons of a job by itself, each naming its jobs."""
    listed = [job.job.number for job in lot.jobs]
    named = f"job {listed[0]}" if len(listed) == 1 else f"jobs {listed[0]} to {listed[-1]} ({len(listed)} alike)"
    return tuple(replace(reason, says=f"{named}: {reason.says}") for reason in why_no_plan(lot.problem))


def _read(v: Variables, solved: Solved, watch: Watch) -> tuple[PoolPlan | None, str]:
    """A solver's answer as a plan; or what is wrong with it."""
    assert solved.values is not None and solved.objective is not None
    broken = broken_rows(v.model, solved.values)
    if broken:
        return None, f"{solved.solver} breaks {', '.join(broken[:3])}"
    plan = plan_from(v, solved.values, watch)
    wrong = breaches(v.pool, plan.gets, plan.purchases)
    if wrong:
        return None, f"{solved.solver}'s plan is not valid: {'; '.join(wrong[:3])}"
    if plan.cost > solved.objective + 0.01 or (solved.bound is not None and plan.cost < solved.bound - 0.5):
        return (
            None,
            f"{solved.solver} says {solved.objective} and no plan below {solved.bound}, the plan costs {plan.cost}",
        )
    proven = solved.bound is not None and solved.bound > plan.cost - 1 + NEARLY
    if proven:
        return replace(plan, status=Status.PROVEN, proof=watch.proof(solved.solver, plan.cost, 0.0)), ""
    bound = None if solved.bound is None else round(solved.bound)
    gap = None if bound is None else abs(plan.cost - bound) / max(1, abs(plan.cost))
    return replace(plan, proof=watch.proof(solved.solver, bound, gap)), ""


def plan_from(v: Variables, values: Mapping[str, float], watch: Watch) -> PoolPlan:
    """A program's values as a plan that has priced itself, its cores given up for the greatest credit."""
    purchases = bought(v, values)
    gets = with_returns(v.pool, deal(v, values, purchases), purchases, watch.hear)
    totals, orders = price(v.pool, gets, purchases)
    return PoolPlan(v.pool, Status.BEST_FOUND, gets, purchases, totals, orders)


def _settled(v: Variables, plan: PoolPlan, watch: Watch) -> PoolPlan:
    """Of all plans at this cost one with the fewest changed designs, then the fewest suppliers; the same plan where time is out.

    min (S + 1) sum_{u, p, d not found} x_upd + sum_s b_s   over the plans at the proven cost, S suppliers in all
    """
    unsettled = replace(plan, proof=replace(plan.proof, settled=False))
    if len(v.model.variables()) > MOST_TO_SETTLE or watch.interrupted:
        return unsettled
    v.model += cost(v) <= plan.cost, "at_the_proven_cost"
    weights = _tie_weights(v)
    v.model.setObjective(pulp.LpAffineExpression([(var, weights.get(var.name, 0)) for var in v.model.variables()]))
    again = watch.solve(v.model)
    values = again.values if again.outcome == Outcome.OPTIMAL else None
    return _if_as_cheap(v, values, plan, unsettled, watch)


def _tie_weights(v: Variables) -> dict[str, int]:
    """What is least among plans at the proven cost, by variable name."""
    weights = {
        var.name: len(v.buys) + 1
        for unit in v.units
        for (p, design), var in unit.holds.items()
        if unit.problem.found[p] and design not in unit.problem.found[p]
    }
    return {**weights, **{var.name: 1 for var in v.buys.values()}}


def _if_as_cheap(
    v: Variables, values: Mapping[str, float] | None, plan: PoolPlan, unsettled: PoolPlan, watch: Watch
) -> PoolPlan:
    """The plan of other values where it is as cheap and valid; else the one there was, its ties open."""
    if values is None or broken_rows(v.model, values):
        return unsettled
    other = plan_from(v, values, watch)
    if other.cost != plan.cost or breaches(v.pool, other.gets, other.purchases):
        return unsettled
    return replace(other, status=plan.status, proof=watch.proof(plan.proof.solver, plan.cost, 0.0))
