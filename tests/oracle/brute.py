"""A buyer that tries everything: each combination, each way to fill it, each way to buy that.

What is never looked at, and why nothing is lost by that:

* Of two ways to fill one combination with the same parts kept and the same part numbers used, the one with
  more expected comebacks is dropped: all else that a plan costs or shows depends on what is bought.
* A supplier's quantities are split over its freight modes by itself: of the splits that arrive within the
  same days the cheapest wins, then the first by code, because credits, shelf and all other suppliers depend
  on the quantities alone. Every number of days that any split takes is tried as the limit of the whole plan.
* A set of used parts is passed over when a bound says that it must cost more than the best plan known: each
  supplier's cheapest way to deliver at least these, less the most that the cores could earn and less every
  unused wanted piece at its full worth. Equal cost is always looked at.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

from .book import combinations, tasks_done
from .money import as_text, round_half_up, times
from .reading import NONE, Hand, Offer, Problem, Supplier, World, fold, read_problem

Line = tuple[str, str, str, int]
"""Supplier, part number, mode, quantity."""
Return = tuple[str, str, str]
"""Design, supplier, part number."""
HERE = -1
"""Stands for the offer where a part in hand fills a position."""
Quantities = tuple[int, ...]
"""Pieces of each of a supplier's offers."""


NONE_DIFFERS = True
"""Whether "none" where a part was found counts as a design that differs from the found one."""
NONE_SORTS_AS = NONE
"""What an empty position is called where plans are told apart by the codes of their designs."""


@dataclass(frozen=True)
class Split:
    """A supplier's quantities in lines: its lines, its cash and the days of its slowest line."""

    cash: int
    lines: tuple[Line, ...]
    days: int


@dataclass(frozen=True)
class Choice:
    """A supplier's pieces: all of them, and how many of each wanted design go beyond need."""

    bound: int
    quantities: Quantities
    further: tuple[int, ...]
    splits: tuple[Split, ...]


@dataclass(frozen=True)
class Filling:
    """A combination with what fills it, before anything is bought."""

    bound: int
    combination: tuple[str, ...]
    kept: tuple[str, ...]
    used: frozenset[int]
    bought: frozenset[str]
    labour: int
    comebacks: int
    here: tuple[str, ...] = ()
    sent_back: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Found:
    """A whole plan with the key that says which of two wins."""

    key: tuple[Any, ...]
    filling: Filling
    lines: tuple[Line, ...]
    returns: tuple[Return, ...]
    totals: dict[str, int]


