"""A plan as values of a program's variables, for the solver to start from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from sourcing.plan import Choice, orders_of
from sourcing.program.variables import Variables


def values_of(v: Variables, choice: Choice) -> dict[str, float] | None:
    """Whole-numbered values by variable name; None where the program has no variable for what the choice holds.

    Only the whole-numbered variables are given: the solver finds the others, and checks all of them itself.
    """
    on: list[Any] = []
    try:
        on += [v.unit.holds[position, design] for position, design in choice.combination.items()]
        on += [v.unit.keeps[position] for position in choice.kept]
        on += [v.unit.here[position] for position in choice.in_hand]
        on += [v.unit.goes_back[position] for position in choice.sent_back]
        on += [v.unit.fills[offer, position, choice.combination[position]] for position, offer in choice.fills.items()]
        on += [v.used[offer] for offer in set(choice.fills.values())]
        family = v.problem.family.code
        returns = [way for item in choice.returns if (way := (family, item.design, item.offer)) in v.back]
        on += [v.back[way] for way in returns]
        on += [v.sends[supplier] for supplier in {v.problem.offer[offer].supplier for _, _, offer in returns}]
        further = _bought(v, choice, on)
        _placed(v, choice, on)
    except KeyError:
        return None
    on += _rows(v, choice.combination)
    values = {var.name: 0.0 for var in v.model.variables() if var.cat == "Integer"}
    values.update({var.name: 1.0 for var in on})
    return {**values, **further}


def _bought(v: Variables, choice: Choice, on: list[Any]) -> dict[str, float]:
    """Marks the step of each line that is bought, and the waits; gives the packs beyond its first quantity."""
    number = {line.key: i for i, line in enumerate(v.lines)}
    further: dict[str, float] = {}
    for purchase in choice.purchases:
        i = number[purchase.line.key]
        k = next(k for k, span in enumerate(v.spans[i]) if span.first <= purchase.quantity <= span.last)
        on.append(v.takes[i, k])
        if (i, k) in v.packs:
            span = v.spans[i][k]
            further[v.packs[i, k].name] = float((purchase.quantity - span.first) // span.pack)
    last = max((purchase.line.workdays for purchase in choice.purchases), default=0)
    on += [v.unit.later[i] for i, days in enumerate(v.unit.days) if days <= last]
    return further


def _placed(v: Variables, choice: Choice, on: list[Any]) -> None:
    for order in orders_of(v.pool.terms, choice.purchases):
        key = (order.supplier, order.mode)
        on.append(v.opens[key])
        over = order.lines[0].line.mode.free_over_minor
        if key in v.free and over is not None and order.subtotal_minor >= over:
            on.append(v.free[key])
    on += [v.buys[supplier] for supplier in Counter(p.line.offer.supplier for p in choice.purchases)]


def _rows(v: Variables, combination: Mapping[str, str]) -> list[Any]:
    """A row of each table that holds the combination."""
    rows = []
    for t, table in enumerate(v.problem.fitting.tables if v.problem.fitting else ()):
        held = [combination[position] for position in table.positions]
        standing = [r for r, row in enumerate(table.rows) if all(d in cell for d, cell in zip(held, row, strict=True))]
        rows += [v.unit.row[t, r] for r in standing[:1]]
    return rows
