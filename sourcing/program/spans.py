"""The quantities that a line may have at each of its price steps, in whole packs."""

from __future__ import annotations

from dataclasses import dataclass

from sourcing.prices.offers import Offer


@dataclass(frozen=True, slots=True)
class Span:
    """Quantities of one line at one price step: first, first + pack, ... last. Cents and minor are of `first` pieces.

    `further_cents` and `further_minor` are what one more pack adds within the step.
    """

    first: int
    last: int
    pack: int
    cents: int
    minor: int
    further_cents: int
    further_minor: int

    @property
    def packs(self) -> int:
        return (self.last - self.first) // self.pack


def spans(offer: Offer, most: int) -> list[Span]:
    """Split the quantities from the smallest line to `most` at the offer's price steps, in whole packs."""
    found = []
    ends = [step.quantity - 1 for step in offer.steps[1:]] + [most]
    for step, end in zip(offer.steps, ends, strict=True):
        first = max(offer.smallest, -(-step.quantity // offer.pack) * offer.pack)
        last = min(end, most) // offer.pack * offer.pack
        if first <= last:
            found.append(Span(first, last, offer.pack, offer.cents(first), offer.minor(first),
                              step.cents * offer.pack, step.minor * offer.pack))  # fmt: skip
    return found
