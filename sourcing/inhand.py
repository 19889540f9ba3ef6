"""Parts that are here already: what each may fill, what it costs, and whether it can go back.

What is counted, and why once only. An in-hand part is bought by nobody: it is no purchase, no line and no order, and no limit
on what is bought speaks of it. Its money stands in `parts`:

received   its `cost` was paid for this job, so it counts in every plan, whether the part is used or left over; sent back, only
           what the supplier keeps of it (restock_share) counts. A plan that sends nothing back therefore costs what the
           first plan said. Left over, it is worth what [[wanted]] says, as a piece left over from a purchase is.
shelf      its `cost` counts where it is used. Unused it stays where it lay: it costs nothing and is worth nothing new.
customer   its `cost` counts where it is used (mostly 0). Unused it goes back to the customer.

A core charge on a received part (the supplier's sheet of the job's day says how much) is paid and gone: `core_charges` does
not count it again. What can still come back is counted: a found core that its number accepts earns `core_credit`, as
against a bought piece, used or left over, while core_days leave time; and sent back unused, the part brings its whole core
charge back with it (taken off `core_charges`; it then takes no core). The same holds for a shelf part whose number is given.
What it costs to send a part back is not known and not counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sourcing.book.family import Family
from sourcing.job import InHand, Job, Whence
from sourcing.money import to_cents
from sourcing.partnumber import canonical
from sourcing.prices.offers import Offer, Offers
from sourcing.prices.parts import Part
from sourcing.terms import Terms


@dataclass(frozen=True, slots=True)
class Hand:
    """One piece that is here, for one position; cents of the shop.

    `fits`: its condition may fill the position, where it is known. `restock_cents`: what the supplier keeps where it goes
    back; None where it does not. `offer`: its supplier's number at the price of the day. `takes_core`: a core may go back
    against it. `kit`: its number is a kit, one piece however many positions name it.
    """

    position: str
    design: str
    source: Whence
    cost_cents: int
    supplier: str = ""
    number: str = ""
    part: Part | None = None
    offer: Offer | None = None
    fits: bool = True
    restock_cents: int | None = None
    takes_core: bool = False

    @property
    def kit(self) -> bool:
        return self.part is not None and len(self.part.fills) > 1

    @property
    def core_cents(self) -> int:
        """The core charge that was paid on it."""
        return self.offer.core_cents if self.offer is not None else 0

    @property
    def stocks(self) -> bool:
        """Whether it is the shop's to put on its shelf where nothing uses it."""
        return self.source == "received"

    def cents(self, used: bool, sent_back: bool) -> int:
        """What a plan's parts count for it."""
        if sent_back:
            return self.restock_cents or 0
        return self.cost_cents if used or self.source == "received" else 0


def hands_of(job: Job, family: Family, terms: Mapping[str, Terms], offers: Offers) -> dict[str, Hand]:
    """The parts in hand of a job, by position in the order of the book."""
    known = {(part.supplier, part.number.canonical): part for part, _ in offers.refused}
    priced = {(offer.supplier, offer.part.number.canonical): offer for offer in offers.offers}
    found = {}
    for position in family.position:
        said = job.in_hand.get(position)
        if said is not None:
            number = (said.supplier or "", canonical(said.part_number or ""))
            offer = priced.get(number)
            part = offer.part if offer is not None else known.get(number)
            hand = Hand(
                position, said.design, said.source, to_cents(said.cost), number[0], said.part_number or "", part
            )
            allowed = family.position[position].conditions
            hand = replace(hand, offer=offer, fits=part is None or part.condition in allowed)
            found[position] = _on_terms(job, said, hand, terms.get(number[0]))
    return found


def _on_terms(job: Job, said: InHand, hand: Hand, terms: Terms | None) -> Hand:
    """The same part with what its supplier's terms still allow on the job's day."""
    if terms is None or said.source == "customer":
        return hand
    days = (job.job.date - (said.came or job.job.date)).days
    back = said.source == "received" and not hand.kit and terms.takes_back(days)
    return replace(
        hand,
        restock_cents=terms.restock_cents(hand.cost_cents) if back else None,
        takes_core=hand.offer is not None and terms.takes_core(days),
    )


def core_pieces(hands: Mapping[str, Hand], sent_back: Sequence[str]) -> Iterator[Offer]:
    """The offer of each piece in hand that can take a core, a kit once."""
    kits = set()
    for position, hand in hands.items():
        if hand.offer is None or not hand.takes_core or position in sent_back or hand.offer.id in kits:
            continue
        if hand.kit:
            kits.add(hand.offer.id)
        yield hand.offer


def told_of(hands: Mapping[str, Hand], family: Family, held: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """What must be said of the parts in hand, whatever the plan does with them."""
    for position, hand in hands.items():
        name = f"in hand: the {family.position[position].name} {family.name_of(hand.design)}"
        if not hand.fits and hand.part is not None:
            yield f"{name} is {hand.part.condition}, which its position does not take: it fills nothing"
        elif hand.design not in held.get(position, ()):
            yield f"{name} fills nothing: no valid plan holds it there"
        if hand.part is not None and hand.design not in hand.part.fills:
            fills = " + ".join(family.name_of(design) for design in hand.part.fills)
            yield f"{name} came in the box of {hand.supplier} {hand.number}, which is {fills}: the wrong box"
        if hand.source == "received" and hand.restock_cents is None:
            yield f"{name} does not go back: {_why_not_back(hand)}"
        elif hand.restock_cents is not None and not hand.cost_cents:
            yield f"{name} has no cost: what sending it back brings is not counted"


def _why_not_back(hand: Hand) -> str:
    if not hand.supplier:
        return "the job names no supplier for it"
    if hand.kit:
        return "it is of a kit, and kits are not parted"
    return f"the terms of {hand.supplier} give no days for it, or they are over"
