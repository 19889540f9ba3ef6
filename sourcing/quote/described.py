"""A part in the customer's words: what it is, its condition, its warranty."""

from __future__ import annotations

from sourcing.labels import Labels
from sourcing.problem import Problem
from sourcing.quote.charge import PartCharge


def described(part: PartCharge, problem: Problem, say: Labels) -> str:
    """A part in the customer's words."""
    names = " + ".join(map(problem.family.name_of, part.designs))
    if part.kept:
        return say("kept", part=names)
    if part.own:
        return say("own_part", part=names)
    months = part.warranty_months
    warranty = say("warranty_one") if months == 1 else say("warranty_many", months=months)
    terms = [
        say(f"condition_{part.condition}") if part.condition else "",
        warranty if months else say("warranty_unstated"),
    ]
    if part.hand:
        terms = [*(terms if part.condition else []), say(f"hand_{part.hand}")]
    return ", ".join([names, *(term for term in terms if term), *([say("kit")] if part.kit else [])])
