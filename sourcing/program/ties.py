"""One answer among equals: of all plans at the proven cost, always the same one.

Fewest designs that differ from those found, fewest suppliers, fewest working days to the last arrival; then by code:
designs in the order of positions, kept, then parts in hand: used before unused, left here before sent back, position by
position; purchases by supplier, part number, mode and quantity. What is still equal
differs only in which bought piece fills a position: fewest comebacks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pulp

from sourcing.plan import Choice
from sourcing.program.objective import comebacks, cost
from sourcing.program.solver import Outcome, broken_rows
from sourcing.program.variables import Variables

if TYPE_CHECKING:
    from sourcing.program.answer import Watch

Reader = Callable[[Variables, dict[str, float]], Choice]
# Weights of a combined objective stay far below what a float of whole numbers carries exactly.
MOST_WEIGHT = 100_000


@dataclass
class _Descent:
    """The program narrowed step by step to the plans that are still equal."""

    v: Variables
    watch: Watch
    values: dict[str, float] | None = None
    rows: int = 0
    out: bool = False

    def least(self, objective: Any, fix: bool = True) -> float | None:
        """Minimise among the plans that are left and keep to that minimum; None where none is left or time is out."""
        if self.watch.interrupted or self.out:
            return None
        self.v.model.setObjective(pulp.LpAffineExpression(objective))
        solved = self.watch.solve(self.v.model)
        if solved.outcome == Outcome.UNKNOWN and not (self.watch.interrupted or self.watch.out_of_time):
            # HiGHS 1.16 has ended so on a question that it answers without presolve.
            solved = self.watch.solve(self.v.model, presolve=False)
        self.out = solved.outcome not in (Outcome.OPTIMAL, Outcome.INFEASIBLE)
        if solved.outcome != Outcome.OPTIMAL or solved.values is None or solved.objective is None:
            return None
        self.values = dict(solved.values)
        if broken_rows(self.v.model, self.values):
            self.out = True
            return None
        least = float(round(solved.objective))
        if fix:
            self.keep(pulp.LpAffineExpression(objective) <= least)
        return least

    def keep(self, row: Any) -> str:
        name = f"tie_{self.rows}"
        self.rows += 1
        self.v.model.addConstraint(row, name)
        return name

    def on(self, var: Any) -> bool:
        return self.values is not None and self.values[var.name] > 0.5


def settle(v: Variables, values: Mapping[str, float], at_cost: int, watch: Watch) -> dict[str, float] | None:
    """The values of the plan that wins among all at the proven cost; None where time ran out first.

    `values` are those of one such plan: mostly it is the only one, and one question settles it. `v`'s model is narrowed
    for good.
    """
    descent = _Descent(v, watch, dict(values))
    descent.keep(cost(v) <= at_cost)
    if _another(descent):
        for objective in _measures(v):
            if len(objective) and descent.least(objective) is None:
                return None
        steps = (
            (_by_designs, _by_kept, _by_in_hand, _by_purchases, _by_comebacks)
            if _another(descent)
            else (_fewest_packs,)
        )
    else:
        steps = (_fewest_packs,)
    settled = all(step(descent) for step in steps)
    return descent.values if settled and not descent.out and not watch.interrupted else None


def _measures(v: Variables) -> list[pulp.LpAffineExpression]:
    """Changed designs, suppliers, days: in turn, or as digits of one number where that stays small."""
    changed, suppliers, days = _changed(v), pulp.lpSum(v.buys.values()), _days(v)
    most_days, most_suppliers = max(v.unit.days, default=0) + 1, len(v.buys) + 1
    if len(v.problem.positions) * most_suppliers * most_days > MOST_WEIGHT:
        return [changed, suppliers, days]
    return [most_suppliers * most_days * changed + most_days * suppliers + days]


def _changed(v: Variables) -> pulp.LpAffineExpression:
    return pulp.lpSum(
        var for (p, design), var in v.unit.holds.items() if v.problem.found[p] and design not in v.problem.found[p]
    )


def _days(v: Variables) -> pulp.LpAffineExpression:
    steps = zip(v.unit.days, (0, *v.unit.days), strict=False)
    return pulp.lpSum((days - before) * v.unit.later[i] for i, (days, before) in enumerate(steps))


def _another(descent: _Descent) -> bool:
    """Whether a different plan is still equal (asked without losing the one at hand)."""
    v, at_hand = descent.v, descent.values
    unit = v.unit
    deciding = [*unit.holds.values(), *unit.keeps.values(), *unit.here.values(), *unit.goes_back.values(),
                *unit.fills.values(), *v.takes.values()]  # fmt: skip
    on = [var for var in deciding if descent.on(var)]
    off = [var for var in deciding if not descent.on(var)]
    row = descent.keep(pulp.lpSum(off) - pulp.lpSum(on) >= 1 - len(on))
    found = descent.least(pulp.lpSum([]), fix=False) is not None
    del v.model.constraints[row]
    descent.values = at_hand
    return found


def _fewest_packs(descent: _Descent) -> bool:
    """Of one pattern of lines the smallest quantities, line by line in the order of their codes."""
    v = descent.v
    open_ended = sorted((v.lines[line].key, line, k) for line, k in v.packs if descent.on(v.takes[line, k]))
    return all(descent.least(pulp.lpSum([v.packs[line, k]])) is not None for _, line, k in open_ended)


def _by_designs(descent: _Descent) -> bool:
    """First by code, position by position; several positions at once as digits of one number."""
    v = descent.v
    digits: list[tuple[int, dict[str, int], str]] = []
    room = MOST_WEIGHT

    def settled() -> bool:
        if not digits:
            return True
        weight, terms = 1, []
        for size, rank, position in reversed(digits):
            terms += [weight * rank[d] * v.unit.holds[position, d] for d in rank if rank[d]]
            weight *= size
        digits.clear()
        return descent.least(pulp.lpSum(terms)) is not None

    for position in v.problem.positions:
        held = sorted(v.problem.domains[position])
        if len(held) < 2:
            continue
        if room // len(held) < 1 and not settled():
            return False
        room = (room if digits else MOST_WEIGHT) // len(held)
        digits.append((len(held), {d: i for i, d in enumerate(held)}, position))
    return settled()


def _by_kept(descent: _Descent) -> bool:
    """First by code among the lists of kept positions: every list that is left is looked at."""
    v = descent.v
    if not v.unit.keeps:
        return True
    lists: list[list[str]] = []
    rows = []
    while descent.least(pulp.lpSum([]), fix=False) is not None:
        kept = [p for p in v.problem.positions if p in v.unit.keeps and descent.on(v.unit.keeps[p])]
        lists.append(kept)
        on, off = [v.unit.keeps[p] for p in kept], [var for p, var in v.unit.keeps.items() if p not in kept]
        rows.append(descent.keep(pulp.lpSum(off) - pulp.lpSum(on) >= 1 - len(on)))
    for row in rows:
        del v.model.constraints[row]
    if not lists:
        return False
    for position, var in v.unit.keeps.items():
        descent.keep(pulp.LpAffineExpression(var) == (1 if position in min(lists) else 0))
    return True


def _by_in_hand(descent: _Descent) -> bool:
    """The first position's part in hand is used where that can be, then the second's; then as few as can be go back."""
    v = descent.v
    return all(
        descent.least(sign * pulp.LpAffineExpression(var)) is not None
        for sign, ways in ((-1, v.unit.here), (1, v.unit.goes_back))
        for var in ways.values()
    )


def _by_purchases(descent: _Descent) -> bool:
    """First by supplier, part number, mode and quantity: the smallest next line, until the list may end."""
    v = descent.v
    left = sorted(v.takes, key=lambda key: (*v.lines[key[0]].key, v.spans[key[0]][key[1]].first))
    while left:
        agreed = _agreed(descent, left)
        for key in left[:agreed]:
            taken = descent.on(v.takes[key])
            descent.keep(pulp.LpAffineExpression(v.takes[key]) == int(taken))
            if taken and key in v.packs and descent.least(pulp.lpSum([v.packs[key]])) is None:
                return False
        left = left[agreed:]
        if not left:
            return not descent.out
        more = descent.least(pulp.lpSum(v.takes[key] for key in left), fix=False)
        if more is None:
            return False
        if more == 0:
            for key in left:
                descent.keep(pulp.LpAffineExpression(v.takes[key]) == 0)
            return True
        first = _first_of(descent, left)
        if first is None:
            return False
        for key in left[:first]:
            descent.keep(pulp.LpAffineExpression(v.takes[key]) == 0)
        descent.keep(pulp.LpAffineExpression(v.takes[left[first]]) == 1)
        if left[first] in v.packs and descent.least(pulp.lpSum([v.packs[left[first]]])) is None:
            return False
        left = left[first + 1 :]
    return True


def _agreed(descent: _Descent, left: list[tuple[int, int]]) -> int:
    """How many of the lines in order are the same in every plan that is still equal, bought or not, as in the one at hand."""
    v, at_hand = descent.v, descent.values
    end = len(left)
    while end:
        on = [key for key in left[:end] if descent.on(v.takes[key])]
        off = [key for key in left[:end] if not descent.on(v.takes[key])]
        differs = pulp.lpSum(v.takes[key] for key in off) - pulp.lpSum(v.takes[key] for key in on) >= 1 - len(on)
        row = descent.keep(differs)
        found = descent.least(pulp.lpSum([]), fix=False) is not None
        del v.model.constraints[row]
        if not found:
            break
        other = descent.values or {}
        descent.values = at_hand
        end = next(n for n, key in enumerate(left) if descent.on(v.takes[key]) != (other[v.takes[key].name] > 0.5))
    descent.values = at_hand
    return end


def _first_of(descent: _Descent, left: list[tuple[int, int]]) -> int | None:
    """The index of the smallest line that some equal plan has."""
    v = descent.v
    low, high = 0, len(left) - 1
    while low < high:
        middle = (low + high) // 2
        row = descent.keep(pulp.lpSum(v.takes[key] for key in left[low : middle + 1]) >= 1)
        found = descent.least(pulp.lpSum([]), fix=False) is not None
        del v.model.constraints[row]
        if found:
            high = next((i for i in range(low, middle + 1) if descent.on(v.takes[left[i]])), middle)
        else:
            low = middle + 1
    return low


def _by_comebacks(descent: _Descent) -> bool:
    return descent.least(comebacks(descent.v)) is not None
