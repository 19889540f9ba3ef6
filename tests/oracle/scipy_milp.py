"""A job's least cost with scipy.optimize.milp: one matrix of sums over variables of nought, one or a few.

Each line is a choice of one of its possible quantities, so that its price is a sum; a rule is an inequality.
Nothing here is shared with the brute-force buyer but what was read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from math import inf
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from .money import times
from .reading import NONE, FreightMode, Offer, Problem, Rule, Supplier, Task, When, World, fold, read_problem

Row = dict[int, float]


def costs(catalogs: Path, job: Path) -> list[int | None]:
    """The least cost in cents in each world that the job leaves possible; None where there is no plan."""
    problem = read_problem(catalogs, job)
    return [cost(problem, world) for world in problem.job.worlds]


def cost(problem: Problem, world: World) -> int | None:
    """The least cost in cents of what the job minimises; None where there is no plan."""
    return Matrix(problem, world).least()


def total(columns: Iterable[int], factor: float = 1) -> Row:
    """A sum of columns."""
    row: Row = defaultdict(float)
    for column in columns:
        row[column] += factor
    return row


def plus(*rows: Row) -> Row:
    """The sum of sums."""
    row: Row = defaultdict(float)
    for part in rows:
        for column, factor in part.items():
            row[column] += factor
    return row


def scaled(row: Row, factor: float) -> Row:
    """A sum times a number."""
    return {column: value * factor for column, value in row.items()}


class Matrix:
    """One job in one world as a mixed-integer program; amounts in cents."""

    def __init__(self, problem: Problem, world: World) -> None:
        self.problem, self.world = problem, world
        self.job, self.family = problem.job, problem.family
        self.price: list[float] = []
        self.upper: list[float] = []
        self.rows: list[tuple[Row, float, float]] = []
        self.stands: dict[tuple[str, str], int] = {}
        self.keep: dict[str, int] = {}
        self.fill: dict[tuple[str, int], int] = {}
        self.quantity: dict[int, Row] = {}
        self.here: dict[str, int] = {}
        self.back: dict[str, int] = {}
        self.sunk = 0
        self.offers = [o for o in problem.offers if self._open(o)]
        self.wanted = problem.wanted()

    def _open(self, offer: Offer) -> bool:
        limits = self.job.limits
        if offer.supplier in limits.avoid or offer.warranty_months < limits.min_warranty:
            return False
        if (offer.supplier, fold(offer.number)) in limits.unavailable:
            return False
        if limits.suppliers is not None and offer.supplier not in limits.suppliers:
            return False
        return limits.conditions is None or offer.condition in limits.conditions

    def column(self, price: float, upper: float = 1) -> int:
        """A new whole variable from nought to `upper`, at so many cents each."""
        self.price.append(price)
        self.upper.append(upper)
        return len(self.price) - 1

    def require(self, row: Row, low: float, high: float) -> None:
        """low <= row <= high"""
        self.rows.append((row, low, high))

    def least(self) -> int | None:
        """Build the matrix, solve it, say what it costs."""
        self._stand()
        self._have()
        for rule in self.family.rules:
            self._obey(rule)
        self._fill()
        self._buy()
        if self.job.minimise != "cash":
            self._give_back()
        if self.job.minimise == "whole":
            for task in self.family.tasks:
                self._work(task)
            self._shelve()
        entries = [(r, c, v) for r, (row, _, _) in enumerate(self.rows) for c, v in row.items()]
        r, c, v = zip(*entries, strict=True)
        matrix = csr_array((v, (r, c)), shape=(len(self.rows), len(self.price)))
        lows, highs = [low for _, low, _ in self.rows], [high for _, _, high in self.rows]
        result = milp(
            np.array(self.price),
            integrality=np.ones(len(self.price)),
            bounds=Bounds(np.zeros(len(self.price)), np.array(self.upper)),
            constraints=LinearConstraint(matrix, np.array(lows), np.array(highs)),
            options={"mip_rel_gap": 0},
        )
        if result.status == 2:
            return None
        assert result.status == 0, result.message
        return round(float(result.fun)) + self.sunk

    def _stand(self) -> None:
        """sum_d x_pd = 1 for each position p over the designs d that may stand there ("none" too)."""
        limits = self.job.limits
        for p in self.family.positions:
            for d in self.family.designs_of(p.code):
                if self.world.era in d.eras and d.code not in limits.exclude:
                    self.stands[p.code, d.code] = self.column(0)
            if p.optional:
                self.stands[p.code, NONE] = self.column(0)
            self.require(total(c for (q, _), c in self.stands.items() if q == p.code), 1, 1)
        for design in limits.require:
            self.require(total(c for (_, d), c in self.stands.items() if d == design), 1, 1)

    def _have(self) -> None:
        """What is here: unused_p + (used_p - unused_p) h_p + (back_p - unused_p) b_p, h_p + b_p <= 1."""
        for p, hand in self.problem.hands.items():
            self.sunk += hand.unused
            may = hand.usable and (p, hand.design) in self.stands
            self.here[p] = self.column(hand.used - hand.unused, 1 if may else 0)
            self.back[p] = self.column((hand.back or 0) - hand.unused, 0 if hand.back is None else 1)
            self.require({self.here[p]: 1, self.back[p]: 1}, 0, 1)

    def _among(self, position: str, designs: list[str]) -> Row:
        """1 where the position holds one of these."""
        return total(c for (p, d), c in self.stands.items() if p == position and d in designs)

    def _silent(self, when: When) -> tuple[Row, int] | None:
        """(row, n): n - row is how many keys of `when` fail; None where a fact or an era fails."""
        positions = {p.code for p in self.family.positions}
        if any(self.world.value(k) not in values for k, values in when.items() if k not in positions):
            return None
        keys = [k for k in when if k in positions]
        return plus(*(self._among(k, when[k]) for k in keys)), len(keys)

    def _obey(self, rule: Rule) -> None:
        """Each rule with its `when` as slack: what it asks need only hold where no key fails."""
        silent = self._silent(rule.when)
        if silent is None:
            return
        row, keys = silent
        for position, designs in (rule.need or {}).items():
            self.require(plus(self._among(position, designs), scaled(row, -1)), 1 - keys, inf)
        if rule.never is not None:
            stands = [self._among(p, designs) for p, designs in rule.never.items()]
            self.require(plus(row, *stands), -inf, keys + len(stands) - 1)
        if rule.allow_positions is not None:
            picked = []
            for cells in rule.allow_rows:
                picked.append(self.column(0))
                for position, cell in zip(rule.allow_positions, cells, strict=True):
                    if cell != "*":
                        self.require(plus(self._among(position, [cell]), total(picked[-1:], -1)), 0, inf)
            self.require(plus(total(picked), scaled(row, -1)), 1 - keys, inf)

    def _fill(self) -> None:
        """keep_p + sum_i f_di = x_pd; a comeback's cost on each."""
        keepable, counts = self.problem.keepable(), self.job.minimise == "whole"
        costs = {p.code: p for p in self.family.positions}
        for (position, code), stands in self.stands.items():
            if code == NONE:
                continue
            p, design, ways = costs[position], self.family.designs[code], []
            if keepable.get(position) == code:
                self.keep[position] = self.column(times(p.comeback_cost, design.kept_rate) * counts)
                ways.append(self.keep[position])
            for i, offer in enumerate(self.offers):
                if code in offer.fills and offer.condition in p.conditions:
                    rate = design.comeback_rate if offer.comeback_rate is None else offer.comeback_rate
                    self.fill[code, i] = self.column(times(p.comeback_cost, rate) * counts)
                    ways.append(self.fill[code, i])
            hand = self.problem.hands.get(position)
            if hand is not None and hand.design == code:
                self.price[self.here[position]] += times(p.comeback_cost, hand.rate) * counts
                ways.append(self.here[position])
            self.require(plus(total(ways), {stands: -1}), 0, 0)

    def _buy(self) -> None:
        """Lines by quantity, orders with their freight, and how long the last piece takes."""
        wait = self.column(self.problem.shop.day_cost if self.job.minimise == "whole" else 0, 1000)
        chosen = {supplier: self.column(0) for supplier in self.problem.suppliers}
        for i in range(len(self.offers)):
            self.quantity[i] = {}
        for supplier, terms in self.problem.suppliers.items():
            for mode in terms.modes:
                self._order(terms, mode, chosen[supplier], wait)
        if self.job.limits.max_suppliers is not None:
            self.require(total(chosen.values()), 0, self.job.limits.max_suppliers)
        further: dict[str, list[Row]] = {design: [] for design in self.wanted}
        for i, offer in enumerate(self.offers):
            self._need(i, offer, further)
        for design, (pieces, _) in self.wanted.items():
            self.require(plus({0: 0}, *further[design]), 0, pieces)

    def _need(self, i: int, offer: Offer, further: dict[str, list[Row]]) -> None:
        """q_i = need_i u_i + more_i, u_i >= f_di, u_i <= sum_d f_di, q_i within stock."""
        used = self.column(0)
        fills = [c for (_, n), c in self.fill.items() if n == i]
        for fill in fills:
            self.require({used: 1, fill: -1}, 0, inf)
        self.require(plus({used: 1}, total(fills, -1)), -inf, 0)
        more = self.column(0, inf if all(d in self.wanted for d in offer.fills) else 0)
        self.upper[more] = min(self.upper[more], self._most(offer))
        self.require(plus(self.quantity[i], {used: -offer.smallest(), more: -1}), 0, 0)
        self.require(plus({used: 0}, self.quantity[i]), 0, inf if offer.stock is None else offer.stock)
        for design in self.wanted:
            further[design].append({more: offer.fills.count(design)})

    def _most(self, offer: Offer) -> int:
        """The most pieces that may ever be bought of an offer."""
        return offer.smallest() + max((pieces for pieces, _ in self.wanted.values()), default=0)

    def _order(self, terms: Supplier, mode: FreightMode, chosen: int, wait: int) -> None:
        """One order: its lines, its minimum, its freight unless waived.

        freight >= flat o + sum carry - M w,  subtotal >= free_over w,  M = the most that it could cost
        """
        sent, weights, subtotal = self.column(terms.order_fee), Row(), Row()
        self.require({chosen: 1, sent: -1}, 0, inf)
        heaviest: float = mode.flat
        for i, offer in enumerate(self.offers):
            days = offer.lead_days + mode.days
            if offer.supplier != terms.code or not self.problem.in_time(days):
                continue
            sizes = range(max(1, offer.minimum), self._most(offer) + 1)
            picks = []
            for q in (q for q in sizes if q % offer.pack == 0):
                own, shop = offer.line(q, terms.incremental)
                pick = self.column(shop + q * offer.core_charge)
                picks.append(pick)
                self.quantity[i][pick] = q
                subtotal[pick] = own
                weights[pick] = q * times(mode.per_kg, offer.weight_kg)
            if picks:
                self.require(plus({sent: 1}, total(picks, -1)), 0, inf)
                self.require(plus({wait: 1}, total(picks, -days)), 0, inf)
                heaviest += max(weights[pick] for pick in picks)
        self.require(plus({sent: -terms.order_minimum}, subtotal), 0, inf)
        freight = self.column(1, inf)
        waived = self.column(0)
        self.require(plus({freight: 1, sent: -mode.flat, waived: heaviest}, scaled(weights, -1)), 0, inf)
        if mode.free_over is None:
            self.upper[waived] = 0
        else:
            self.require(plus({waived: -mode.free_over}, subtotal), 0, inf)
        self.require(plus({sent: 1}, total(subtotal, -1)), -inf, 0)

    def _give_back(self) -> None:
        """sum_i r_ci + keep_c <= 1, sum_c r_ci <= q_i, g_s >= r_ci."""
        against: dict[int, list[int]] = defaultdict(list)
        back = {s: self.column(terms.core_return_cost) for s, terms in self.problem.suppliers.items()}
        extra: list[tuple[Offer, str]] = []
        for p, hand in self.problem.hands.items():
            kits = {(offer.supplier, offer.number) for offer, _ in extra}
            if hand.offer and not (hand.kit and (hand.offer.supplier, hand.offer.number) in kits):
                extra.append((hand.offer, p))
        for position, design in self.problem.cores().items():
            mine = []
            for i, offer in enumerate([*self.offers, *(offer for offer, _ in extra)]):
                if design in offer.accepts:
                    mine.append(self.column(-offer.core_credit))
                    against[i].append(mine[-1])
                    self.require({back[offer.supplier]: 1, mine[-1]: -1}, 0, inf)
            kept = [self.keep[position]] if position in self.keep else []
            self.require(total([*mine, *kept]), -inf, 1)
        for i, returns in against.items():
            if i < len(self.offers):
                self.require(plus(self.quantity[i], total(returns, -1)), 0, inf)
            else:  # one piece in hand, unless it goes back
                self.require(plus({self.back[extra[i - len(self.offers)][1]]: 1}, total(returns)), 0, 1)

    def _work(self, task: Task) -> None:
        """t >= bought_p - (keys of `when` that fail) for each p in `replacing`; t >= 1 - .. without it."""
        silent = self._silent(task.when)
        if silent is None:
            return
        row, keys = silent
        done = self.column(task.labour_cents)
        if task.replacing is None:
            self.require(plus({done: 1}, scaled(row, -1)), 1 - keys, inf)
        for position in task.replacing or []:
            fills = (c for (d, _), c in self.fill.items() if self.family.designs[d].position == position)
            self.require(plus({done: 1}, total(fills, -1), scaled(row, -1)), -keys, inf)
            if position in self.here:
                self.require(plus({done: 1}, {self.here[position]: -1}, scaled(row, -1)), -keys, inf)

    def _shelve(self) -> None:
        """h_d <= sum_i count_id q_i - sum_i f_di, h_d <= pieces_d, worth each."""
        for design, (pieces, worth) in self.wanted.items():
            spare = self.column(-worth, pieces)
            held = [scaled(self.quantity[i], o.fills.count(design)) for i, o in enumerate(self.offers)]
            used = total(c for (d, _), c in self.fill.items() if d == design)
            hands = [p for p, hand in self.problem.hands.items() if hand.stocks and hand.design == design]
            gone = total([*(self.here[p] for p in hands), *(self.back[p] for p in hands)], -1)
            self.require(plus({spare: -1}, *held, scaled(used, -1), gone), -len(hands), inf)
