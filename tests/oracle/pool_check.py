"""What several jobs' common plan says, checked against the files: each sentence that comes back says what is wrong.

The plan is the object that `buy --json` prints. It says which job gets how many pieces of each line, not which position
they fill: where that leaves room, the reading with the fewest complaints counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import Any

from .book import combinations, tasks_done
from .money import as_text, round_half_up, times, to_cents
from .pool import Member, Part, Pool, alone, read_pool, takes
from .reading import NONE, Hand

MOST_READINGS = 20_000


def check(catalogs: Path, jobs: Sequence[Path], told: dict[str, Any], with_alone: bool = True) -> list[str]:
    """Everything that is wrong with a plan; `with_alone`: what the jobs cost one after another is checked too."""
    if told["status"] not in ("proven", "best_found"):
        return ["there are totals without a plan"] if told.get("totals") else []
    checker = Checker(read_pool(catalogs, jobs), told)
    faults = [*checker.faults()]
    if with_alone:
        each = alone(catalogs, jobs).values()
        costs = [cost for cost in each if cost is not None]
        expected = sum(costs) if len(costs) == len(each) else None
        said = told["alone"]
        if (said is None) != (expected is None) or (said is not None and to_cents(said) != expected):
            faults.append(f"alone is {said}, should be {None if expected is None else as_text(expected)}")
    return faults


@dataclass(frozen=True)
class Bought:
    """A line: its place among all parts, its mode, its pieces, and which jobs get how many."""

    part: int
    mode: int
    quantity: int
    jobs: dict[int, int]


@dataclass(frozen=True)
class Reading:
    """Which line fills which position of a job (-1: a part in hand)."""

    fills: dict[str, int]
    comebacks: int


class Checker:
    """One plan for several jobs beside what the files say."""

    def __init__(self, members: Sequence[Member], told: dict[str, Any]) -> None:
        self.members, self.told = list(members), told
        self.pool = Pool(members)
        self.numbers = [m.problem.job.number for m in members]
        self.at = {(p.supplier, p.number): i for i, p in enumerate(self.pool.parts)}
        self.entries: list[dict[str, Any]] = []
        self.lines: list[Bought] = []
        self.here: list[dict[str, str]] = []

    def faults(self) -> Iterator[str]:
        """Everything that is wrong."""
        said = [entry["job"] for entry in self.told["jobs"]]
        if said != self.numbers:
            yield f"the jobs are {said}, not {self.numbers}"
            return
        self.entries = self.told["jobs"]
        found = [*self._combinations(), *self._hands(), *self._lines()]
        yield from found
        if found:
            return  # what follows counts on these
        yield from self._orders()
        yield from self._stocks()
        readings = self._readings()
        if not readings:
            yield "no way to fill the positions from the pieces that each job is said to get"
            return
        yield from min(
            ([*self._served(reading, carried)] for reading in readings for carried in self._carried()), key=len
        )
        yield from self._cores()
        yield from self._sums()

    # Each job by itself

    def _combinations(self) -> Iterator[str]:
        for member, entry in zip(self.members, self.entries, strict=True):
            number, combination = entry["job"], entry["combination"]
            if combination not in list(combinations(member.problem, member.world)):
                yield f"{number}: {combination} is not valid there"
            for position in entry["kept"]:
                if member.problem.keepable().get(position, "nothing") != combination.get(position):
                    yield f"{number}: {position} cannot be kept"

    def _hands(self) -> Iterator[str]:
        """What becomes of each part in hand."""
        for member, entry in zip(self.members, self.entries, strict=True):
            told = {hand["position"]: hand for hand in entry.get("in_hand", [])}
            self.here.append({p: hand["becomes"] for p, hand in told.items()})
            if set(told) != set(member.problem.hands):
                yield f"{entry['job']}: parts in hand at {sorted(told)}, should be {sorted(member.problem.hands)}"
                continue
            for position, hand in member.problem.hands.items():
                becomes = told[position]["becomes"]
                if becomes == "fills" and not (hand.usable and entry["combination"][position] == hand.design):
                    yield f"{entry['job']}: the part in hand cannot fill {position}"
                if becomes == "sent back" and hand.back is None:
                    yield f"{entry['job']}: the part in hand for {position} cannot go back"
                if becomes not in ("fills", "sent back", hand.unused_word):
                    yield f"{entry['job']}: the part in hand for {position} becomes {becomes}"

    # Lines and orders

    def _lines(self) -> Iterator[str]:
        for line in self.told["purchases"]:
            name = f"{line['supplier']}/{line['part_number']} by {line['mode']}"
            i = self.at.get((line["supplier"], line["part_number"]))
            modes = [m.mode for m in self.pool.suppliers[line["supplier"]].modes]
            if i is None or line["mode"] not in modes:
                yield f"{name} cannot be bought"
                continue
            part, terms = self.pool.parts[i], self.pool.suppliers[line["supplier"]]
            sheet, quantity, m = part.sheet, line["quantity"], modes.index(line["mode"])
            if quantity < max(1, sheet.minimum) or quantity % sheet.pack:
                yield f"{name}: {quantity} pieces, sold from {sheet.minimum} in packs of {sheet.pack}"
            total = sheet.line(quantity, terms.incremental)[1]
            price = as_text(round_half_up(Fraction(total, quantity)))
            if line["unit_price"] != price:
                yield f"{name}: unit price {line['unit_price']}, should be {price}"
            if terms.incremental and line["line_total"] != as_text(total):
                yield f"{name}: line total {line['line_total']}, should be {as_text(total)}"
            if line["core_charge"] != as_text(sheet.core_charge):
                yield f"{name}: core charge {line['core_charge']}, should be {as_text(sheet.core_charge)}"
            if any((one.part, one.mode) == (i, m) for one in self.lines):
                yield f"{name}: two lines of one number in one order"
            jobs = {}
            for number, pieces in line["jobs"].items():
                if number not in self.numbers:
                    yield f"{name}: no job {number}"
                    continue
                jobs[self.numbers.index(number)] = pieces
                if m not in self.pool.modes(self.numbers.index(number), i):
                    yield f"{name}: the limits of {number} bar it"
            self.lines.append(Bought(i, m, quantity, jobs))

    def _orders(self) -> Iterator[str]:
        """Minimums, freight and arrival of each order."""
        self.freight = 0
        expected = {}
        for code, terms in self.pool.suppliers.items():
            for m, mode in enumerate(terms.modes):
                mine = [n for n in self.lines if n.mode == m and self.pool.parts[n.part].supplier == code]
                if not mine:
                    continue
                lines = [(self.pool.parts[n.part].sheet, n.quantity) for n in mine]
                subtotal = sum(sheet.line(q, terms.incremental)[0] for sheet, q in lines)
                if subtotal < terms.order_minimum:
                    yield f"{code} by {mode.mode}: {subtotal} is below its minimum of {terms.order_minimum}"
                cost = terms.order_fee
                if mode.free_over is None or subtotal < mode.free_over:
                    cost += mode.flat + sum(q * times(mode.per_kg, sheet.weight_kg) for sheet, q in lines)
                self.freight += cost
                days = max(sheet.lead_days for sheet, _ in lines) + mode.days
                arrives = self.members[0].problem.arrival(days).isoformat()
                expected[code, mode.mode] = (as_text(cost), arrives)
        said = {(f["supplier"], f["mode"]): (f["cost"], f["arrives"]) for f in self.told["freight"]}
        if said != expected or len(said) != len(self.told["freight"]):
            yield f"freight {said}, should be {expected}"

    def _count(self) -> Counter[int]:
        """Pieces bought of each part."""
        count: Counter[int] = Counter()
        for line in self.lines:
            count[line.part] += line.quantity
        return count

    def _stocks(self) -> Iterator[str]:
        for i, quantity in self._count().items():
            part = self.pool.parts[i]
            if part.sheet.stock is not None and quantity > part.sheet.stock:
                yield f"{part.supplier}/{part.number}: {quantity} pieces of a stock of {part.sheet.stock}"

    # Which line fills what

    def _readings(self) -> list[list[Reading]]:
        """Each way to fill all positions of all jobs from the pieces that they are said to get."""
        each = [self._readings_of(j) for j in range(len(self.members))]
        count = 1
        for ways in each:
            count *= len(ways)
        if count > MOST_READINGS:  # as good as each other where only few are looked at: comebacks tell them apart
            each = [ways[:2] for ways in each]
        return [list(ways) for ways in product(*each)]

    def _readings_of(self, j: int) -> list[Reading]:
        member, entry = self.members[j], self.entries[j]
        problem, family = member.problem, member.family
        mine = {n: line for n, line in enumerate(self.lines) if j in line.jobs}
        ways: list[list[tuple[str, int, int]]] = []
        for place in problem.family.positions:
            code = entry["combination"][place.code]
            if code == NONE:
                continue
            design = problem.family.designs[code]
            hand = problem.hands.get(place.code)
            if place.code in entry["kept"]:
                ways.append([(place.code, -2, times(place.comeback_cost, design.kept_rate))])
            elif hand is not None and self.here[j].get(place.code) == "fills":
                ways.append([(place.code, -1, times(place.comeback_cost, hand.rate))])
            else:
                some = []
                for n, line in mine.items():
                    row = self.pool.parts[line.part].rows.get(family)
                    if row is not None and code in row.fills and row.condition in place.conditions:
                        rate = design.comeback_rate if row.comeback_rate is None else row.comeback_rate
                        some.append((place.code, n, times(place.comeback_cost, rate)))
                ways.append(some)
        readings = []
        for way in product(*ways):
            fills = {p: n for p, n, _ in way if n != -2}
            if all(self._agrees(j, n, fills, pieces) for n, pieces in self._said(mine, j)):
                readings.append(Reading(fills, sum(cost for _, _, cost in way)))
        return readings

    @staticmethod
    def _said(mine: dict[int, Bought], j: int) -> list[tuple[int, int]]:
        return [(n, line.jobs[j]) for n, line in mine.items()]

    def _agrees(self, j: int, n: int, fills: dict[str, int], said: int) -> bool:
        """Whether a job takes the pieces of a line that it is said to get; a line for the shelf alone one job carries."""
        pieces = self._pieces(j, n, fills)
        return pieces == said or (pieces == 0 and len(self.lines[n].jobs) == 1)

    def _pieces(self, j: int, n: int, fills: dict[str, int]) -> int:
        """Pieces of a line that one job's positions take."""
        drawn = Counter((self.members[j].family, self.entries[j]["combination"][p]) for p, m in fills.items() if m == n)
        return self.pool.parts[self.lines[n].part].needed(drawn)

    def _carried(self) -> Iterator[dict[int, int]]:
        """Each way to let a job carry each line of which nobody is said to get anything, as far as limits allow any."""
        idle = [n for n, line in enumerate(self.lines) if not line.jobs]
        able = [
            [j for j in range(len(self.members)) if self.lines[n].mode in self.pool.modes(j, self.lines[n].part)]
            or [-1]
            for n in idle
        ]
        return (dict(zip(idle, carriers, strict=True)) for carriers in product(*able))

    def _served(self, readings: list[Reading], carried: dict[int, int]) -> Iterator[str]:
        """Quantities, suppliers, labour, comebacks, waiting and shelf in one reading."""
        drawn: list[Counter[tuple[str, str]]] = [Counter() for _ in self.lines]
        takers: list[set[int]] = [set() for _ in self.lines]
        labour = 0
        for j, reading in enumerate(readings):
            combination = self.entries[j]["combination"]
            for p, n in reading.fills.items():
                if n >= 0:
                    drawn[n][self.members[j].family, combination[p]] += 1
                    takers[n].add(j)
            member = self.members[j]
            tasks = tasks_done(member.problem, combination, member.world, frozenset(reading.fills))
            labour += sum(task.labour_cents for task in tasks)
        for n, line in enumerate(self.lines):
            part = self.pool.parts[line.part]
            if part.needed(drawn[n]) > line.quantity:
                yield f"{part.supplier}/{part.number}: {line.quantity} pieces do not hold {dict(drawn[n])}"
            takers[n] |= set(line.jobs)
            if carried.get(n, -1) >= 0:
                takers[n].add(carried[n])
            if not takers[n]:
                yield f"{part.supplier}/{part.number}: no job carries it"
        yield from self._smallest(drawn)
        waiting = 0
        for j, member in enumerate(self.members):
            got = [n for n, jobs in enumerate(takers) if j in jobs]
            limit = member.problem.job.limits.max_suppliers
            suppliers = {self.pool.parts[self.lines[n].part].supplier for n in got}
            if limit is not None and len(suppliers) > limit:
                yield f"{self.numbers[j]}: pieces of {sorted(suppliers)}, at most {limit} allowed"
            waiting += max((self.pool.days(self.lines[n].part, self.lines[n].mode) for n in got), default=0)
        comebacks = sum(reading.comebacks for reading in readings)
        expected = {"labour": labour, "comebacks": comebacks, "waiting": waiting * self.pool.shop.day_cost}
        expected["shelf"] = self._shelf(drawn)
        for name, cents in expected.items():
            yield from self._total(name, cents)

    def _smallest(self, drawn: list[Counter[tuple[str, str]]]) -> Iterator[str]:
        """Every part in the smallest quantity that serves, more only of what is wanted."""
        further: Counter[tuple[str, str]] = Counter()
        for i, quantity in self._count().items():
            part = self.pool.parts[i]
            filled: Counter[tuple[str, str]] = Counter()
            for n, line in enumerate(self.lines):
                if line.part == i:
                    filled += drawn[n]
            more = quantity - part.smallest(part.needed(filled))
            if more < 0 or (more > 0 and not self._all_wanted(part)):
                yield f"{part.supplier}/{part.number}: {quantity} pieces where {quantity - more} serve"
            for family, row in part.rows.items():
                for d in row.fills:
                    further[family, d] += more
        for wish, (pieces, _) in self.pool.wanted.items():
            if further[wish] > pieces:
                yield f"{wish}: {further[wish]} further pieces, {pieces} wanted"

    def _all_wanted(self, part: Part) -> bool:
        return all((family, d) in self.pool.wanted for family, row in part.rows.items() for d in row.fills)

    def _shelf(self, drawn: list[Counter[tuple[str, str]]]) -> int:
        """What goes on the shelf is worth."""
        spare: Counter[tuple[str, str]] = Counter()
        for line, used in zip(self.lines, drawn, strict=True):
            for family, row in self.pool.parts[line.part].rows.items():
                for d in row.fills:
                    spare[family, d] += line.quantity
            spare.subtract(used)
        for j, member in enumerate(self.members):
            for p, hand in member.problem.hands.items():
                if hand.stocks and self.here[j][p] == hand.unused_word:
                    spare[member.family, hand.design] += 1
        return sum(worth * min(pieces, spare[wish]) for wish, (pieces, worth) in self.pool.wanted.items())

    # Cores and totals

    def _cores(self) -> Iterator[str]:
        """Each return is a core that is free, against a piece that takes it; no other returns would bring more."""
        cores = []
        room = Counter({(p.supplier, p.number): self._count()[i] for i, p in enumerate(self.pool.parts)})
        for j, member in enumerate(self.members):
            kept = self.entries[j]["kept"]
            cores += [(member.family, d) for p, d in member.problem.cores().items() if p not in kept]
            back = frozenset(p for p, becomes in self.here[j].items() if becomes == "sent back")
            room.update((o.supplier, o.number) for o in member.problem.hand_pieces(back))
        credit, suppliers, going = 0, set(), Counter[tuple[str, str]]()
        returns = [(r["design"], (r["supplier"], r["part_number"]), r["credit"]) for r in self.told["core_returns"]]
        for design, key, said in returns:
            rows = self.pool.accepts.get(key, {})
            earned = next((row.core_credit for row in rows.values()), 0)
            if said != as_text(earned):
                yield f"a {design} to {key}: {said} comes back, should be {as_text(earned)}"
            credit += earned
            suppliers.add(key[0])
            going[key] += 1
        if any(count > room[key] for key, count in going.items()):
            yield f"more cores go back than pieces take: {dict(going)}"
        if not self._all_placed([(design, key) for design, key, _ in returns], cores):
            yield f"not all returns are free cores that are accepted: {returns}"
        cost = sum(self.pool.suppliers[s].core_return_cost for s in suppliers)
        yield from self._total("core_credit", credit)
        yield from self._total("core_return", cost)
        best = self.pool.earned(tuple(sorted((k, n) for k, n in room.items() if n)), tuple(sorted(cores)))
        if credit - cost != best:
            yield f"the cores bring {as_text(credit - cost)}, could bring {as_text(best)}"

    def _all_placed(self, returns: list[tuple[str, tuple[str, str]]], cores: list[tuple[str, str]]) -> bool:
        """Whether each return can be a core of its own."""
        of: dict[int, int] = {}

        def place(r: int, seen: set[int]) -> bool:
            design, key = returns[r]
            for c, (family, core) in enumerate(cores):
                if c not in seen and core == design and takes(self.pool.accepts.get(key, {}), family, design):
                    seen.add(c)
                    if c not in of or place(of[c], seen):
                        of[c] = r
                        return True
            return False

        return all(place(r, set()) for r in range(len(returns)))

    def _total(self, name: str, cents: int) -> Iterator[str]:
        said = self.told["totals"][name]
        if said != as_text(cents):
            yield f"{name} is {said}, should be {as_text(cents)}"

    def _in_hand(self, j: int) -> Iterator[tuple[Hand, str]]:
        for p, hand in self.members[j].problem.hands.items():
            yield hand, self.here[j][p]

    def _sums(self) -> Iterator[str]:
        """The totals that follow from lines and parts in hand, what they add up to, and each job's share."""
        parts = charges = 0
        for line in self.lines:
            part = self.pool.parts[line.part]
            parts += part.sheet.line(line.quantity, self.pool.suppliers[part.supplier].incremental)[1]
            charges += line.quantity * part.sheet.core_charge
        for j in range(len(self.members)):
            for hand, becomes in self._in_hand(j):
                if becomes == "sent back":
                    parts += (hand.back or 0) + hand.core_charge
                    charges -= hand.core_charge
                else:
                    parts += hand.used if becomes == "fills" else hand.unused
        for name, cents in (("parts", parts), ("core_charges", charges), ("freight", self.freight)):
            yield from self._total(name, cents)
        said = {name: to_cents(amount) for name, amount in self.told["totals"].items()}
        yield from self._total("cash", said["parts"] + said["core_charges"] + said["freight"])
        yield from self._total("landed", said["cash"] - said["core_credit"] + said["core_return"])
        work = said["labour"] + said["comebacks"] + said["waiting"] - said["shelf"]
        yield from self._total("whole", said["landed"] + work)
        cost = said[self.pool.minimise]
        shares = sum(to_cents(entry["share"]) for entry in self.entries)
        if shares != cost:
            yield f"the shares add up to {as_text(shares)}, not to {as_text(cost)}"
        if self.told["alone"] is None:
            if self.told["saved"] is not None:
                yield "something saved against nothing"
        elif to_cents(self.told["saved"]) != to_cents(self.told["alone"]) - cost:
            yield f"saved {self.told['saved']} is not {self.told['alone']} less {as_text(cost)}"
