"""A problem under another assumption: one number of the shop's or a supplier's changed, everything else as it was."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from sourcing.prices.offers import Offer, Step
from sourcing.problem import Line, Problem, grams, works_of
from sourcing.terms import Terms


def at_core_recovery(problem: Problem, supplier: str, share: Decimal) -> Problem:
    """Where such a share of a supplier's core charges comes back on an accepted core."""
    terms = replace(problem.terms[supplier], core_recovery=share)
    return replace(problem, terms={**problem.terms, supplier: terms})


def at_comeback_rate(problem: Problem, condition: str, design: str, rate: Decimal) -> Problem:
    """Where such a share of a design's parts in one condition comes back, whoever sells them."""
    return replace(problem, rates={**problem.rates, (condition, design): Fraction(rate)})


def at_labour_cost(problem: Problem, hour: Decimal) -> Problem:
    """Where an hour costs the shop so much."""
    shop = problem.shop.model_copy(update={"labour_cost": hour})
    return replace(problem, shop=shop, works=works_of(problem.family, shop, problem.setting))


def at_day_cost(problem: Problem, day: Decimal) -> Problem:
    """Where each working day that the unit waits costs the shop so much."""
    return replace(problem, shop=problem.shop.model_copy(update={"day_cost": day}))


def at_exchange_rate(problem: Problem, currency: str, rate: Decimal) -> Problem:
    """Where one unit of a currency costs so much in the shop's; thresholds stay in the suppliers' own coins."""
    terms = {code: one.at_rate(rate) if one.currency == currency else one for code, one in problem.terms.items()}
    shop = problem.shop.model_copy(update={"fx": {**problem.shop.fx, currency: rate}})
    lines = tuple(
        _converted(problem, line, terms[line.offer.supplier])
        if terms[line.offer.supplier].currency == currency
        else line
        for line in problem.lines
    )
    here = {
        position: replace(hand, offer=_priced_anew(hand.offer, terms[hand.supplier]))
        if hand.offer is not None and terms[hand.supplier].currency == currency
        else hand
        for position, hand in problem.in_hand.items()
    }
    return replace(problem, shop=shop, terms=terms, lines=lines, in_hand=here)


def _converted(problem: Problem, line: Line, terms: Terms) -> Line:
    offer = _priced_anew(line.offer, terms)
    mode = next(mode for mode in terms.modes if mode.mode == line.mode.mode)
    return replace(line, offer=offer, mode=mode, piece_freight_cents=mode.piece_cents(grams(problem.family, offer)))


def _priced_anew(offer: Offer, terms: Terms) -> Offer:
    steps = tuple(Step(step.quantity, step.minor, terms.cents(step.minor)) for step in offer.steps)
    return replace(offer, steps=steps, core_cents=terms.cents(offer.core_minor))
