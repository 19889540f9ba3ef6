"""A good first plan: from the orders that the bound would place, improved by adding, dropping and changing orders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sourcing.book.family import NONE
from sourcing.breaches import breaches
from sourcing.plan import Choice, Purchase, Return, credit, pieces_of, price
from sourcing.problem import Problem
from sourcing.program.ahead.cheapest import Together
from sourcing.program.ahead.dual import Bound
from sourcing.program.ahead.market import BOUGHT, HERE, KEPT, Floats, Market

Returns = Callable[[Problem, Choice], tuple[Return, ...]]

NEVER = 1e12
MOST_TRIES = 250


@dataclass(frozen=True)
class Draft:
    """A plan in the making: its cost by the market's arrays, the state and the line (-1: none) of each position."""

    cents: float
    states: tuple[int, ...]
    lines: tuple[int, ...]


def first_plan(market: Market, together: Together, bounds: Iterable[Bound]) -> tuple[Choice, int] | None:
    """The cheapest valid choice found, and its cost in cents by the plan's own arithmetic; None where none was found.

    It is any valid plan: nothing is claimed of it, so that no step here need be exact.
    """
    drafts: set[Draft] = set()
    tries = MOST_TRIES
    for bound in sorted(bounds, key=lambda bound: bound.cents):
        search = _Search(market, together, bound.wait, tries)
        started = {int(k) for k in np.flatnonzero(bound.value.orders < -1e-6)}
        often = _often_placed(market, bound)
        for orders in [started, often] if often != started else [started]:
            draft = search.improved(frozenset(orders))
            if draft is not None:
                drafts.add(draft)
        tries = search.tries
        if tries <= 0:
            break
    best: tuple[Choice, int] | None = None
    for draft in sorted(drafts, key=lambda draft: (draft.cents, draft.states, draft.lines))[:4]:
        choice = choice_of_draft(market, draft, good_returns)
        if breaches(market.problem, choice) or not answers_what_is_asked(market.problem, choice):
            continue
        cost = price(market.problem, choice)[0].of(market.problem.minimise)
        if best is None or cost < best[1]:
            best = choice, cost
    return best


def _often_placed(market: Market, bound: Bound) -> set[int]:
    """The orders of the lines that the bound used at all of late, as far as the states stay filled."""
    values, _ = bound.orders.line_values(bound.prices)
    cheap = np.flatnonzero((market.waits <= bound.wait) & (market.waived + values < 0))
    return {int(k) for k in market.order[cheap]}


