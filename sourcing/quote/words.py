"""A decision in the trade's words: what makes the difference, where the choice turns, what it hangs on."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from sourcing.decision.assumptions import Assumption, Carried, Turning
from sourcing.decision.break_even import Piece
from sourcing.decision.cliffs import Cliff, Loss
from sourcing.decision.routes import CAUSES, Route, causes
from sourcing.decision.study import Decided
from sourcing.money import minor_digits, text
from sourcing.plan import Plan, Status
from sourcing.problem import KEPT, Problem

WORDS = {
    Status.PROVEN: "proven: no valid plan is cheaper by a cent",
    Status.BEST_FOUND: "NOT PROVEN: the best plan found when the time was up",
    Status.IMPOSSIBLE: "IMPOSSIBLE: no valid plan",
    Status.NOTHING_FOUND: "NOTHING FOUND before the time was up",
    Status.OPEN: "OPEN: the answer hangs on what was not said",
}
HERE = {"received": "already here", "shelf": "from the shelf", "customer": "supplied by the customer, no warranty"}
CAUSE_WORDS = {
    "core_charges": "core charges",
    "freight": "freight",
    "core_return": "returning cores",
    "labour": "labour",
    "comebacks": "expected comebacks",
    "waiting": "waiting",
}


def own(minor: int, currency: str) -> str:
    """Smallest coins of a currency as an amount with its own decimals."""
    digits = minor_digits(currency)
    return f"{minor // 10**digits}.{minor % 10**digits:0{digits}d}" if digits else str(minor)


def signed(minor: int, currency: str) -> str:
    """The same with a sign where it is below nothing."""
    return ("-" if minor < 0 else "") + own(abs(minor), currency)


def told_causes(dearer: Plan, cheaper: Plan) -> str:
    """What makes a plan cost more than another, the greatest cause first; amounts that add up to the difference.

    Parts are told position by position; core charges and what comes back of them as one, where credit is counted.
    """
    differences = causes(dearer, cheaper)
    told = list(_by_position(dearer, cheaper))
    del differences["parts"]
    if "core_credit" in CAUSES[dearer.problem.minimise]:
        net = differences.pop("core_charges") + differences.pop("core_credit")
        told.append((net, "of core charge that comes back for no core of ours"))
    shelf = differences.pop("shelf", 0)
    told.append((shelf, f"since {'less' if shelf > 0 else 'more'} is left for the shelf"))
    told += [(cents, f"for {CAUSE_WORDS[name]}") for name, cents in differences.items()]
    told = sorted(((cents, words) for cents, words in told if cents), key=lambda item: -abs(item[0]))
    return ", ".join(f"{text(abs(cents))} {'more' if cents > 0 else 'less'} {words}" for cents, words in told)


def _by_position(dearer: Plan, cheaper: Plan) -> Iterator[tuple[int, str]]:
    """The difference of the parts, for each group of positions that some bought part of either plan joins."""
    sums = [_sums(dearer), _sums(cheaper)]
    groups: list[set[str]] = []
    for positions in (*sums[0], *sums[1]):
        touching = [group for group in groups if group & set(positions)]
        groups = [group for group in groups if group not in touching]
        groups.append(set(positions).union(*touching))
    names = dearer.problem.family.position
    for group in groups:
        more, less = (sum(c for positions, c in one.items() if set(positions) <= group) for one in sums)
        told = [names[code].name.lower() for code in names if code in group]
        yield more - less, f"for the {' and the '.join(told)}" if told else "for the shelf"
    shelf = [one.get((), 0) for one in sums]
    if () not in {tuple(group) for group in groups}:
        yield shelf[0] - shelf[1], "for the shelf"


def _sums(plan: Plan) -> dict[tuple[str, ...], int]:
    """What the lines of a plan cost, by the positions that their part fills (none: bought for the shelf)."""
    sums: dict[tuple[str, ...], int] = {}
    assert plan.choice is not None
    for purchase in plan.choice.purchases:
        offer = purchase.line.offer
        positions = tuple(p for p, number in plan.choice.fills.items() if number == offer.id)
        sums[positions] = sums.get(positions, 0) + offer.cents(purchase.quantity)
    for position, hand in plan.problem.in_hand.items():
        cents = hand.cents(position in plan.choice.in_hand, position in plan.choice.sent_back)
        sums[(position,)] = sums.get((position,), 0) + cents
    return sums


def in_short(decided: Decided) -> list[str]:
    """The decision in three lines: the routes, until which price it holds, what an earlier day costs."""
    return [line for line in (_routes_told(decided), _turn_told(decided), _sooner_told(decided)) if line]


def _routes_told(decided: Decided) -> str:
    comparison = decided.comparison
    possible = [route for route in comparison.routes if route.plan.choice is not None]
    if not possible:
        return ""
    first, name = possible[0], comparison.problem.family.name_of
    if len(possible) == 1:
        return f"{name(first.design)} ({kind_of(first)}) is the only route that can be had: {text(first.plan.cost)}."
    second = possible[1]
    more = second.plan.cost - first.plan.cost
    line = f"{name(first.design)} ({kind_of(first)}) is the cheapest route; {name(second.design)} ({kind_of(second)}) "
    line += f"is {text(more)} dearer." if more else "costs the same."
    if comparison.recommended not in (None, first.design):
        kept = next(route for route in possible if route.design == comparison.recommended)
        worth = text(kept.plan.cost - first.plan.cost)
        line += f" Recommended all the same: {name(kept.design)}; {worth} is not worth changing for."
    return line


def kind_of(route: Route) -> str:
    return "exact" if route.exact else "substitute"


def _turn_told(decided: Decided) -> str:
    """Where the choice turns as the price of the chosen block moves, nearest on either side."""
    if not decided.turns:
        return _found_one_told(decided.plan)
    found = decided.turns[0]
    now = found.offer.steps[0].minor
    here = found.at(now)
    if here is None:
        return ""
    currency = found.problem.terms[found.offer.supplier].currency
    part = f"{found.problem.terms[found.offer.supplier].name} {found.offer.part.number}"
    told = []
    after = [piece for piece in found.pieces if piece.low > here.high and _differs(piece, here)]
    before = [piece for piece in found.pieces if piece.high < here.low and _differs(piece, here)]
    if after:
        told.append(f"from {own(after[0].low, currency)} on {plan_named(after[0].plan)} is cheapest")
    if before:
        told.append(f"up to {own(before[-1].high, currency)} {plan_named(before[-1].plan)}")
    until = "; ".join(told) or f"the choice stays from {own(found.low, currency)} to {own(found.high, currency)}"
    return f"{part} costs {own(now, currency)} {currency}: {until}."


def _differs(piece: Piece, here: Piece) -> bool:
    """Whether another block is cheapest, or the same one from another part."""
    assert piece.plan.choice is not None and here.plan.choice is not None
    one, other, lead = piece.plan.choice, here.plan.choice, piece.plan.problem.family.lead.code
    return (one.combination[lead], one.fills.get(lead)) != (other.combination[lead], other.fills.get(lead))


def _found_one_told(plan: Plan) -> str:
    lead = plan.problem.family.lead
    if plan.choice is None or lead.code not in plan.choice.kept:
        return ""
    return f"The found {lead.name.lower()} goes back in: no dearer one can turn the choice."


def plan_named(plan: Plan) -> str:
    """A plan by the design of its lead position and where it comes from."""
    assert plan.choice is not None
    lead = plan.problem.family.lead.code
    name = plan.problem.family.name_of(plan.choice.combination[lead])
    if lead in plan.choice.kept:
        return f"{name} as found"
    if lead in plan.choice.in_hand:
        return f"{name} in hand"
    if lead not in plan.choice.fills:
        return name
    offer = plan.problem.offer[plan.choice.fills[lead]]
    return f"{name} ({plan.problem.terms[offer.supplier].name} {offer.part.number})"


def _sooner_told(decided: Decided) -> str:
    days, plan = decided.by_day, decided.plan
    if len(days) < 2 or plan.last_arrival is None:
        return "Nothing that is here sooner fits." if plan.last_arrival else ""
    day, sooner = days[-2]
    here = f"on {day.isoformat()}" if day else "at once, with nothing bought"
    more = text(sooner.cost - plan.cost)
    return f"All is here on {plan.last_arrival.isoformat()}; {here} for {more} more ({plan_named(sooner)})."


def edge_told(plan: Plan, cliff: Cliff) -> str:
    """How far an order is from an edge."""
    currency = plan.problem.terms[cliff.order.supplier].currency
    if cliff.purchase is not None:
        number = cliff.purchase.line.offer.part.number
        if cliff.kind == "break":
            return f"{cliff.distance} more of {number} reach its next break"
        return f"{number} stands {cliff.distance} above the break whose price it has"
    edge = "free freight" if cliff.kind == "free_freight" else "the order minimum"
    side = "over" if cliff.distance >= 0 else "short of"
    return f"{own(abs(cliff.distance), currency)} {currency} {side} {edge}"


def loss_told(loss: Loss) -> str:
    """What losing a line would cost."""
    rest = "cannot be ordered" if loss.more_cents is None else f"costs {text(loss.more_cents)} more"
    return f"without {loss.purchase.line.offer.part.number} the rest {rest}"


def assumption_named(assumption: Assumption, problem: Problem) -> str:
    """What an assumption is of, in words."""
    if assumption.kind == "core_recovery":
        return f"share of core charges that {problem.terms[assumption.of[0]].name} gives back"
    if assumption.kind == "comeback_rate":
        condition, design = assumption.of
        how = "as found" if condition == KEPT else condition
        return f"share of {problem.family.name_of(design)}, {how}, that comes back"
    if assumption.kind == "exchange_rate":
        return f"price of 1 {assumption.of[0]} in {problem.shop.currency}"
    return {"labour_cost": "cost of an hour", "day_cost": "cost of a working day of waiting"}[assumption.kind]


def value_told(assumption: Assumption, value: Decimal) -> str:
    """A value as a person writes it: a share as a percentage, an amount with two decimals."""
    if assumption.kind in ("core_recovery", "comeback_rate"):
        return f"{value * 100:.1f}%"
    return f"{value:.2f}" if assumption.kind != "exchange_rate" else f"{value.normalize():f}"


def assumption_told(carried: Carried, problem: Problem) -> str:
    """An assumption, its value now, and where the choice would turn."""
    one = carried.assumption
    now = f"{assumption_named(one, problem)}: now {value_told(one, one.now)}"
    sides = [(turning, side) for turning, side in ((carried.below, "down to"), (carried.above, "from")) if turning]
    if not sides:
        return f"{now}; no value from {value_told(one, one.low)} to {value_told(one, one.high)} turns the choice"
    return now + "; " + "; ".join(_turning_told(one, turning, side) for turning, side in sides)


def _turning_told(assumption: Assumption, turning: Turning, side: str) -> str:
    if side == "from":
        return f"from {value_told(assumption, turning.value)} on {plan_named(turning.plan)} is cheapest"
    return f"at {value_told(assumption, turning.value)} and less {plan_named(turning.plan)} is cheapest"
