"""The least cost of several jobs bought together with scipy.optimize.milp: one matrix, job after job.

A job's own rows are those of a single job (`scipy_milp`); the rest is sums over all of them. Nothing of the buyer that tries
everything and nothing of the constraint program is used.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import inf
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from .money import times
from .reading import FreightMode, Offer, Problem, Supplier, read_problem
from .scipy_milp import Matrix, Row, plus, scaled, total

SECONDS = 120
Key = tuple[str, str]


def cost(catalogs: Path, jobs: Sequence[Path]) -> int | None:
    """The least cost in cents; None where the jobs cannot be met together. Raises TimeoutError."""
    return Joined([read_problem(catalogs, path) for path in jobs]).least()


class Joined:
    """All jobs as one mixed-integer program; amounts in cents.

    Symbols: f_jdi job j fills design d from number i, l_im pieces of i by mode m, a_jdim a fill drawn from a line,
    c_jim a line carried by a job.
    """

    def __init__(self, problems: list[Problem]) -> None:
        self.jobs = [Matrix(problem, problem.job.worlds[0]) for problem in problems]
        head = self.jobs[0]
        for job in self.jobs:  # one matrix for all
            job.price, job.upper, job.rows = head.price, head.upper, head.rows
        self.head, self.suppliers = head, problems[0].suppliers
        self.families = [problem.family.code for problem in problems]
        self.minimise = problems[0].job.minimise
        self.wanted: dict[tuple[str, str], tuple[int, int]] = {}
        self.sheets: dict[Key, Offer] = {}
        self.known: dict[Key, dict[str, Offer]] = defaultdict(dict)
        self.index: list[dict[Key, int]] = []
        for job, family in zip(self.jobs, self.families, strict=True):
            self.index.append({(o.supplier, o.number): i for i, o in enumerate(job.offers)})
            self.wanted |= {(family, d): w for d, w in job.wanted.items()}
            for offer in job.problem.offers:
                self.sheets[offer.supplier, offer.number] = offer
                self.known[offer.supplier, offer.number][family] = offer
        self.pieces: dict[Key, Row] = {}

    def least(self) -> int | None:
        """Build the matrix, solve it, say what it costs."""
        whole = self.minimise == "whole"
        for job in self.jobs:
            job._stand()
            job._have()
            for rule in job.family.rules:
                job._obey(rule)
            job._fill()
            for task in job.family.tasks if whole else ():
                job._work(task)
        day = self.jobs[0].problem.shop.day_cost if whole else 0
        self.waits = [self.head.column(day, 1000) for _ in self.jobs]
        self.has = [{s: self.head.column(0) for s in self.suppliers} for _ in self.jobs]
        for job, has in zip(self.jobs, self.has, strict=True):
            if job.job.limits.max_suppliers is not None:
                self.head.require(total(has.values()), 0, job.job.limits.max_suppliers)
        for supplier in self.suppliers.values():
            self._buy_from(supplier)
        self._limit_what_is_further()
        if self.minimise != "cash":
            self._give_back()
        if whole:
            self._shelve()
        return self._solve()

    def _solve(self) -> int | None:
        head = self.head
        if any(not row and low > 0 for row, low, _ in head.rows):
            return None
        entries = [(r, c, v) for r, (row, _, _) in enumerate(head.rows) for c, v in row.items()]
        r, c, v = zip(*entries, strict=True)
        matrix = csr_array((v, (r, c)), shape=(len(head.rows), len(head.price)))
        lows, highs = [low for _, low, _ in head.rows], [high for _, _, high in head.rows]
        result = milp(
            np.array(head.price),
            integrality=np.ones(len(head.price)),
            bounds=Bounds(np.zeros(len(head.price)), np.array(head.upper)),
            constraints=LinearConstraint(matrix, np.array(lows), np.array(highs)),
            options={"mip_rel_gap": 0, "time_limit": SECONDS},
        )
        if result.status == 2:
            return None
        if result.status != 0:
            raise TimeoutError(result.message)
        return round(float(result.fun)) + sum(job.sunk for job in self.jobs)

    # What is bought

    def _fills(self, key: Key, family: str, design: str) -> Row:
        """sum_j f_jdi over the jobs of a family."""
        columns = []
        for job, code, index in zip(self.jobs, self.families, self.index, strict=True):
            if code == family and key in index and (design, index[key]) in job.fill:
                columns.append(job.fill[design, index[key]])
        return total(columns)

    def _reach(self, key: Key) -> tuple[int, int]:
        """The most pieces of a number that can be needed, and the most that may go beyond."""
        needed = sum(
            any((d, index[key]) in job.fill for d in set(job.offers[index[key]].fills))
            for job, index in zip(self.jobs, self.index, strict=True)
            if key in index
        )
        beyond = [
            min(self.wanted[family, d][0] for d in row.fills)
            for family, row in self.known[key].items()
            if all((family, d) in self.wanted for d in row.fills)
        ]
        return needed, max(beyond, default=0)

    def _serving(self, key: Key) -> Row:
        """Pieces that serve: for each family n_f = max_d ceil(fills_d / held_d), then n = sum n_f raised to minimum and
        pack by picking the one n that it is."""
        needed, _ = self._reach(key)
        sheet, sums = self.sheets[key], Row()
        for family, row in self.known[key].items():
            sums = plus(sums, self._for_family(key, family, row, needed))
        picks = [self.head.column(0) for _ in range(needed + 1)]
        self.head.require(total(picks), 1, 1)
        self.head.require(plus({c: n for n, c in enumerate(picks)}, scaled(sums, -1)), 0, 0)
        return {c: -(-max(n, sheet.minimum) // sheet.pack) * sheet.pack for n, c in enumerate(picks) if n}

    def _for_family(self, key: Key, family: str, row: Offer, most: int) -> Row:
        """n with held_d n >= fills_d for each d, and held_d (n - 1) + 1 <= fills_d for one d at least."""
        designs = sorted(set(row.fills))
        if len(row.fills) == 1:
            return self._fills(key, family, designs[0])
        number = self.head.column(0, most)
        some = self.head.column(0)  # 1 where any is needed
        tight = []
        for d in designs:
            held, fills = row.fills.count(d), self._fills(key, family, d)
            self.head.require(plus({number: held}, scaled(fills, -1)), 0, inf)
            tight.append(self.head.column(0))
            slack = held * most + 1
            self.head.require(plus(fills, {number: -held, tight[-1]: -slack}), 1 - held - slack, inf)
        self.head.require(plus(total(tight), {some: -1}), 0, inf)
        self.head.require({number: 1, some: -most}, -inf, 0)
        return {number: 1}

    def _buy_from(self, supplier: Supplier) -> None:
        """All orders of a supplier, and the balance of each of its numbers over them."""
        keys = [key for key in sorted(self.sheets) if key[0] == supplier.code]
        lines: dict[Key, Row] = {key: Row() for key in keys}
        drawn: dict[tuple[int, str, Key], list[int]] = defaultdict(list)
        for mode in supplier.modes:
            self._order(supplier, mode, keys, lines, drawn)
        for (n, design, key), draws in drawn.items():
            fill = self.jobs[n].fill[design, self.index[n][key]]
            self.head.require(plus(total(draws), {fill: -1}), 0, 0)
        self.beyond = getattr(self, "beyond", {})
        for key in keys:
            for n, index in enumerate(self.index):  # a fill that no line could bring in time
                for design in set(self.jobs[n].offers[index[key]].fills) if key in index else ():
                    fill_or_none = self.jobs[n].fill.get((design, index[key]))
                    if fill_or_none is not None and (n, design, key) not in drawn:
                        self.head.upper[fill_or_none] = 0
            _, most = self._reach(key)
            more = self.beyond[key] = self.head.column(0, most)
            self.head.require(plus(lines[key], scaled(self._serving(key), -1), {more: -1}), 0, 0)
            stock = self.sheets[key].stock
            if stock is not None:
                self.head.require(plus(lines[key], {more: 0}), 0, stock)
            self.pieces[key] = lines[key]

    def _order(
        self,
        supplier: Supplier,
        mode: FreightMode,
        keys: list[Key],
        lines: dict[Key, Row],
        drawn: dict[tuple[int, str, Key], list[int]],
    ) -> None:
        """freight >= flat o + sum carry - M w,  subtotal >= free_over w,  subtotal >= order_minimum o"""
        sent, subtotal, carry = self.head.column(supplier.order_fee), Row(), Row()
        heaviest = float(mode.flat)
        for key in keys:
            sheet, (needed, beyond) = self.sheets[key], self._reach(key)
            top = -(-max(needed, sheet.minimum) // sheet.pack) * sheet.pack + beyond
            picks, size = [], Row()
            for q in range(sheet.pack, (top if sheet.stock is None else min(top, sheet.stock)) + 1, sheet.pack):
                if q < sheet.minimum:
                    continue
                own, shop = sheet.line(q, supplier.incremental)
                pick = self.head.column(shop + q * sheet.core_charge)
                picks.append(pick)
                size[pick], subtotal[pick], carry[pick] = q, own, q * times(mode.per_kg, sheet.weight_kg)
            if not picks:
                continue
            heaviest += max(carry[pick] for pick in picks)
            self.head.require(plus({sent: 1}, total(picks, -1)), 0, inf)
            lines[key] = plus(lines[key], size)
            self._share_out(key, sheet.lead_days + mode.days, picks, size, drawn)
        self.head.require(plus({sent: -supplier.order_minimum}, subtotal), 0, inf)
        freight, waived = self.head.column(1, inf), self.head.column(0)
        self.head.require(plus({freight: 1, sent: -mode.flat, waived: heaviest}, scaled(carry, -1)), 0, inf)
        if mode.free_over is None:
            self.head.upper[waived] = 0
        else:
            self.head.require(plus({waived: -mode.free_over}, subtotal), 0, inf)
        self.head.require(plus({sent: 1}, total(subtotal, -1)), -inf, 0)

    def _share_out(
        self, key: Key, days: int, picks: list[int], size: Row, drawn: dict[tuple[int, str, Key], list[int]]
    ) -> None:
        """sum_j a_jd <= held_d n_f, sum_f n_f <= l, sum a + sum c >= [l > 0]; days and suppliers for who takes any."""
        by_design: dict[tuple[str, str], list[int]] = defaultdict(list)
        takers = []
        for n, (job, index) in enumerate(zip(self.jobs, self.index, strict=True)):
            if key not in index or not job.problem.in_time(days):
                continue
            takes = [self.head.column(0)]  # carried
            for design in sorted(set(job.offers[index[key]].fills)):
                if (design, index[key]) in job.fill:
                    takes.append(self.head.column(0))
                    by_design[self.families[n], design].append(takes[-1])
                    drawn[n, design, key].append(takes[-1])
            for take in takes:
                self.head.require({self.waits[n]: 1, take: -days}, 0, inf)
                self.head.require({self.has[n][key[0]]: 1, take: -1}, 0, inf)
            takers += takes
        self.head.require(plus(total(takers), total(picks, -1)), 0, inf)
        parted = Row()
        for family, row in self.known[key].items():
            pieces = self.head.column(0, inf)
            parted[pieces] = 1
            for design in set(row.fills):
                taken = total(by_design[family, design])
                self.head.require(plus({pieces: row.fills.count(design)}, scaled(taken, -1)), 0, inf)
        self.head.require(plus(size, scaled(parted, -1)), 0, inf)

    def _limit_what_is_further(self) -> None:
        """sum_i held_id more_i <= pieces_d"""
        for (family, design), (pieces, _) in self.wanted.items():
            row = {more: self.known[key][family].fills.count(design)
                   for key, more in self.beyond.items() if family in self.known[key]}  # fmt: skip
            row = {more: held for more, held in row.items() if held}
            if row:
                self.head.require(row, 0, pieces)

    # What comes back

    def _give_back(self) -> None:
        """sum_i r_ci + keep_c <= 1 for each core c, sum_c r_ci <= pieces of i, g_s >= r_ci."""
        returned = {s: self.head.column(terms.core_return_cost) for s, terms in self.suppliers.items()}
        against: dict[tuple[Key, int, str], list[int]] = defaultdict(list)
        rooms: dict[tuple[Key, int, str], dict[str, Offer]] = {(key, -1, ""): rows for key, rows in self.known.items()}
        for n, job in enumerate(self.jobs):
            kits = set()
            for p, hand in job.problem.hands.items():
                if hand.offer is None:
                    continue
                key = (hand.offer.supplier, hand.offer.number)
                if not (hand.kit and key in kits):
                    rooms[key, n, p] = {self.families[n]: hand.offer} | dict(self.known.get(key, {}))
                kits.add(key)
        for n, job in enumerate(self.jobs):
            for position, design in job.problem.cores().items():
                mine = []
                for room, rows in rooms.items():
                    row = rows.get(self.families[n])
                    if row is not None and design in row.accepts:
                        mine.append(self.head.column(-row.core_credit))
                        against[room].append(mine[-1])
                        self.head.require({returned[row.supplier]: 1, mine[-1]: -1}, 0, inf)
                kept = [job.keep[position]] if position in job.keep else []
                if mine:
                    self.head.require(total([*mine, *kept]), 0, 1)
        for (key, n, p), returns in against.items():
            if n < 0:
                self.head.require(plus(self.pieces[key], total(returns, -1)), 0, inf)
            else:
                self.head.require(plus({self.jobs[n].back[p]: 1}, total(returns)), 0, 1)

    def _shelve(self) -> None:
        """h_d <= sum_i held_id l_i - sum_j f_jd + what is left of the parts in hand, h_d <= pieces_d."""
        for (family, design), (pieces, worth) in self.wanted.items():
            spare = self.head.column(-worth, pieces)
            row: Row = {spare: -1}
            here = 0
            for key, rows in self.known.items():
                if family in rows:
                    row = plus(row, scaled(self.pieces[key], rows[family].fills.count(design)))
            for job, code in zip(self.jobs, self.families, strict=True):
                if code != family:
                    continue
                row = plus(row, total((c for (d, _), c in job.fill.items() if d == design), -1))
                for p, hand in job.problem.hands.items():
                    if hand.stocks and hand.design == design:
                        here += 1
                        row = plus(row, {job.here[p]: -1, job.back[p]: -1})
            self.head.require(row, -here, inf)