class _Search:
    """Drafts for one wait, over sets of orders that may be placed."""

    def __init__(self, market: Market, together: Together, wait: int, tries: int) -> None:
        self.market, self.together, self.wait, self.tries = market, together, wait, tries
        entries = np.flatnonzero((market.waits <= wait)[market.fill_line])
        one = market.single[market.fill_line[entries]]
        self.entries = entries[one]
        self.entry_order = market.order[market.fill_line[self.entries]]
        self.entry_state = market.fill_state[self.entries]
        self.entry_cost = market.fill_cents[self.entries] + market.paid[market.fill_line[self.entries]]
        self.entry_minor = market.minor[market.fill_line[self.entries]]
        self.cents = dict(zip(zip(market.fill_line.tolist(), market.fill_state.tolist(), strict=True),
                              market.fill_cents.tolist(), strict=True))  # fmt: skip
        several = np.unique(market.fill_line[entries[~one]])
        self.kits = {
            int(line): market.fill_state[entries[market.fill_line[entries] == line]] for line in several
        }  # fmt: skip
        self.placeable = sorted({int(k) for k in market.order[market.fill_line[entries]]})
        self.seen: dict[tuple[frozenset[int], frozenset[int]], Draft | None] = {}
        self.flat = np.array([placed.flat + placed.fee for placed in market.orders], dtype=float)
        self.freight_free = np.array(
            [placed.free_over is not None and placed.free_over > 0 for placed in market.orders], dtype=bool
        )

        self.shares = (0.0, 0.25) if self.freight_free.any() else (0.0,)

    def improved(self, orders: frozenset[int]) -> Draft | None:
        """The best draft that single moves lead to: an order or a kit more, less, or in another's place."""
        kits: frozenset[int] = frozenset()
        best = self.draft(orders, kits)
        while self.tries > 0:
            better = None
            for other, with_kits in self._moves(orders, kits):
                draft = self.draft(other, with_kits)
                if draft is not None and (best is None or draft.cents < best.cents - 1e-6):
                    better, best = (other, with_kits), draft
                if self.tries <= 0:
                    break
            if better is None:
                break
            orders, kits = better
        return best

    def _moves(self, orders: frozenset[int], kits: frozenset[int]) -> Iterator[tuple[frozenset[int], frozenset[int]]]:
        for k in sorted(orders):
            yield orders - {k}, kits
        for k in self.placeable:
            if k not in orders:
                yield orders | {k}, kits
        for line in sorted(self.kits):
            yield orders, kits ^ {line}
        for k in sorted(orders):
            for other in self.placeable:
                if other not in orders:
                    yield (orders - {k}) | {other}, kits

    def draft(self, orders: frozenset[int], kits: frozenset[int]) -> Draft | None:
        """The cheapest combination from the orders' lines and the kits; freight, thresholds and minimums as they then are."""
        key = (orders, kits)
        if key not in self.seen:
            self.tries -= 1
            drafts = [self._priced(orders, kits, share) for share in self.shares]
            found = [draft for draft in drafts if draft is not None]
            self.seen[key] = min(found, key=lambda draft: draft.cents) if found else None
        return self.seen[key]

    def _priced(self, orders: frozenset[int], kits: frozenset[int], share: float) -> Draft | None:
        market = self.market
        placed = np.zeros(len(market.orders), dtype=bool)
        placed[list(orders)] = True
        mine = placed[self.entry_order]
        cost, state = self.entry_cost[mine], self.entry_state[mine]
        if share:
            cost = cost - share * self.entry_minor[mine] * self.freight_free[self.entry_order[mine]]
        prices: Floats = np.where(market.bought_states, NEVER, 0.0)
        np.minimum.at(prices, state, cost)
        by_kit: dict[int, int] = {}
        for line in kits:
            by_kit.update({int(s): line for s in self.kits[line]})
        if by_kit:
            prices[list(by_kit)] = 0.0
        total, chosen = self.together.least(market.state_cents + prices)
        if prices[chosen].max() >= NEVER / 2:
            return None
        cheapest = np.full(len(market.states), -1, dtype=np.int64)
        hit = np.flatnonzero(cost <= prices[state])[::-1]
        cheapest[state[hit]] = market.fill_line[self.entries[mine][hit]]
        cheapest[list(by_kit)] = list(by_kit.values())
        lines = np.where(market.bought_states[chosen], cheapest[chosen], -1)
        bare = total - float(prices[chosen].sum())
        return self._as_it_comes(bare, tuple(chosen.tolist()), tuple(lines.tolist()))

    def _as_it_comes(self, bare: float, states: tuple[int, ...], lines: tuple[int, ...]) -> Draft | None:
        market = self.market
        bought = np.array(sorted({line for line in lines if line >= 0}), dtype=np.int64)
        cents = bare + market.fixed + sum(self.cents[pair] for pair in zip(lines, states, strict=True) if pair[0] >= 0)
        count, at = len(market.orders), market.order[bought]
        subtotals = np.bincount(at, market.minor[bought], count)
        paid, waived = np.bincount(at, market.paid[bought], count), np.bincount(at, market.waived[bought], count)
        for k in np.unique(at):
            subtotal, placed = float(subtotals[k]), market.orders[k]
            if subtotal < placed.minimum:
                cents += NEVER / 1e4 + placed.minimum - subtotal
            free = placed.free_over is not None and subtotal >= placed.free_over
            cents += placed.fee + float(waived[k] if free else placed.flat + paid[k])
        cents += market.day * int(market.waits[bought].max(initial=0))
        return Draft(cents, states, lines)