class Buyer:
    """Buys for one job in one world."""

    def __init__(self, problem: Problem, world: World) -> None:
        self.problem, self.world = problem, world
        self.minimise = problem.job.minimise
        self.codes = [p.code for p in problem.family.positions]
        self.wanted = problem.wanted()
        self.offers = [o for o in problem.offers if self._allowed(o)]
        self.known = [*self.offers]
        for offer in problem.hand_pieces(frozenset()):
            if (offer.supplier, offer.number) not in {(o.supplier, o.number) for o in self.known}:
                self.known.append(offer)
        self.by_supplier = {
            s: [i for i, o in enumerate(self.offers) if o.supplier == s]
            for s in sorted({o.supplier for o in self.offers})
        }
        self.splits = cache(self._splits)
        self.choices = cache(self._choices)
        self.returned = cache(self._returned)

    def _allowed(self, offer: Offer) -> bool:
        limits = self.problem.job.limits
        return (
            (limits.conditions is None or offer.condition in limits.conditions)
            and (limits.suppliers is None or offer.supplier in limits.suppliers)
            and offer.supplier not in limits.avoid
            and offer.warranty_months >= limits.min_warranty
            and (offer.supplier, fold(offer.number)) not in limits.unavailable
        )

    def best(self) -> Found | None:
        """The one plan that wins, or None where there is none."""
        best: Found | None = None
        for filling in self.fillings():
            if best is not None and filling.bound > best.key[0]:
                break
            for plan in self.plans(filling, best.key[0] if best else None):
                if best is None or plan.key < best.key:
                    best = plan
        return best

    # How a combination is filled

    def fillings(self) -> list[Filling]:
        """Every filling of every valid combination, the lowest bound first."""
        least: dict[tuple[Any, ...], tuple[int, dict[str, str], frozenset[str]]] = {}
        for combination in combinations(self.problem, self.world):
            for kept, used, bought, comebacks, here in self._ways(combination):
                key = (tuple(combination.values()), kept, used, here)
                if key not in least or comebacks < least[key][0]:
                    least[key] = (comebacks, combination, bought)
        fillings = []
        for (codes, kept, used, here), (comebacks, combination, bought) in least.items():
            tasks = tasks_done(self.problem, combination, self.world, bought | set(here))
            labour = sum(task.labour_cents for task in tasks)
            bound = self._bound(used, kept, bought, combination, labour + comebacks)
            for back in self._sendings(here) if bound is not None else ():
                lower = bound + self._hands_cost(here, back) - self._hands_worth(here, back)
                fillings.append(Filling(lower, codes, kept, used, bought, labour, comebacks, here, back))
        return sorted(
            fillings, key=lambda f: (f.bound, f.combination, f.kept, sorted(f.used), f.here, sorted(f.sent_back))
        )

    def _sendings(self, here: tuple[str, ...]) -> Iterator[frozenset[str]]:
        """Each choice of unused parts in hand that go back."""
        may = [p for p, hand in self.problem.hands.items() if p not in here and hand.back is not None]
        for sent in product((False, True), repeat=len(may)):
            yield frozenset(p for p, goes in zip(may, sent, strict=True) if goes)

    def _hands_cost(self, here: tuple[str, ...], back: frozenset[str]) -> int:
        """What the parts in hand cost in cash."""
        cost = 0
        for position, hand in self.problem.hands.items():
            if position in back:
                assert hand.back is not None
                cost += hand.back
            else:
                cost += hand.used if position in here else hand.unused
        return cost

    def _left(self, here: tuple[str, ...], back: frozenset[str]) -> list[str]:
        """Designs of the received parts that nothing uses and that stay."""
        return [h.design for p, h in self.problem.hands.items() if h.stocks and p not in here and p not in back]

    def _hands_worth(self, here: tuple[str, ...], back: frozenset[str]) -> int:
        """The most that they can be worth on the shelf."""
        if self.minimise != "whole":
            return 0
        return sum(self.wanted[d][1] for d in self._left(here, back) if d in self.wanted)

    def _ways(
        self, combination: dict[str, str]
    ) -> Iterator[tuple[tuple[str, ...], frozenset[int], frozenset[str], int, tuple[str, ...]]]:
        """Each way to fill a combination: kept positions, used offers, bought positions, comebacks, those from what is here."""
        keepable = self.problem.keepable()
        options: list[list[tuple[int | None, int]]] = []
        for position in self.problem.family.positions:
            code = combination[position.code]
            if code == NONE:
                options.append([(None, 0)])
                continue
            design = self.problem.family.designs[code]
            ways: list[tuple[int | None, int]] = []
            hand = self.problem.hands.get(position.code)
            if hand is not None and hand.usable and hand.design == code:
                ways.append((HERE, times(position.comeback_cost, hand.rate)))
            if keepable.get(position.code) == code:
                ways.append((None, times(position.comeback_cost, design.kept_rate)))
            for i, offer in enumerate(self.offers):
                if code in offer.fills and offer.condition in position.conditions:
                    rate = design.comeback_rate if offer.comeback_rate is None else offer.comeback_rate
                    ways.append((i, times(position.comeback_cost, rate)))
            options.append(ways)
        for way in product(*options):
            filled = [(p, i) for p, (i, _) in zip(self.codes, way, strict=True) if combination[p] != NONE]
            yield (
                tuple(p for p, i in filled if i is None),
                frozenset(i for _, i in filled if i is not None and i != HERE),
                frozenset(p for p, i in filled if i is not None and i != HERE),
                sum(cost for _, cost in way),
                tuple(p for p, i in filled if i == HERE),
            )

    # How a supplier's part of it is bought

    def _choices(self, supplier: str, used: frozenset[int]) -> list[Choice]:
        """Each quantity of each of a supplier's offers that the needed and the further pieces allow."""
        ranges = [list(self._range(i, i in used)) for i in self.by_supplier[supplier]]
        choices = []
        for quantities in product(*ranges):
            further, gain = [0] * len(self.wanted), 0
            for i, quantity in zip(self.by_supplier[supplier], quantities, strict=True):
                offer = self.offers[i]
                beyond = quantity - (offer.smallest() if i in used else 0)
                for w, (design, (_, worth)) in enumerate(self.wanted.items()):
                    further[w] += beyond * offer.fills.count(design)
                    gain += quantity * offer.fills.count(design) * worth
            if any(n > pieces for n, (pieces, _) in zip(further, self.wanted.values(), strict=True)):
                continue
            splits = self.splits(supplier, quantities)
            if splits:
                low = min(s.cash for s in splits) - (gain if self.minimise == "whole" else 0)
                choices.append(Choice(low, quantities, tuple(further), splits))
        return sorted(choices, key=lambda c: (c.bound, c.quantities))

    def _range(self, i: int, used: bool) -> Iterator[int]:
        """The quantities that may be bought of one offer over all its lines."""
        offer = self.offers[i]
        need = offer.smallest() if used else 0
        most = 0
        if all(design in self.wanted for design in offer.fills):
            most = min(self.wanted[d][0] // offer.fills.count(d) for d in offer.fills)
        for quantity in range(need, need + most + 1):
            if offer.stock is None or quantity <= offer.stock:
                yield quantity

    def _splits(self, supplier: str, quantities: Quantities) -> tuple[Split, ...]:
        """The ways to order these quantities: for each number of days the cheapest within them."""
        terms = self.problem.suppliers[supplier]
        if not any(quantities):
            return (Split(0, (), 0),)
        ways = [
            list(self._shares(terms, self.offers[i], quantity))
            for i, quantity in zip(self.by_supplier[supplier], quantities, strict=True)
        ]
        splits = [s for shares in product(*ways) if (s := self._priced(terms, shares)) is not None]
        splits.sort(key=lambda s: (s.days, s.cash, s.lines))
        best: list[Split] = []
        for split in splits:
            if not best or (split.cash, split.lines) < (best[-1].cash, best[-1].lines):
                best.append(split)
        return tuple(best)

    def _shares(self, terms: Supplier, offer: Offer, quantity: int) -> Iterator[Quantities]:
        """Each way to spread one part's quantity over the modes in whole lines that arrive in time."""
        sizes = [
            [
                n
                for n in range(quantity + 1)
                if n == 0
                or (n >= offer.minimum and n % offer.pack == 0 and self.problem.in_time(offer.lead_days + mode.days))
            ]
            for mode in terms.modes
        ]
        return (share for share in product(*sizes) if sum(share) == quantity)

    def _priced(self, terms: Supplier, shares: tuple[Quantities, ...]) -> Split | None:
        """What a supplier's orders cost and how long they take; None below an order's minimum."""
        cash = days = 0
        lines: list[Line] = []
        for m, mode in enumerate(terms.modes):
            order = [
                (self.offers[i], share[m])
                for i, share in zip(self.by_supplier[terms.code], shares, strict=True)
                if share[m]
            ]
            if not order:
                continue
            totals = [offer.line(quantity, terms.incremental) for offer, quantity in order]
            subtotal = sum(own for own, _ in totals)
            if subtotal < terms.order_minimum:
                return None
            cash += sum(shop for _, shop in totals) + sum(o.core_charge * q for o, q in order)
            cash += self.freight(terms, m, subtotal, order)
            days = max(days, *(offer.lead_days + mode.days for offer, _ in order))
            lines += [(terms.code, o.number, mode.mode, q) for o, q in order]
        return Split(cash, tuple(sorted(lines)), days)

    @staticmethod
    def freight(terms: Supplier, m: int, subtotal: int, order: list[tuple[Offer, int]]) -> int:
        """What sending one order costs."""
        mode = terms.modes[m]
        if mode.free_over is not None and subtotal >= mode.free_over:
            return terms.order_fee
        return terms.order_fee + mode.flat + sum(q * times(mode.per_kg, o.weight_kg) for o, q in order)

    # Bounds

    def _bound(
        self,
        used: frozenset[int],
        kept: tuple[str, ...],
        bought: frozenset[str],
        combination: dict[str, str],
        work: int,
    ) -> int | None:
        """What a filling costs at least; None where its parts cannot be bought at all."""
        total = days = 0
        for supplier, offers in self.by_supplier.items():
            mine = used.intersection(offers)
            choices = self.choices(supplier, mine)
            if not choices:
                return None
            total += choices[0].bound
            if mine:
                days = max(days, min(s.days for c in choices for s in c.splits))
        return total + self._extras(kept, bought, combination, work, days)

    def _extras(
        self,
        kept: tuple[str, ...],
        bought: frozenset[str],
        combination: dict[str, str],
        work: int,
        days: int,
    ) -> int:
        """The least that is added to the suppliers' bounds by all that is not bought."""
        if self.minimise == "cash":
            return 0
        credit = sum(
            max((o.core_credit for o in self.known if core in o.accepts), default=0)
            for position, core in self.problem.cores().items()
            if position not in kept
        )
        if self.minimise == "landed":
            return -credit
        used_worth = sum(self.wanted[d][1] for p in bought if (d := combination[p]) in self.wanted)
        return work + days * self.problem.shop.day_cost - credit + used_worth

    # Whole plans

    def plans(self, filling: Filling, best: int | None, losing: bool = False) -> Iterator[Found]:
        """Every plan of one filling that may still win against a cost known; `losing`: those that lose too."""
        groups = [self.choices(s, filling.used.intersection(mine)) for s, mine in self.by_supplier.items()]
        lows = [group[0].bound for group in groups]
        rest = filling.bound - sum(lows)
        most = [pieces for pieces, _ in self.wanted.values()]
        limit = self.problem.job.limits.max_suppliers
        state = {"best": best}

        def extend(at: int, sofar: int, picked: list[Choice]) -> Iterator[Found]:
            if limit is not None and sum(any(c.quantities) for c in picked) > limit:
                return
            if at == len(groups):
                for plan in self._timed(filling, picked):
                    cost = plan.key[0]
                    state["best"] = cost if state["best"] is None else min(cost, state["best"])
                    yield plan
                return
            after = sum(lows[at + 1 :])
            for choice in groups[at]:
                if not losing and state["best"] is not None and rest + sofar + choice.bound + after > state["best"]:
                    break
                further = [sum(ns) for ns in zip(*(c.further for c in [*picked, choice]), strict=True)]
                if all(n <= m for n, m in zip(further, most, strict=True)):
                    yield from extend(at + 1, sofar + choice.bound, [*picked, choice])

        yield from extend(0, 0, [])

    def _timed(self, filling: Filling, picked: list[Choice]) -> Iterator[Found]:
        """The plans of chosen quantities, one for each number of days that the last piece may take."""
        for days in sorted(
            {s.days for choice in picked for s in choice.splits} or {0}
        ):  # 0 where nobody sells anything
            splits = []
            for choice in picked:
                within = [s for s in choice.splits if s.days <= days]
                if not within:
                    break
                splits.append(within[-1])
            else:
                yield self._plan(filling, picked, splits)

    def _plan(self, filling: Filling, picked: list[Choice], splits: list[Split]) -> Found:
        """One whole plan with its totals and its place among equals."""
        job, family = self.problem.job, self.problem.family
        combination = dict(zip(self.codes, filling.combination, strict=True))
        pieces = {
            i: q
            for mine, choice in zip(self.by_supplier.values(), picked, strict=True)
            for i, q in zip(mine, choice.quantities, strict=True)
            if q
        }
        cores = tuple((p, d) for p, d in self.problem.cores().items() if p not in filling.kept)
        taking = dict(pieces)
        for offer in self.problem.hand_pieces(filling.sent_back):
            at = next(i for i, o in enumerate(self.known) if (o.supplier, o.number) == (offer.supplier, offer.number))
            taking[at] = taking.get(at, 0) + 1
        credit, return_cost, returns = self.returned(tuple(sorted(taking.items())), cores)
        shelf = 0
        for design, (most, worth) in self.wanted.items():
            held = sum(q * self.offers[i].fills.count(design) for i, q in pieces.items())
            position = family.designs[design].position
            in_use = position in filling.bought and combination[position] == design
            left = self._left(filling.here, filling.sent_back).count(design)
            shelf += worth * min(most, held - in_use + left)
        lines = tuple(line for split in splits for line in split.lines)
        days = max((split.days for split in splits), default=0)
        totals = self._totals(filling, lines, days)
        totals.update(core_credit=credit, core_return=return_cost, shelf=shelf)
        totals["cash"] = totals["parts"] + totals["core_charges"] + totals["freight"]
        totals["landed"] = totals["cash"] - credit + return_cost
        totals["whole"] = totals["landed"] + totals["labour"] + totals["comebacks"] + totals["waiting"] - shelf
        differ = sum(
            (NONE_DIFFERS or combination[p] != NONE) and combination[p] not in candidates
            for p, candidates in job.candidates.items()
        )
        key = (
            totals[self.minimise],
            differ,
            len({line[0] for line in lines}),
            days,
            tuple(NONE_SORTS_AS if code == NONE else code for code in filling.combination),
            filling.kept,
            tuple(p not in filling.here for p in self.problem.hands),
            tuple(p in filling.sent_back for p in self.problem.hands),
            lines,
            returns,
            totals["comebacks"],
        )
        return Found(key, filling, lines, returns, totals)

    def _totals(self, filling: Filling, lines: tuple[Line, ...], days: int) -> dict[str, int]:
        """The totals that follow from the lines alone."""
        totals = {"parts": 0, "core_charges": 0, "freight": sum(f[2] for f in self.orders(lines))}
        for supplier, number, _, quantity in lines:
            offer = self._offer(supplier, number)
            totals["parts"] += offer.line(quantity, self.problem.suppliers[supplier].incremental)[1]
            totals["core_charges"] += quantity * offer.core_charge
        came_back = sum(self.problem.hands[p].core_charge for p in filling.sent_back)
        totals["parts"] += self._hands_cost(filling.here, filling.sent_back) + came_back
        totals["core_charges"] -= came_back
        totals["labour"], totals["comebacks"] = filling.labour, filling.comebacks
        totals["waiting"] = days * self.problem.shop.day_cost
        return totals

    def _offer(self, supplier: str, number: str) -> Offer:
        return next(o for o in self.known if (o.supplier, o.number) == (supplier, number))

    def orders(self, lines: tuple[Line, ...]) -> list[tuple[str, str, int, int]]:
        """Each order: supplier, mode, freight and the days of its slowest line."""
        orders = []
        for supplier, mode in sorted({(line[0], line[2]) for line in lines}):
            terms = self.problem.suppliers[supplier]
            m = next(m for m, terms_of_mode in enumerate(terms.modes) if terms_of_mode.mode == mode)
            order = [(self._offer(s, n), q) for s, n, way, q in lines if (s, way) == (supplier, mode)]
            subtotal = sum(o.line(q, terms.incremental)[0] for o, q in order)
            days = max(o.lead_days for o, _ in order) + terms.modes[m].days
            orders.append((supplier, mode, self.freight(terms, m, subtotal, order), days))
        return orders

    def _returned(
        self, pieces: tuple[tuple[int, int], ...], cores: tuple[tuple[str, str], ...]
    ) -> tuple[int, int, tuple[Return, ...]]:
        """The returns that earn most, of equal ones the fewest, then the first: credit, cost, returns."""
        ways = [[None, *(i for i, _ in pieces if d in self.known[i].accepts)] for _, d in cores]
        best: tuple[int, int, tuple[Return, ...], int, int] | None = None
        for way in product(*ways):
            if any(way.count(i) > quantity for i, quantity in pieces):
                continue
            taken = [(d, self.known[i]) for (_, d), i in zip(cores, way, strict=True) if i is not None]
            credit = sum(offer.core_credit for _, offer in taken)
            suppliers = {offer.supplier for _, offer in taken}
            cost = sum(self.problem.suppliers[s].core_return_cost for s in suppliers)
            returns = tuple(sorted((d, offer.supplier, offer.number) for d, offer in taken))
            candidate = (cost - credit, len(returns), returns, credit, cost)
            best = candidate if best is None else min(best, candidate)
        assert best is not None
        return best[3], best[4], best[2]

    # The answer's form

    def answer(self, plan: Found | None) -> dict[str, Any]:
        """A plan in the form that the contract prints."""
        if plan is None:
            return {"status": "impossible"}
        combination = dict(zip(self.codes, plan.filling.combination, strict=True))
        tasks = tasks_done(self.problem, combination, self.world, plan.filling.bought | set(plan.filling.here))
        hands = list(self.problem.hands.values())
        return {
            "status": "proven",
            "combination": combination,
            "kept": list(plan.filling.kept),
            **({"in_hand": [self._in_hand(hand, plan.filling) for hand in hands]} if hands else {}),
            "purchases": [self._purchase(line) for line in plan.lines],
            "freight": [
                {
                    "supplier": supplier,
                    "mode": mode,
                    "cost": as_text(cost),
                    "arrives": self.problem.arrival(days).isoformat(),
                }
                for supplier, mode, cost, days in self.orders(plan.lines)
            ],
            "core_returns": [
                {
                    "design": design,
                    "supplier": supplier,
                    "part_number": number,
                    "credit": as_text(self._offer(supplier, number).core_credit),
                }
                for design, supplier, number in plan.returns
            ],
            "tasks": [{"code": t.code, "hours": str(t.hours), "cost": as_text(t.labour_cents)} for t in tasks],
            "totals": {name: as_text(plan.totals[name]) for name in TOTALS},
        }

    def _in_hand(self, hand: Hand, filling: Filling) -> dict[str, Any]:
        """What becomes of a part in hand."""
        told: dict[str, Any] = {"position": hand.position, "design": hand.design}
        if hand.position in filling.here:
            return {**told, "becomes": "fills", "cost": as_text(hand.used)}
        if hand.position in filling.sent_back:
            assert hand.back is not None
            return {**told, "becomes": "sent back", "cost": as_text(hand.back + hand.core_charge)}
        return {**told, "becomes": hand.unused_word, "cost": as_text(hand.unused)}

    def _purchase(self, line: Line) -> dict[str, Any]:
        supplier, number, mode, quantity = line
        offer, terms = self._offer(supplier, number), self.problem.suppliers[supplier]
        total = offer.line(quantity, terms.incremental)[1]
        purchase: dict[str, Any] = {
            "supplier": supplier,
            "mode": mode,
            "part_number": number,
            "fills": list(offer.fills),
            "quantity": quantity,
            "unit_price": as_text(round_half_up(Fraction(total, quantity))),
            "core_charge": as_text(offer.core_charge),
        }
        if terms.incremental:
            purchase["line_total"] = as_text(total)
        return purchase


TOTALS = [
    *("parts", "core_charges", "core_credit", "freight", "core_return", "labour", "comebacks", "waiting"),
    *("shelf", "cash", "landed", "whole"),
]


def best(catalogs: Path, job: Path) -> dict[str, Any]:
    """The answer to one job: status, era, combination, kept, purchases, freight, core_returns, tasks, totals.

    `era` is the era's code, or the list of codes where the unit's date leaves more than one.
    """
    problem = read_problem(catalogs, job)
    answers: list[dict[str, Any]] = []
    for world in problem.job.worlds:
        buyer = Buyer(problem, world)
        answers.append(buyer.answer(buyer.best()))
    eras = list(dict.fromkeys(world.era for world in problem.job.worlds))
    head = {"job": problem.job.number, "era": eras[0] if len(eras) == 1 else eras}
    if all(answer == answers[0] for answer in answers):
        return {**head, **answers[0]}
    return {**head, "status": "open"}


def costs(catalogs: Path, job: Path) -> list[int | None]:
    """The least cost in cents in each world that the job leaves possible; None where there is no plan."""
    problem = read_problem(catalogs, job)
    plans = [Buyer(problem, world).best() for world in problem.job.worlds]
    return [None if plan is None else plan.key[0] for plan in plans]


if __name__ == "__main__":
    print(json.dumps(best(Path(sys.argv[1]), Path(sys.argv[2])), indent=1))
