"""The least cost of several jobs bought together with OR-Tools CP-SAT, job by job, without classes of alike jobs.

Each job is the program of a single job (`cpsat`) as far as positions, rules, parts in hand and tasks go; this module joins
them where they buy. Nothing of the buyer that tries everything is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ortools.sat.python import cp_model

from .cpsat import Expression, Program
from .money import times
from .reading import Offer, Problem, read_problem

Number = tuple[str, str]
"""Supplier and part number."""
SECONDS = 120


def cost(catalogs: Path, jobs: Sequence[Path]) -> int | None:
    """The least cost in cents; None where the jobs cannot be met together."""
    return Together([read_problem(catalogs, path) for path in jobs]).least()


class One(Program):
    """One job of the pool; its fills are drawn from lines that the pool buys."""

    def __init__(self, problem: Problem, model: cp_model.CpModel, terms: list[Expression]) -> None:
        super().__init__(problem, problem.job.worlds[0])
        self.model, self.terms = model, terms
        self.keys = [(offer.supplier, offer.number) for offer in self.offers]

    def hold(self) -> bool:
        """Everything that is this job's own affair; False where it cannot be."""
        if not self._hold_a_design_everywhere():
            return False
        for rule in self.problem.family.rules:
            self._forbid(rule)
        self._take_what_is_here()
        self._fill_every_position()
        if self.problem.job.minimise == "whole":
            for task in self.problem.family.tasks:
                self._do(task)
        return True

    def from_part(self, key: Number) -> dict[str, cp_model.IntVar]:
        """By design: whether this job fills with it from that number."""
        if key not in self.keys:
            return {}
        at = self.keys.index(key)
        return {design: way for (design, i), way in self.fill.items() if i == at}