def choice_of_draft(market: Market, draft: Draft, returns: Returns) -> Choice:
    """A draft as a choice, its cores returned as `returns` says."""
    problem = market.problem
    states = [market.states[s] for s in draft.states]
    combination = {position: state.design for position, state in zip(problem.positions, states, strict=True)}
    fills = {
        position: market.lines[line].offer.id
        for position, line, state in zip(problem.positions, draft.lines, states, strict=True)
        if state.source == BOUGHT and state.design != NONE
    }
    bought = sorted({line for line in draft.lines if line >= 0})
    purchases = tuple(
        sorted(
            (Purchase(market.lines[line], market.lines[line].offer.smallest) for line in bought), key=lambda p: p.key
        )
    )
    kept = tuple(p for p, state in zip(problem.positions, states, strict=True) if state.source == KEPT)
    here = tuple(p for p, state in zip(problem.positions, states, strict=True) if state.source == HERE)
    back = tuple(p for p in problem.positions if p in problem.in_hand and p not in here and _goes_back(problem, p))
    bare = Choice(combination, kept, fills, purchases, (), here, back)
    return replace(bare, returns=returns(problem, bare))


def good_returns(problem: Problem, choice: Choice) -> tuple[Return, ...]:
    """Each core to the piece that brings most for it, as far as a supplier's cores bring more than returning them costs."""
    left = pieces_of(problem, choice)
    ways: list[tuple[int, Return]] = []
    for position, design in problem.cores.items():
        takes = [o for o, pieces in left.items() if pieces and design in problem.offer[o].part.core_accepts]
        best = max(takes, key=lambda o: (credit(problem, o), -o), default=None)
        if best is not None and position not in choice.kept and credit(problem, best):
            left[best] -= 1
            ways.append((credit(problem, best), Return(position, design, best)))
    brings: Counter[str] = Counter()
    for cents, way in ways:
        brings[problem.offer[way.offer].supplier] += cents
    pays = {supplier for supplier, cents in brings.items() if cents > problem.terms[supplier].core_return_cents}
    return tuple(way for _, way in ways if problem.offer[way.offer].supplier in pays)


def _goes_back(problem: Problem, position: str) -> bool:
    hand = problem.in_hand[position]
    asked = problem.handled.get(position)
    if hand.restock_cents is None:
        return False
    return asked == "send back" or hand.cents(False, True) - hand.core_cents < hand.cents(False, False)


def answers_what_is_asked(problem: Problem, choice: Choice) -> bool:
    """Whether a choice keeps to what a decision asks: prices asked about, parts to use, plans told, ceilings, parts in hand."""
    filling = set(choice.fills.values())
    paid: dict[int, int] = dict.fromkeys(problem.asked, 0)
    for purchase in choice.purchases:
        if purchase.line.offer.id in paid:
            paid[purchase.line.offer.id] += purchase.line.offer.base_pieces(purchase.quantity)
    totals = price(problem, choice)[0] if problem.ceilings else None
    handled = {
        "use": lambda position: position in choice.in_hand,
        "leave": lambda position: position not in choice.in_hand,
        "send back": lambda position: position in choice.sent_back,
    }
    return (
        paid == dict(problem.asked)
        and filling >= set(problem.using)
        and not filling & set(problem.sparing)
        and not any(_told(told.combination, told.fills, told.in_hand, choice) for told in problem.told)
        and all(totals is not None and totals.of(name) <= cents for name, cents in problem.ceilings.items())
        and all(handled[what](position) for position, what in problem.handled.items())
    )


def _told(combination: object, fills: object, in_hand: tuple[str, ...], choice: Choice) -> bool:
    if choice.combination != combination:
        return False
    return fills is None or (choice.fills == fills and set(choice.in_hand) == set(in_hand))
