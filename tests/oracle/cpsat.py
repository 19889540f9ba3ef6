"""A job's least cost with OR-Tools CP-SAT: tables, elements and implications.

One integer for each position says which design it holds; a rule is a table of what it forbids. A line's
quantity picks its total from a table by place. Only what was read is shared with the brute-force buyer.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from pathlib import Path

from ortools.sat.python import cp_model

from .money import times
from .reading import NONE, Offer, Problem, Rule, Task, When, World, fold, read_problem

Expression = cp_model.LinearExprT


def costs(catalogs: Path, job: Path) -> list[int | None]:
    """The least cost in cents in each world that the job leaves possible; None where there is no plan."""
    problem = read_problem(catalogs, job)
    return [cost(problem, world) for world in problem.job.worlds]


def cost(problem: Problem, world: World) -> int | None:
    """The least cost in cents of what the job minimises; None where there is no plan."""
    return Program(problem, world).least()


class Program:
    """One job in one world as a constraint program; amounts in cents."""

    def __init__(self, problem: Problem, world: World) -> None:
        self.problem, self.world = problem, world
        self.model = cp_model.CpModel()
        self.offers = [o for o in problem.offers if self._may_buy(o)]
        self.terms: list[Expression] = []
        self.holds_design: dict[str, cp_model.IntVar] = {}
        self.values: dict[str, list[str]] = {}
        self.holds: dict[str, cp_model.IntVar] = {}
        self.keep: dict[str, cp_model.IntVar] = {}
        self.fill: dict[tuple[str, int], cp_model.IntVar] = {}
        self.bought: dict[str, cp_model.IntVar] = {}
        self.pieces: list[cp_model.IntVar] = []
        self.sent: dict[tuple[str, str], cp_model.IntVar] = {}
        self.here: dict[str, cp_model.IntVar] = {}
        self.back: dict[str, cp_model.IntVar] = {}

    def least(self) -> int | None:
        """Build the program, solve it, say what it costs."""
        if not self._hold_a_design_everywhere():
            return None
        for rule in self.problem.family.rules:
            self._forbid(rule)
        self._take_what_is_here()
        self._fill_every_position()
        self._buy_what_is_needed()
        self._order()
        if self.problem.job.minimise != "cash":
            self._return_cores()
        if self.problem.job.minimise == "whole":
            for task in self.problem.family.tasks:
                self._do(task)
            self._stock_the_shelf()
        self.model.minimize(sum(self.terms))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        status = solver.solve(self.model)
        if status == cp_model.INFEASIBLE:
            return None
        assert status == cp_model.OPTIMAL, solver.status_name(status)
        return round(solver.objective_value)

    def _may_buy(self, offer: Offer) -> bool:
        limits = self.problem.job.limits
        return not (
            (limits.conditions is not None and offer.condition not in limits.conditions)
            or (limits.suppliers is not None and offer.supplier not in limits.suppliers)
            or offer.supplier in limits.avoid
            or offer.warranty_months < limits.min_warranty
            or (offer.supplier, fold(offer.number)) in limits.unavailable
        )

    def _hold_a_design_everywhere(self) -> bool:
        """Each position holds one of its values; False where one has none or a required design cannot be."""
        family, limits = self.problem.family, self.problem.job.limits
        for p in family.positions:
            here = [d.code for d in family.designs_of(p.code) if self.world.era in d.eras]
            self.values[p.code] = [d for d in here if d not in limits.exclude] + [NONE] * p.optional
            if not self.values[p.code]:
                return False
            self.holds[p.code] = self.model.new_int_var(0, len(self.values[p.code]) - 1, p.code)
            for n, value in enumerate(self.values[p.code]):
                is_it = self.model.new_bool_var(f"{p.code} is {value}")
                self.model.add(self.holds[p.code] == n).only_enforce_if(is_it)
                self.model.add(self.holds[p.code] != n).only_enforce_if(is_it.negated())
                if value != NONE:
                    self.holds_design[value] = is_it
        if not all(design in self.holds_design for design in limits.require):
            return False
        for design in limits.require:
            self.model.add(self.holds_design[design] == 1)
        return True

    def _standing(self, when: When) -> When | None:
        """The part of `when` that hangs on positions; None where a fact or an era already says no."""
        positions = {key: values for key, values in when.items() if key in self.values}
        if any(self.world.value(key) not in when[key] for key in when.keys() - positions.keys()):
            return None
        return positions

    def _tuples(self, positions: list[str], wrong: Callable[[dict[str, str]], bool]) -> list[list[int]]:
        """What the positions may not hold together, as numbers of values."""
        rows = product(*(enumerate(self.values[p]) for p in positions))
        return [
            [n for n, _ in row]
            for row in rows
            if wrong({p: value for p, (_, value) in zip(positions, row, strict=True)})
        ]

    def _forbid(self, rule: Rule) -> None:
        """Forbid each assignment of a rule's positions that breaks it."""
        when = self._standing(rule.when)
        if when is None:
            return
        speaks_of = [*(rule.need or {}), *(rule.never or {}), *(rule.allow_positions or [])]
        positions = list(dict.fromkeys([*when, *speaks_of]))

        def broken(stand: dict[str, str]) -> bool:
            if not all(stand[p] in values for p, values in when.items()):
                return False
            if rule.need:
                return not all(stand[p] in values for p, values in rule.need.items())
            if rule.never:
                return all(stand[p] in values for p, values in rule.never.items())
            columns = rule.allow_positions or []
            return not any(
                all(row[n] == "*" or row[n] == stand[p] for n, p in enumerate(columns)) for row in rule.allow_rows
            )

        forbidden = self._tuples(positions, broken)
        if forbidden:
            self.model.add_forbidden_assignments([self.holds[p] for p in positions], forbidden)

    def _fill_every_position(self) -> None:
        """A design is there because it was kept or because one bought piece is it; comebacks follow."""
        keepable, whole = self.problem.keepable(), self.problem.job.minimise == "whole"
        for p in self.problem.family.positions:
            self.bought[p.code] = self.model.new_bool_var(f"bought {p.code}")
            bought_ways: list[cp_model.IntVar] = []
            for code in self.values[p.code]:
                if code == NONE:
                    continue
                design, ways = self.problem.family.designs[code], []
                if keepable.get(p.code) == code:
                    self.keep[p.code] = self.model.new_bool_var(f"keep {p.code}")
                    ways.append(self.keep[p.code])
                    if whole:
                        self.terms.append(self.keep[p.code] * times(p.comeback_cost, design.kept_rate))
                for i, offer in enumerate(self.offers):
                    if code not in offer.fills or offer.condition not in p.conditions:
                        continue
                    way = self.fill[code, i] = self.model.new_bool_var(f"{code} from {i}")
                    ways.append(way)
                    bought_ways.append(way)
                    rate = offer.comeback_rate if offer.comeback_rate is not None else design.comeback_rate
                    if whole:
                        self.terms.append(way * times(p.comeback_cost, rate))
                hand = self.problem.hands.get(p.code)
                if hand is not None and hand.usable and hand.design == code:
                    ways.append(self.here[p.code])
                    bought_ways.append(self.here[p.code])
                    if whole:
                        self.terms.append(self.here[p.code] * times(p.comeback_cost, hand.rate))
                self.model.add(sum(ways) == self.holds_design[code])
            self.model.add(sum(bought_ways) == self.bought[p.code])

    def _take_what_is_here(self) -> None:
        """A part in hand is used, left, or sent back: never two of these at once."""
        for p, hand in self.problem.hands.items():
            self.here[p] = self.model.new_bool_var(f"here {p}")
            self.back[p] = self.model.new_bool_var(f"back {p}")
            self.model.add_at_most_one([self.here[p], self.back[p]])
            if not hand.usable or hand.design not in self.holds_design:
                self.model.add(self.here[p] == 0)
            if hand.back is None:
                self.model.add(self.back[p] == 0)
            unused = (1 - self.here[p] - self.back[p]) * hand.unused
            self.terms += [self.here[p] * hand.used, unused, self.back[p] * (hand.back or 0)]

    def _buy_what_is_needed(self) -> None:
        """Each offer's pieces: the smallest quantity where it fills anything, and the further ones wanted."""
        wanted = self.problem.wanted()
        further: dict[str, list[Expression]] = {design: [] for design in wanted}
        for i, offer in enumerate(self.offers):
            fills = [way for (_, n), way in self.fill.items() if n == i]
            used = self.model.new_bool_var(f"use {i}")
            self.model.add_max_equality(used, fills) if fills else self.model.add(used == 0)
            most = max((pieces for pieces, _ in wanted.values()), default=0)
            more = self.model.new_int_var(0, most if set(offer.fills) <= set(wanted) else 0, f"more {i}")
            for design in set(offer.fills) & set(wanted):
                further[design].append(more * offer.fills.count(design))
            cap = offer.smallest() + most
            count = self.model.new_int_var(0, cap if offer.stock is None else min(cap, offer.stock), f"q {i}")
            self.model.add(count == used * offer.smallest() + more)
            self.pieces.append(count)
        for design, (pieces, _) in wanted.items():
            self.model.add(sum(further[design]) <= pieces)

    def _order(self) -> None:
        """Lines, orders, freight and waiting."""
        lines: dict[tuple[str, str], list[tuple[int, cp_model.IntVar, cp_model.IntVar]]] = {}
        for i, offer in enumerate(self.offers):
            counts = []
            for mode in self.problem.suppliers[offer.supplier].modes:
                count, on = self._line(i, mode.mode, self.problem.in_time(offer.lead_days + mode.days))
                counts.append(count)
                lines.setdefault((offer.supplier, mode.mode), []).append((i, count, on))
            self.model.add(sum(counts) == self.pieces[i])
        wait = self.model.new_int_var(0, 1000, "wait")
        for (supplier, name), group in lines.items():
            mode = next(m for m in self.problem.suppliers[supplier].modes if m.mode == name)
            on = self.sent[supplier, name] = self.model.new_bool_var(f"{supplier} {name}")
            self.model.add_max_equality(on, [line_on for _, _, line_on in group])
            for i, _, line_on in group:
                self.model.add(wait >= self.offers[i].lead_days + mode.days).only_enforce_if(line_on)
            subtotal = sum(self._from_table(i, count, own=True) for i, count, _ in group)
            self.terms += [self._from_table(i, count, own=False) for i, count, _ in group]
            self.terms += [count * self.offers[i].core_charge for i, count, _ in group]
            self.model.add(subtotal >= self.problem.suppliers[supplier].order_minimum).only_enforce_if(on)
            weights = [times(mode.per_kg, self.offers[i].weight_kg) for i, _, _ in group]
            freight = self.model.new_int_var(0, 10**8, f"freight {supplier} {name}")
            full = on * mode.flat + sum(c * w for (_, c, _), w in zip(group, weights, strict=True))
            if mode.free_over is None:
                self.model.add(freight == full)
            else:
                free = self.model.new_bool_var(f"free {supplier} {name}")
                self.model.add(subtotal >= mode.free_over).only_enforce_if(free)
                self.model.add(freight == full).only_enforce_if(free.negated())
                self.model.add(freight == 0).only_enforce_if(free)
            self.terms += [freight, on * self.problem.suppliers[supplier].order_fee]
        if self.problem.job.minimise == "whole":
            self.terms.append(wait * self.problem.shop.day_cost)
        self._use_few_suppliers()

    def _line(self, i: int, mode: str, in_time: bool) -> tuple[cp_model.IntVar, cp_model.IntVar]:
        """A line's pieces and whether it is there."""
        offer = self.offers[i]
        top = self._top(i)
        sizes = [n for n in range(1, top + 1) if n % offer.pack == 0 and n >= offer.minimum and in_time]
        count = self.model.new_int_var_from_domain(cp_model.Domain.from_values([0, *sizes]), f"n {i} {mode}")
        on = self.model.new_bool_var(f"line {i} {mode}")
        self.model.add(count >= 1).only_enforce_if(on)
        self.model.add(count == 0).only_enforce_if(on.negated())
        return count, on

    def _top(self, i: int) -> int:
        """The most pieces that an offer can come to."""
        return self.offers[i].smallest() + max((n for n, _ in self.problem.wanted().values()), default=0)

    def _from_table(self, i: int, count: cp_model.IntVar, own: bool) -> cp_model.IntVar:
        """A line's total, in the supplier's own cents or in the shop's, looked up by its quantity."""
        offer = self.offers[i]
        incremental = self.problem.suppliers[offer.supplier].incremental
        table = [0] + [offer.line(q, incremental)[0 if own else 1] for q in range(1, self._top(i) + 1)]
        total = self.model.new_int_var(0, max(table), f"total {count.name} {own}")
        self.model.add_element(count, table, total)
        return total

    def _use_few_suppliers(self) -> None:
        """At most so many suppliers get an order."""
        limit = self.problem.job.limits.max_suppliers
        if limit is None:
            return
        seen = []
        for supplier in {s for s, _ in self.sent}:
            seen.append(self.model.new_bool_var(f"supplier {supplier}"))
            self.model.add_max_equality(seen[-1], [on for (s, _), on in self.sent.items() if s == supplier])
        self.model.add(sum(seen) <= limit)

    def _return_cores(self) -> None:
        """Each core goes back at most once, against a piece that takes it."""
        returns: dict[tuple[str, int], cp_model.IntVar] = {}
        taking = [*self.offers]
        room: list[Expression] = [*self.pieces]
        for hands in self._pieces_in_hand():  # a piece in hand takes a core unless it goes back
            taking.append(hands[0])
            room.append(1 - hands[1])
        for position, design in self.problem.cores().items():
            for i, offer in enumerate(taking):
                if design in offer.accepts:
                    returns[position, i] = self.model.new_bool_var(f"core {position} to {i}")
                    self.terms.append(returns[position, i] * -offer.core_credit)
            mine = [r for (p, _), r in returns.items() if p == position]
            self.model.add_at_most_one([*mine, *([self.keep[position]] if position in self.keep else [])])
        for supplier, terms in self.problem.suppliers.items():
            to_it = [r for (_, i), r in returns.items() if taking[i].supplier == supplier]
            if to_it:
                any_back = self.model.new_bool_var(f"cores to {supplier}")
                self.model.add_max_equality(any_back, to_it)
                self.terms.append(any_back * terms.core_return_cost)
        for i in range(len(taking)):
            self.model.add(sum(r for (_, n), r in returns.items() if n == i) <= room[i])

    def _pieces_in_hand(self) -> list[tuple[Offer, Expression]]:
        """Each piece in hand that can take a core, and whether it goes back; of a kit only the first position's."""
        found: list[tuple[Offer, Expression]] = []
        kits: set[tuple[str, str]] = set()
        for p, hand in self.problem.hands.items():
            if hand.offer is not None:
                key = (hand.offer.supplier, hand.offer.number)
                if not (hand.kit and key in kits):
                    found.append((hand.offer, self.back[p]))
                kits.add(key)
        return found

    def _do(self, task: Task) -> None:
        """A task is done where its `when` and its `replacing` hold."""
        when = self._standing(task.when)
        if when is None:
            return
        done = self.model.new_bool_var(f"task {task.code}")
        self.terms.append(done * task.labour_cents)
        positions = list(when)
        for numbers in self._tuples(positions, lambda s: all(s[p] in when[p] for p in positions)):
            stands = []
            for p, n in zip(positions, numbers, strict=True):
                stands.append(self.model.new_bool_var(f"{task.code} {p} {n}"))
                self.model.add(self.holds[p] == n).only_enforce_if(stands[-1])
                self.model.add(self.holds[p] != n).only_enforce_if(stands[-1].negated())
            for trigger in [None] if task.replacing is None else task.replacing:
                clause = [s.negated() for s in stands]
                clause += [self.bought[trigger].negated()] if trigger is not None else []
                self.model.add_bool_or([*clause, done])

    def _stock_the_shelf(self) -> None:
        """Wanted pieces that no position uses are worth something, up to as many as are wanted."""
        for design, (pieces, worth) in self.problem.wanted().items():
            spare = self.model.new_int_var(0, pieces, f"shelf {design}")
            held = sum(q * o.fills.count(design) for q, o in zip(self.pieces, self.offers, strict=True))
            used = sum(way for (d, _), way in self.fill.items() if d == design)
            hands = [(p, h) for p, h in self.problem.hands.items() if h.stocks and h.design == design]
            left = sum(1 - self.here[p] - self.back[p] for p, _ in hands)
            self.model.add(spare <= held - used + left)
            self.terms.append(spare * -worth)
