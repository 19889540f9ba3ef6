"""The plans that a customer may choose between: the cheapest, the soonest, the most durable, equal ones once."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping

from sourcing.decision.possibilities import Answered
from sourcing.plan import Plan


def choices(first: str, plan: Plan, ways: Mapping[str, Callable[[], Answered]]) -> list[tuple[tuple[str, ...], Plan]]:
    """Each plan with all that it is best at, that of `first` in front.

    Parameters
    ----------
    first, plan : what the quoted plan is best at, and that plan
    ways : how to find the plan that is best at each; what is open, or cannot be had, is left out
    """
    found: dict[Hashable, tuple[list[str], Plan]] = {_content(plan): ([first], plan)}
    for name, way in ways.items():
        if name == first:
            continue
        other = way().plan
        if other.choice is not None:
            found.setdefault(_content(other), ([], other))[0].append(name)
    ranked = list(ways)
    return [(tuple(sorted(names, key=ranked.index)), plan) for names, plan in found.values()]


def _content(plan: Plan) -> Hashable:
    """What is done and bought; where two plans agree in it they are one."""
    choice = plan.choice
    assert choice is not None
    return (
        tuple(choice.combination.items()),
        choice.kept,
        choice.in_hand,
        choice.sent_back,
        tuple(purchase.key for purchase in choice.purchases),
    )
