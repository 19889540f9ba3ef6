"""Every rule that a plan breaks, in words: the check of an answer that no solver has a part in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sourcing.book.family import NONE
from sourcing.book.fitting import reasons_against
from sourcing.plan import Choice, Purchase, orders_of, pieces_of
from sourcing.prices.offers import Offer, whole_packs
from sourcing.problem import Problem


def breaches(problem: Problem, choice: Choice) -> list[str]:
    """Every rule that a choice breaks, in words; empty for a sound one. The book's own rules, no solver."""
    strange = [*_strange_lines(problem, choice)]
    if strange:
        return strange
    return [*standing_breaches(problem, choice), *_buying_breaches(problem, choice), *_core_breaches(problem, choice)]


def standing_breaches(problem: Problem, choice: Choice) -> list[str]:
    """What is wrong with a unit as a choice makes it up, and with the pieces that it gets; not with how they are bought."""
    return [
        *(reason.says for reason in reasons_against(problem.family, problem.setting, choice.combination)),
        *_limit_breaches(problem, choice),
        *_filling_breaches(problem, choice),
        *_sending_breaches(problem, choice),
    ]


def _limit_breaches(problem: Problem, choice: Choice) -> Iterator[str]:
    limits = problem.job.limits
    held = set(choice.combination.values())
    for design in limits.require:
        if design not in held:
            yield f"the job requires {design}"
    for design in limits.exclude:
        if design in held:
            yield f"the job excludes {design}"
    suppliers = {purchase.line.offer.supplier for purchase in choice.purchases}
    if limits.max_suppliers is not None and len(suppliers) > limits.max_suppliers:
        yield f"{len(suppliers)} suppliers, at most {limits.max_suppliers} allowed"
    for purchase in choice.purchases:
        part = purchase.line.offer.part
        if limits.suppliers is not None and part.supplier not in limits.suppliers:
            yield f"{part.supplier} is not among the suppliers allowed"
        if part.supplier in limits.avoid_suppliers:
            yield f"{part.supplier} is to be avoided"
        if limits.conditions is not None and part.condition not in limits.conditions:
            yield f"{part.number} is {part.condition}"
        if part.warranty_months < limits.min_warranty_months:
            yield f"{part.number} has {part.warranty_months} months of warranty"
        if problem.job.job.need_by is not None and purchase.line.arrives > problem.job.job.need_by:
            yield f"{part.number} arrives on {purchase.line.arrives}"


def _filling_breaches(problem: Problem, choice: Choice) -> Iterator[str]:
    if set(choice.combination) != set(problem.family.position):
        yield "a position is neither filled nor left empty"
    for position, design in choice.combination.items():
        ways = sum(position in by for by in (choice.kept, choice.fills, choice.in_hand)) + (design == NONE)
        if ways != 1:
            yield f"{position} is filled {ways} times"
        if position in choice.kept and problem.keepable.get(position) != design:
            yield f"{position} keeps a part that may not go back in"
        if position in choice.in_hand and not (
            problem.can_use(position) and problem.in_hand[position].design == design
        ):
            yield f"{position} is filled by a part that is not in hand"
        if position in choice.fills:
            offer = problem.offer[choice.fills[position]]
            if design not in offer.part.fills:
                yield f"{offer.part.number} is no {design}"
            if offer.part.condition not in problem.family.position[position].conditions:
                yield f"{offer.part.number} is {offer.part.condition}, which {position} does not take"


def _sending_breaches(problem: Problem, choice: Choice) -> Iterator[str]:
    for position in choice.sent_back:
        hand = problem.in_hand.get(position)
        if hand is None or hand.restock_cents is None:
            yield f"no part in hand of {position} can go back"
        if position in choice.in_hand:
            yield f"the part in hand of {position} is used and goes back"


def _strange_lines(problem: Problem, choice: Choice) -> Iterator[str]:
    """Purchases, fillings and returns of what the problem does not offer."""
    for purchase in choice.purchases:
        if problem.line.get(purchase.line.key) != purchase.line:
            yield f"{purchase.line.offer.part.number} is no line that can be bought"
    bought = {offer.id for offer in problem.offers}
    for number in choice.fills.values():
        if number not in bought:
            yield f"offer {number} is not there"
    for number in (item.offer for item in choice.returns):
        if number not in problem.offer:
            yield f"offer {number} is not there"


def whole_line(purchase: Purchase) -> bool:
    """Whether a quantity is sold: whole packs, at least the minimum and the first priced quantity."""
    offer = purchase.line.offer
    return purchase.quantity % offer.pack == 0 and purchase.quantity >= max(offer.minimum, offer.steps[0].quantity, 1)


def smallest_serving(offer: Offer, pieces: int) -> int:
    """Pieces needed, raised to what is sold at least and to whole packs."""
    return whole_packs(max(offer.minimum, offer.steps[0].quantity, pieces), offer.pack) if pieces else 0


def _buying_breaches(problem: Problem, choice: Choice) -> Iterator[str]:
    bought: Counter[int] = Counter()
    for purchase in choice.purchases:
        offer = purchase.line.offer
        bought[offer.id] += purchase.quantity
        if not whole_line(purchase):
            yield f"{purchase.quantity} of {offer.part.number} is no whole line"
    if len({purchase.line.key for purchase in choice.purchases}) < len(choice.purchases):
        yield "one line stands twice"
    used = set(choice.fills.values())
    spare: Counter[str] = Counter()
    for number, quantity in bought.items():
        offer = problem.offer[number]
        if offer.stock is not None and quantity > offer.stock:
            yield f"{quantity} of {offer.part.number}, {offer.stock} in stock"
        need = smallest_serving(offer, 1 if number in used else 0)
        if quantity < need or (quantity > need and problem.shelf_room(offer) < quantity - need):
            yield f"{quantity} of {offer.part.number} is not the smallest quantity that serves"
        for design in offer.part.fills:
            spare[design] += quantity - need
    for design, wish in problem.wishes.items():
        if spare[design] > wish.pieces:
            yield f"{spare[design]} further pieces of {design}, {wish.pieces} wanted"
    for position, number in choice.fills.items():
        if not bought[number]:
            yield f"{position} is filled by a part that is not bought"
    for order in orders_of(problem.terms, choice.purchases):
        if order.subtotal_minor < problem.terms[order.supplier].order_minimum_minor:
            yield f"the order to {order.supplier} by {order.mode} is below its minimum"


def _core_breaches(problem: Problem, choice: Choice) -> Iterator[str]:
    pieces = pieces_of(problem, choice)
    for item in choice.returns:
        pieces[item.offer] -= 1
        if pieces[item.offer] < 0:
            yield "more cores go back than pieces were bought"
        if item.position in choice.kept or problem.cores.get(item.position) != item.design:
            yield f"the core of {item.position} is not there to go back"
        if item.design not in problem.offer[item.offer].part.core_accepts:
            yield f"{problem.offer[item.offer].part.number} takes no {item.design} as a core"
    if len({item.position for item in choice.returns}) < len(choice.returns):
        yield "one core goes back twice"