class Together:
    """All jobs as one constraint program; amounts in cents."""

    def __init__(self, problems: list[Problem]) -> None:
        self.model = cp_model.CpModel()
        self.terms: list[Expression] = []
        self.jobs = [One(problem, self.model, self.terms) for problem in problems]
        self.suppliers, self.shop = problems[0].suppliers, problems[0].shop
        self.minimise = problems[0].job.minimise
        self.rows: dict[Number, dict[str, Offer]] = {}
        for job in self.jobs:
            for offer in job.problem.offers:
                self.rows.setdefault((offer.supplier, offer.number), {})[job.problem.family.code] = offer
        self.wanted = {(job.problem.family.code, d): w for job in self.jobs for d, w in job.problem.wanted().items()}
        self.count: dict[Number, cp_model.IntVar] = {}
        self.lines: dict[tuple[Number, str], cp_model.IntVar] = {}
        self.takes: list[dict[tuple[Number, str], list[cp_model.IntVar]]] = [{} for _ in self.jobs]

    def least(self) -> int | None:
        """Build the program, solve it, say what it costs."""
        if not all(job.hold() for job in self.jobs):
            return None
        further: dict[tuple[str, str], list[Expression]] = {wish: [0] for wish in self.wanted}
        for key in self.rows:
            self._buy(key, further)
            self._draw(key)
        for wish, (pieces, _) in self.wanted.items():
            self.model.add(sum(further[wish]) <= pieces)
        self._order()
        for n in range(len(self.jobs)):
            self._bear(n)
        if self.minimise != "cash":
            self._return_cores()
        if self.minimise == "whole":
            self._stock_the_shelf()
        self.model.minimize(sum(self.terms))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = SECONDS
        status = solver.solve(self.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise TimeoutError(solver.status_name(status))
        return round(solver.objective_value)

    def _sheet(self, key: Number) -> Offer:
        return next(iter(self.rows[key].values()))

    def _most_needed(self, key: Number) -> int:
        """No job takes more than one piece of a design."""
        return sum(bool(job.from_part(key)) for job in self.jobs)

    def _most_further(self, key: Number) -> int:
        """Pieces beyond need of a part whose every design is wanted."""
        for family, row in self.rows[key].items():
            if all((family, d) in self.wanted for d in row.fills):
                return max(self.wanted[family, d][0] for d in row.fills)
        return 0

    def _top(self, key: Number) -> int:
        """The most pieces that can come to be bought."""
        sheet = self._sheet(key)
        raised = -(-max(self._most_needed(key), sheet.minimum) // sheet.pack) * sheet.pack
        top = raised + self._most_further(key)
        return top if sheet.stock is None else min(top, sheet.stock)

    def _buy(self, key: Number, further: dict[tuple[str, str], list[Expression]]) -> None:
        """Exactly the smallest quantity that serves all jobs together, and what is wanted beyond it."""
        sheet, most = self._sheet(key), self._most_needed(key)
        needs = []
        for family, row in self.rows[key].items():
            by_design = []
            for d in sorted(set(row.fills)):
                filled = sum(
                    way for job in self.jobs if job.problem.family.code == family
                    for design, way in job.from_part(key).items() if design == d
                )  # fmt: skip
                pieces = self.model.new_int_var(0, most, f"{key} as {d}")
                per = row.fills.count(d)
                self.model.add_division_equality(pieces, filled + per - 1, per)
                by_design.append(pieces)
            needs.append(self.model.new_int_var(0, most, f"{key} for {family}"))
            self.model.add_max_equality(needs[-1], by_design)
        needed = self.model.new_int_var(0, most, f"{key} needed")
        self.model.add(needed == sum(needs))
        served = [0] + [-(-max(n, sheet.minimum) // sheet.pack) * sheet.pack for n in range(1, most + 1)]
        serves = self.model.new_int_var(0, max(served), f"{key} serves")
        self.model.add_element(needed, served, serves)
        more = self.model.new_int_var(0, self._most_further(key), f"{key} more")
        for family, row in self.rows[key].items():
            for d in row.fills:
                if (family, d) in self.wanted:
                    further[family, d].append(more)
        self.count[key] = self.model.new_int_var(0, self._top(key), f"{key} count")
        self.model.add(self.count[key] == serves + more)

    def _draw(self, key: Number) -> None:
        """Lines by mode; each fill is drawn from one of them, and a line that nobody draws from is carried by a job."""
        sheet, supplier = self._sheet(key), self.suppliers[key[0]]
        sizes = [0] + [q for q in range(1, self._top(key) + 1) if q >= sheet.minimum and q % sheet.pack == 0]
        for mode in supplier.modes:
            domain = cp_model.Domain.from_values(sizes)
            self.lines[key, mode.mode] = self.model.new_int_var_from_domain(domain, f"{key} by {mode.mode}")
        self.model.add(sum(self.lines[key, mode.mode] for mode in supplier.modes) == self.count[key])
        drawn: dict[tuple[str, str, str], list[cp_model.IntVar]] = {}
        for n, job in enumerate(self.jobs):
            for design, way in job.from_part(key).items():
                draws = []
                for mode in supplier.modes:
                    if job.problem.in_time(sheet.lead_days + mode.days):
                        draws.append(self.model.new_bool_var(f"{n} {design} {key} {mode.mode}"))
                        drawn.setdefault((mode.mode, job.problem.family.code, design), []).append(draws[-1])
                        self.takes[n].setdefault((key, mode.mode), []).append(draws[-1])
                self.model.add(sum(draws) == way)
        for mode in supplier.modes:
            line = self.lines[key, mode.mode]
            self._fit(key, mode.mode, drawn)
            bears = [draw for (m, _, _), draws in drawn.items() if m == mode.mode for draw in draws]
            for n, job in enumerate(self.jobs):
                if key in job.keys and job.problem.in_time(sheet.lead_days + mode.days):
                    bears.append(self.model.new_bool_var(f"{n} carries {key} {mode.mode}"))
                    self.takes[n].setdefault((key, mode.mode), []).append(bears[-1])
            there = self.model.new_bool_var(f"{key} {mode.mode} there")
            self.model.add(line >= 1).only_enforce_if(there)
            self.model.add(line == 0).only_enforce_if(there.negated())
            self.model.add_bool_or([*bears, there.negated()])

    def _fit(self, key: Number, mode: str, drawn: dict[tuple[str, str, str], list[cp_model.IntVar]]) -> None:
        """The pieces of a line hold what is drawn from it; families do not share a piece."""
        pieces = []
        for family, row in self.rows[key].items():
            pieces.append(self.model.new_int_var(0, self._top(key), f"{key} {mode} {family}"))
            for d in set(row.fills):
                self.model.add(sum(drawn.get((mode, family, d), [])) <= row.fills.count(d) * pieces[-1])
        self.model.add(sum(pieces) <= self.lines[key, mode])

    def _order(self) -> None:
        """Prices, minimums and freight of each order."""
        for code, supplier in self.suppliers.items():
            keys = [key for key in self.rows if key[0] == code]
            for mode in supplier.modes:
                lines = [(key, self.lines[key, mode.mode]) for key in keys]
                sent = self.model.new_bool_var(f"{code} {mode.mode} sent")
                own: list[Expression] = [0]
                freight: list[Expression] = [mode.flat]
                for key, line in lines:
                    self.model.add(line == 0).only_enforce_if(sent.negated())
                    self.terms.append(self._total(key, line, 1) + line * self._sheet(key).core_charge)
                    own.append(self._total(key, line, 0))
                    freight.append(line * times(mode.per_kg, self._sheet(key).weight_kg))
                self.model.add(sum(own) >= supplier.order_minimum).only_enforce_if(sent)
                paid = self.model.new_int_var(0, 10**9, f"{code} {mode.mode} freight")
                free = self.model.new_bool_var(f"{code} {mode.mode} free")
                self.model.add(paid >= sum(freight)).only_enforce_if([sent, free.negated()])
                if mode.free_over is None:
                    self.model.add(free == 0)
                else:
                    self.model.add(sum(own) >= mode.free_over).only_enforce_if(free)
                self.terms += [paid, sent * supplier.order_fee]

    def _total(self, key: Number, line: cp_model.IntVar, coin: int) -> cp_model.IntVar:
        """A line's total in the supplier's (0) or the shop's (1) cents, looked up."""
        sheet, incremental = self._sheet(key), self.suppliers[key[0]].incremental
        table = [0] + [sheet.line(q, incremental)[coin] for q in range(1, self._top(key) + 1)]
        total = self.model.new_int_var(0, max(table), f"{line.name} in {coin}")
        self.model.add_element(line, table, total)
        return total

    def _bear(self, n: int) -> None:
        """A job waits for the last line that it draws from or carries, and has few suppliers where it says so."""
        problem = self.jobs[n].problem
        if self.minimise == "whole" and self.shop.day_cost:
            wait = self.model.new_int_var(0, 1000, f"{n} waits")
            for (key, name), takes in self.takes[n].items():
                mode = next(m for m in self.suppliers[key[0]].modes if m.mode == name)
                for take in takes:
                    self.model.add(wait >= take * (self._sheet(key).lead_days + mode.days))
            self.terms.append(wait * self.shop.day_cost)
        if problem.job.limits.max_suppliers is not None:
            used = {code: self.model.new_bool_var(f"{n} has {code}") for code in self.suppliers}
            for (key, _), takes in self.takes[n].items():
                for take in takes:
                    self.model.add_implication(take, used[key[0]])
            self.model.add(sum(used.values()) <= problem.job.limits.max_suppliers)

    def _return_cores(self) -> None:
        """Each core of each job goes back at most once, against one bought piece or one in hand."""
        room: list[tuple[Number, Expression, dict[str, Offer]]] = [
            (key, self.count[key], rows) for key, rows in self.rows.items()
        ]
        for job in self.jobs:
            for offer, gone in job._pieces_in_hand():
                key = (offer.supplier, offer.number)
                room.append((key, 1 - gone, {job.problem.family.code: offer, **self.rows.get(key, {})}))
        back = {code: self.model.new_bool_var(f"cores to {code}") for code in self.suppliers}
        to: list[list[cp_model.IntVar]] = [[] for _ in room]
        for n, job in enumerate(self.jobs):
            family = job.problem.family.code
            for position, design in job.problem.cores().items():
                returns = []
                for r, (key, _, rows) in enumerate(room):
                    if family in rows and design in rows[family].accepts:
                        returns.append(self.model.new_bool_var(f"{n} {position} to {r}"))
                        to[r].append(returns[-1])
                        self.model.add_implication(returns[-1], back[key[0]])
                        self.terms.append(returns[-1] * -rows[family].core_credit)
                kept = [job.keep[position]] if position in job.keep else []
                self.model.add_at_most_one([*returns, *kept])
        for r, (_, space, _) in enumerate(room):
            self.model.add(sum(to[r]) <= space)
        self.terms += [on * self.suppliers[code].core_return_cost for code, on in back.items()]

    def _stock_the_shelf(self) -> None:
        """Pieces that no position of any job uses are worth something, up to as many as are wanted."""
        for (family, design), (pieces, worth) in self.wanted.items():
            spare: list[Expression] = []
            for key, rows in self.rows.items():
                if family in rows:
                    spare.append(self.count[key] * rows[family].fills.count(design))
            for job in self.jobs:
                if job.problem.family.code == family:
                    spare += [-way for (d, _), way in job.fill.items() if d == design]
                    for p, hand in job.problem.hands.items():
                        if hand.stocks and hand.design == design:
                            spare.append(1 - job.here[p] - job.back[p])
            shelf = self.model.new_int_var(0, pieces, f"shelf {family} {design}")
            self.model.add(shelf <= sum(spare))
            self.terms.append(shelf * -worth)
