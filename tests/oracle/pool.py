"""A buyer for several jobs together that tries everything: each job's fillings, each way to buy what they need together.

What is never looked at, and why the least cost is not touched by that:

* Of a job's fillings that draw the same designs from the same parts, send the same cores free and leave the same parts in
  hand, only the cheapest counts: everything else that a plan costs depends on these alone.
* Jobs that are alike in everything but their number and customer may change places, so their fillings are tried in one
  order only.
* A supplier's ways to deliver the same quantities with the same days for each job, carried by the same jobs: the cheapest.
* A set of fillings is passed over when a bound says that it must cost more than the best plan known: each supplier's
  cheapest way to deliver these pieces in any mode, every job's shortest possible wait, less the most that each core
  could earn and less every piece beyond need at its full worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

from .book import combinations, tasks_done
from .brute import Buyer, Found
from .money import times
from .reading import NONE, Offer, Problem, Supplier, World, fold, read_problem

Draw = tuple[int, str]
"""The place of a part among all parts, and the design as which it fills a position."""
Wish = tuple[str, str]
"""Family and design: a code may stand for another thing in another family."""
MOST_FILLINGS = 400_000
MOST_PLANS = 300_000


class TooMany(Exception):
    """More to try than a test has time for."""


@dataclass(frozen=True)
class Part:
    """One number of one supplier, with its row in each family that knows it; what the sheet says is the same in all."""

    supplier: str
    number: str
    rows: dict[str, Offer]

    @property
    def sheet(self) -> Offer:
        """Its price, stock, pack, minimum, weight and lead time."""
        return next(iter(self.rows.values()))

    def needed(self, filled: dict[tuple[str, str], int]) -> int:
        """Pieces that serve so many positions of each family and design."""
        return sum(
            max((-(-filled.get((family, d), 0) // row.fills.count(d)) for d in row.fills), default=0)
            for family, row in self.rows.items()
        )

    def smallest(self, needed: int) -> int:
        """The pieces needed, raised to minimum and pack; none where none is needed."""
        return -(-max(needed, self.sheet.minimum) // self.sheet.pack) * self.sheet.pack if needed else 0


@dataclass(frozen=True)
class Filling:
    """What one job takes: its draws, its cores, what it leaves of the parts in hand, and what that costs by itself."""

    draws: tuple[Draw, ...]
    cores: tuple[str, ...]
    left: tuple[str, ...]
    here: tuple[tuple[str, str], ...]
    own: int
    days: int


@dataclass(frozen=True)
class Option:
    """One supplier's deliveries: quantities, cash, each job's days, and the jobs that carry a line of it."""

    low: int
    quantities: tuple[int, ...]
    cash: int
    days: tuple[int, ...]
    carriers: frozenset[int]


@dataclass
class Member:
    """One job with the one world that it leaves possible."""

    problem: Problem
    world: World

    @property
    def family(self) -> str:
        """The code of its family."""
        return self.problem.family.code

    def allows(self, offer: Offer) -> bool:
        """Whether its limits leave a part to it."""
        limits = self.problem.job.limits
        return not (
            (limits.conditions is not None and offer.condition not in limits.conditions)
            or (limits.suppliers is not None and offer.supplier not in limits.suppliers)
            or offer.supplier in limits.avoid
            or offer.warranty_months < limits.min_warranty
            or (offer.supplier, fold(offer.number)) in limits.unavailable
        )


def read_pool(catalogs: Path, jobs: Sequence[Path]) -> list[Member]:
    """The jobs by their numbers. Raises ValueError where they are no pool, or one of them leaves more than one world."""
    members = []
    for path in jobs:
        problem = read_problem(catalogs, path)
        if len(problem.job.worlds) != 1:
            raise ValueError(f"{problem.job.number} is open")
        members.append(Member(problem, problem.job.worlds[0]))
    members.sort(key=lambda m: m.problem.job.number)
    if len({m.problem.job.number for m in members}) < len(members):
        raise ValueError("two jobs of one number")
    if len({(m.problem.job.date, m.problem.job.minimise) for m in members}) > 1:
        raise ValueError("two dates, or two things to minimise")
    for one in members:
        if any(one.family == two.family and one.problem.wanted() != two.problem.wanted() for two in members):
            raise ValueError("two lists of what the shelf wants")
    return members


def parts_of(members: Sequence[Member]) -> list[Part]:
    """Every number that some job's family knows and that can be bought on the day."""
    rows: dict[tuple[str, str], dict[str, Offer]] = {}
    for member in members:
        for offer in member.problem.offers:
            rows.setdefault((offer.supplier, offer.number), {})[member.family] = offer
    return [Part(supplier, number, rows[supplier, number]) for supplier, number in sorted(rows)]


def wanted_of(members: Sequence[Member]) -> dict[Wish, tuple[int, int]]:
    """What the shelf wants, family by family: (pieces, worth)."""
    return {(m.family, d): w for m in members for d, w in m.problem.wanted().items()}


class Pool:
    """Buys for several jobs together."""

    def __init__(self, members: Sequence[Member]) -> None:
        self.members = list(members)
        self.shop = members[0].problem.shop
        self.suppliers = members[0].problem.suppliers
        self.minimise = members[0].problem.job.minimise
        self.whole = self.minimise == "whole"
        self.waits = self.whole and self.shop.day_cost > 0
        self.parts = parts_of(members)
        self.wanted = wanted_of(members)
        self.mine = {s: [i for i, p in enumerate(self.parts) if p.supplier == s] for s in self.suppliers}
        self.mine = {s: parts for s, parts in sorted(self.mine.items()) if parts}
        self.accepts: dict[tuple[str, str], dict[str, Offer]] = {
            (p.supplier, p.number): dict(p.rows) for p in self.parts
        }
        for member in members:
            for offer in member.problem.hand_pieces(frozenset()):
                self.accepts.setdefault((offer.supplier, offer.number), {}).setdefault(member.family, offer)
        self.low = cache(self._low)
        self.cheapest = cache(self._cheapest)
        self.splits = cache(self._splits)
        self.options = cache(self._options)
        self.earned = cache(self._earned)
        self.looked_at = 0

    def least(self) -> int | None:
        """The least cost in cents; None where the jobs cannot be met together. Raises TooMany."""
        each = [self.fillings(j) for j in range(len(self.members))]
        best: int | None = None
        for bound, picks in self._together(each):
            if best is not None and bound >= best:
                break
            best = self._bought(bound, [each[j][n] for j, n in enumerate(picks)], best)
        return best

    # Each job by itself

    def fillings(self, j: int) -> list[Filling]:
        """What one job may take."""
        member = self.members[j]
        problem, least = member.problem, dict[tuple[object, ...], Filling]()
        for combination in combinations(problem, member.world):
            for way in product(*(list(self._ways(j, p, combination[p])) for p in combination)):
                kept = {p for p, (kind, _, _) in zip(combination, way, strict=True) if kind == "kept"}
                here = {p for p, (kind, _, _) in zip(combination, way, strict=True) if kind == "here"}
                drawn = {p: i for p, (kind, i, _) in zip(combination, way, strict=True) if kind == "bought"}
                if self._too_many(j, drawn.values()):
                    continue
                own = 0
                if self.whole:
                    tasks = tasks_done(problem, combination, member.world, frozenset(drawn) | here)
                    own = sum(comeback for _, _, comeback in way) + sum(task.labour_cents for task in tasks)
                draws = tuple(sorted((i, combination[p]) for p, i in drawn.items()))
                for back in self._sendings(j, here):
                    filling = self._filling(j, draws, kept, here, back, own)
                    key = (filling.draws, filling.cores, filling.left, filling.here)
                    if key not in least or filling.own < least[key].own:
                        least[key] = filling
        return sorted(least.values(), key=lambda f: (f.own, f.draws, f.cores, f.left, f.here))

    def _ways(self, j: int, position: str, code: str) -> Iterator[tuple[str, int, int]]:
        """Each way to fill a position: how, from which part, expected comebacks in cents."""
        member = self.members[j]
        place = next(p for p in member.problem.family.positions if p.code == position)
        if code == NONE:
            yield "none", -1, 0
            return
        design = member.problem.family.designs[code]
        hand = member.problem.hands.get(position)
        if hand is not None and hand.usable and hand.design == code:
            yield "here", -1, times(place.comeback_cost, hand.rate)
        if member.problem.keepable().get(position) == code:
            yield "kept", -1, times(place.comeback_cost, design.kept_rate)
        for i, part in enumerate(self.parts):
            row = part.rows.get(member.family)
            if row is None or code not in row.fills or row.condition not in place.conditions:
                continue
            if self.modes(j, i):
                rate = design.comeback_rate if row.comeback_rate is None else row.comeback_rate
                yield "bought", i, times(place.comeback_cost, rate)

    def modes(self, j: int, i: int) -> list[int]:
        """The modes by which a job may get a part: none where its limits bar it."""
        member, part = self.members[j], self.parts[i]
        row = part.rows.get(member.family)
        if row is None or not member.allows(row):
            return []
        ways = enumerate(self.suppliers[part.supplier].modes)
        return [m for m, mode in ways if member.problem.in_time(row.lead_days + mode.days)]

    def _too_many(self, j: int, parts: Iterable[int]) -> bool:
        limit = self.members[j].problem.job.limits.max_suppliers
        return limit is not None and len({self.parts[i].supplier for i in parts}) > limit

    def _sendings(self, j: int, here: set[str]) -> Iterator[frozenset[str]]:
        """Each choice of a job's unused parts in hand that go back."""
        hands = self.members[j].problem.hands
        may = [p for p, hand in hands.items() if p not in here and hand.back is not None]
        for sent in product((False, True), repeat=len(may)):
            yield frozenset(p for p, goes in zip(may, sent, strict=True) if goes)

    def _filling(
        self, j: int, draws: tuple[Draw, ...], kept: set[str], here: set[str], back: frozenset[str], own: int
    ) -> Filling:
        problem = self.members[j].problem
        left: list[str] = []
        for position, hand in problem.hands.items():
            if position in back:
                assert hand.back is not None
                own += hand.back
            else:
                own += hand.used if position in here else hand.unused
                if hand.stocks and position not in here and (self.members[j].family, hand.design) in self.wanted:
                    left.append(hand.design)
        cores: list[str] = []
        pieces: list[tuple[str, str]] = []
        if self.minimise != "cash":
            cores = [design for position, design in problem.cores().items() if position not in kept]
            pieces = [(offer.supplier, offer.number) for offer in problem.hand_pieces(back)]
        days = max((min(self.days(i, m) for m in self.modes(j, i)) for i, _ in draws), default=0)
        if not self.whole:
            left = []
        return Filling(draws, tuple(sorted(cores)), tuple(sorted(left)), tuple(sorted(pieces)), own, days)

    def days(self, i: int, m: int) -> int:
        """Working days that a part takes by a mode."""
        part = self.parts[i]
        return part.sheet.lead_days + self.suppliers[part.supplier].modes[m].days

    # All jobs together

    def _together(self, each: list[list[Filling]]) -> list[tuple[int, tuple[int, ...]]]:
        """Every set of one filling a job that can be bought at all, as (bound, places), the lowest bound first."""
        count = 1
        for fillings in each:
            count *= len(fillings)
        if count > MOST_FILLINGS:
            raise TooMany
        before = [self._alike_before(j) for j in range(len(each))]
        lows = [[self._own_bound(j, f) for f in fillings] for j, fillings in enumerate(each)]
        shares = [[self._by_supplier(j, f) for f in fillings] for j, fillings in enumerate(each)]
        found = []
        for picks in product(*(range(len(fillings)) for fillings in each)):
            if any(b is not None and picks[b] > picks[j] for j, b in enumerate(before)):
                continue
            bound: int | None = sum(lows[j][n] for j, n in enumerate(picks))
            for at, supplier in enumerate(self.mine):
                needs = tuple(sorted(draw for j, n in enumerate(picks) for draw in shares[j][n][at]))
                low = self.low(supplier, needs)
                bound = None if low is None or bound is None else bound + low
                if bound is None:
                    break
            if bound is not None:
                found.append((bound, picks))
        return sorted(found)

    def _alike_before(self, j: int) -> int | None:
        """The job before this one, where nothing but number and customer tells them apart."""
        for b in range(j - 1, -1, -1):
            one, two = self.members[b], self.members[j]
            same = replace(one.problem.job, number="") == replace(two.problem.job, number="")
            if same and one.family == two.family and one.world == two.world and one.problem.hands == two.problem.hands:
                return b
        return None

    def _own_bound(self, j: int, filling: Filling) -> int:
        """The least that a filling adds to what is bought for it."""
        family = self.members[j].family
        earned = sum(
            max((row[family].core_credit for row in self.accepts.values() if takes(row, family, d)), default=0)
            for d in filling.cores
        )
        left = sum(self.wanted[family, d][1] for d in filling.left)
        return filling.own + (filling.days * self.shop.day_cost if self.whole else 0) - earned - left

    def _by_supplier(self, j: int, filling: Filling) -> list[tuple[tuple[int, str, str], ...]]:
        """A filling's draws of each supplier, as (part, family, design)."""
        family = self.members[j].family
        return [tuple((i, family, d) for i, d in filling.draws if i in mine) for mine in self.mine.values()]

    def _ranges(self, supplier: str, needs: tuple[tuple[int, str, str], ...]) -> list[tuple[int, list[int]]] | None:
        """Each part's smallest quantity that serves, and the quantities that may be bought of it."""
        ranges = []
        for i in self.mine[supplier]:
            part = self.parts[i]
            need = part.smallest(part.needed(Counter((f, d) for n, f, d in needs if n == i)))
            most = max(self._may_be_further(part), 0)
            allowed = [q for q in range(need, need + most + 1) if part.sheet.stock is None or q <= part.sheet.stock]
            if not allowed:
                return None
            ranges.append((need, allowed))
        return ranges

    def _may_be_further(self, part: Part) -> int:
        """How many pieces beyond need a part could ever come to: every design of it must be wanted."""
        most = 0
        for family, row in part.rows.items():
            if all((family, d) in self.wanted for d in row.fills):
                assert len(part.rows) == 1, f"{part.number}: wanted, and in two families"
                most = min(self.wanted[family, d][0] // row.fills.count(d) for d in row.fills)
        return most

    def _quantities(
        self, supplier: str, needs: tuple[tuple[int, str, str], ...]
    ) -> Iterator[tuple[tuple[int, ...], dict[Wish, int], int]]:
        """Each set of quantities, how much of each wish goes beyond need in it, and the most that its spare pieces are
        worth."""
        ranges = self._ranges(supplier, needs)
        if ranges is None:
            return
        used = Counter((f, d) for _, f, d in needs)
        for quantities in product(*(allowed for _, allowed in ranges)):
            further: Counter[Wish] = Counter()
            spare: Counter[Wish] = Counter()
            for i, (need, _), quantity in zip(self.mine[supplier], ranges, quantities, strict=True):
                for family, row in self.parts[i].rows.items():
                    for d in row.fills:
                        if (family, d) in self.wanted:
                            further[family, d] += quantity - need
                            spare[family, d] += quantity
            if all(n <= self.wanted[wish][0] for wish, n in further.items()):
                worth = sum((n - used[wish]) * self.wanted[wish][1] for wish, n in spare.items())
                yield quantities, further, worth if self.whole else 0

    def _low(self, supplier: str, needs: tuple[tuple[int, str, str], ...]) -> int | None:
        """The least that these pieces can cost in cash less what goes on the shelf; None where they cannot be had."""
        lows = []
        for quantities, _, worth in self._quantities(supplier, needs):
            cash = self.cheapest(supplier, quantities)
            if cash is not None:
                lows.append(cash - worth)
        return min(lows, default=None)

    def _cheapest(self, supplier: str, quantities: tuple[int, ...]) -> int | None:
        return min((cash for _, cash in self.splits(supplier, quantities)), default=None)

    def _splits(self, supplier: str, quantities: tuple[int, ...]) -> list[tuple[tuple[tuple[int, ...], ...], int]]:
        """Each way to spread these quantities over the modes, part by part, and its cash."""
        terms = self.suppliers[supplier]
        ways = [list(self._shares(i, q)) for i, q in zip(self.mine[supplier], quantities, strict=True)]
        priced = ((shares, self._priced(terms, shares)) for shares in product(*ways))
        return [(shares, cash) for shares, cash in priced if cash is not None]

    def _shares(self, i: int, quantity: int) -> Iterator[tuple[int, ...]]:
        """Each way to spread one part's quantity over the modes in whole lines."""
        sheet = self.parts[i].sheet
        sizes = [n for n in range(quantity + 1) if n == 0 or (n >= sheet.minimum and n % sheet.pack == 0)]
        modes = len(self.suppliers[self.parts[i].supplier].modes)
        return (share for share in product(sizes, repeat=modes) if sum(share) == quantity)

    def _priced(self, terms: Supplier, shares: tuple[tuple[int, ...], ...]) -> int | None:
        """What a supplier's orders cost in cash; None below an order's minimum."""
        cash = 0
        for m, mode in enumerate(terms.modes):
            lines = [(self.parts[i].sheet, share[m]) for i, share in zip(self.mine[terms.code], shares, strict=True)]
            lines = [(sheet, quantity) for sheet, quantity in lines if quantity]
            if not lines:
                continue
            subtotal = sum(sheet.line(q, terms.incremental)[0] for sheet, q in lines)
            if subtotal < terms.order_minimum:
                return None
            cash += sum(sheet.line(q, terms.incremental)[1] + q * sheet.core_charge for sheet, q in lines)
            cash += terms.order_fee
            if mode.free_over is None or subtotal < mode.free_over:
                cash += mode.flat + sum(q * times(mode.per_kg, sheet.weight_kg) for sheet, q in lines)
        return cash

    # Who gets what from which line

    def _options(self, supplier: str, draws: tuple[tuple[int, int, str], ...]) -> list[Option]:
        """Each way to deliver the draws (job, part, design) of a supplier."""
        needs = tuple(sorted((i, self.members[j].family, d) for j, i, d in draws))
        best: dict[tuple[tuple[int, ...], tuple[int, ...], frozenset[int]], Option] = {}
        for quantities, _, worth in self._quantities(supplier, needs):
            for shares, cash in self.splits(supplier, quantities):
                for days, carriers in self._allocations(supplier, draws, shares):
                    key = (quantities, days, carriers)
                    if key not in best or cash < best[key].cash:
                        best[key] = Option(cash - worth, quantities, cash, days, carriers)
        return sorted(best.values(), key=lambda o: (o.low, o.quantities, o.days, sorted(o.carriers)))

    def _allocations(
        self, supplier: str, draws: tuple[tuple[int, int, str], ...], shares: tuple[tuple[int, ...], ...]
    ) -> set[tuple[tuple[int, ...], frozenset[int]]]:
        """Each way to give the pieces of the lines to the jobs: every job's days, and the jobs that carry what none draws."""
        lines = {
            (i, m): quantity
            for i, share in zip(self.mine[supplier], shares, strict=True)
            for m, quantity in enumerate(share)
            if quantity
        }
        found = set()
        for modes in product(*([m for m in self.modes(j, i) if (i, m) in lines] for j, i, _ in draws)):
            drawn: dict[tuple[int, int], Counter[tuple[str, str]]] = {}
            days = [0] * len(self.members)
            for (j, i, d), m in zip(draws, modes, strict=True):
                drawn.setdefault((i, m), Counter())[self.members[j].family, d] += 1
                days[j] = max(days[j], self.days(i, m))
            if any(self.parts[i].needed(filled) > lines[i, m] for (i, m), filled in drawn.items()):
                continue
            idle = [line for line in lines if line not in drawn]
            able = [[j for j in range(len(self.members)) if m in self.modes(j, i)] for i, m in idle]
            for carriers in product(*able):
                waits = list(days)
                for j, (i, m) in zip(carriers, idle, strict=True):
                    waits[j] = max(waits[j], self.days(i, m))
                limited = (j for j in carriers if self.members[j].problem.job.limits.max_suppliers is not None)
                found.add((tuple(waits) if self.waits else (), frozenset(limited)))
        return found

    # Whole plans

    def _bought(self, bound: int, fillings: list[Filling], best: int | None) -> int | None:
        """The least cost of these fillings where it is below a cost known; else that."""
        groups, draws_of = [], []
        for supplier, mine in self.mine.items():
            draws = tuple((j, i, d) for j, f in enumerate(fillings) for i, d in f.draws if i in mine)
            draws_of.append({j for j, _, _ in draws})
            groups.append(self.options(supplier, draws))
        if not all(groups):
            return best
        lows = [group[0].low for group in groups]
        own = sum(f.own for f in fillings)
        rest = bound - sum(self._needs_low(fillings))
        used = Counter((self.members[j].family, d) for j, f in enumerate(fillings) for _, d in f.draws)
        left = Counter((self.members[j].family, d) for j, f in enumerate(fillings) for d in f.left)
        cores = tuple(sorted((self.members[j].family, d) for j, f in enumerate(fillings) for d in f.cores))
        here = Counter(piece for f in fillings for piece in f.here)

        def extend(at: int, sofar: int, picked: list[Option], best: int | None) -> int | None:
            if at == len(groups):
                self.looked_at += 1
                if self.looked_at > MOST_PLANS:
                    raise TooMany
                cost = own + self._cost(picked, used, left, cores, here)
                return cost if best is None else min(cost, best)
            after = sum(lows[at + 1 :])
            for option in groups[at]:
                if best is not None and rest + sofar + option.low + after >= best:
                    break
                now = [*picked, option]
                if self._few_suppliers(now, draws_of) and self._few_further(now, fillings):
                    best = extend(at + 1, sofar + option.low, now, best)
            return best

        return extend(0, 0, [], best)

    def _needs_low(self, fillings: list[Filling]) -> Iterator[int]:
        """The part of the bound that came from each supplier."""
        shares = [self._by_supplier(j, f) for j, f in enumerate(fillings)]
        for at, supplier in enumerate(self.mine):
            low = self.low(supplier, tuple(sorted(draw for share in shares for draw in share[at])))
            assert low is not None
            yield low

    def _few_suppliers(self, picked: list[Option], draws_of: list[set[int]]) -> bool:
        """Whether no job has pieces of more suppliers than it allows."""
        for j, member in enumerate(self.members):
            limit = member.problem.job.limits.max_suppliers
            if limit is not None:
                mine = [j in option.carriers or j in draws for option, draws in zip(picked, draws_of, strict=False)]
                if sum(mine) > limit:
                    return False
        return True

    def _few_further(self, picked: list[Option], fillings: list[Filling]) -> bool:
        """Whether no more goes beyond need than is wanted, over all suppliers."""
        further: Counter[Wish] = Counter()
        drawn = [(i, self.members[j].family, d) for j, f in enumerate(fillings) for i, d in f.draws]
        for mine, option in zip(self.mine.values(), picked, strict=False):
            for i, quantity in zip(mine, option.quantities, strict=True):
                part = self.parts[i]
                need = part.smallest(part.needed(Counter((f, d) for n, f, d in drawn if n == i)))
                for family, row in part.rows.items():
                    for d in row.fills:
                        if quantity > need:
                            further[family, d] += quantity - need
        return all(n <= self.wanted[wish][0] for wish, n in further.items())

    def _cost(
        self,
        picked: list[Option],
        used: Counter[Wish],
        left: Counter[Wish],
        cores: tuple[tuple[str, str], ...],
        here: Counter[tuple[str, str]],
    ) -> int:
        """What a plan costs beyond what each job costs by itself."""
        cost = sum(option.cash for option in picked)
        pieces = Counter(here)
        held = Counter(left)
        for mine, option in zip(self.mine.values(), picked, strict=True):
            for i, quantity in zip(mine, option.quantities, strict=True):
                if quantity:
                    part = self.parts[i]
                    pieces[part.supplier, part.number] += quantity
                    for family, row in part.rows.items():
                        for d in row.fills:
                            held[family, d] += quantity
        if self.minimise == "cash":
            return cost
        cost -= self.earned(tuple(sorted(pieces.items())), cores)
        if not self.whole:
            return cost
        if self.waits:
            cost += self.shop.day_cost * sum(
                max(days) for days in zip(*(option.days for option in picked), strict=True)
            )
        return cost - sum(worth * min(most, held[w] - used[w]) for w, (most, worth) in self.wanted.items())

    def _earned(self, pieces: tuple[tuple[tuple[str, str], int], ...], cores: tuple[tuple[str, str], ...]) -> int:
        """The most that cores bring back, less what returning them costs.

        For each set of suppliers that may get cores: sets of pieces that can all take a core at once are the
        independent sets of a transversal matroid, and what a core earns hangs on the piece alone, so that taking the
        dearest piece that still can be matched is exact.
        """
        suppliers = sorted({supplier for (supplier, _), _ in pieces})
        best = 0
        for chosen in product((False, True), repeat=len(suppliers)):
            to = {s for s, yes in zip(suppliers, chosen, strict=True) if yes}
            slots = []
            for key, quantity in pieces:
                if key[0] in to:
                    credit = next(iter(self.accepts[key].values())).core_credit
                    slots += [(credit, key)] * min(quantity, len(cores))
            best = max(best, self._matched(sorted(slots, reverse=True), cores) - self._returns_to(to))
        return best

    def _returns_to(self, suppliers: set[str]) -> int:
        return sum(self.suppliers[s].core_return_cost for s in suppliers)

    def _matched(self, slots: list[tuple[int, tuple[str, str]]], cores: tuple[tuple[str, str], ...]) -> int:
        """The greatest credit of a matching between pieces and cores."""
        against: dict[int, int] = {}

        def place(slot: int, seen: set[int]) -> bool:
            for c, (family, design) in enumerate(cores):
                if c not in seen and takes(self.accepts[slots[slot][1]], family, design):
                    seen.add(c)
                    if c not in against or place(against[c], seen):
                        against[c] = slot
                        return True
            return False

        return sum(credit for n, (credit, _) in enumerate(slots) if place(n, set()))


def takes(rows: dict[str, Offer], family: str, design: str) -> bool:
    """Whether a piece takes a core of that family and design."""
    return family in rows and design in rows[family].accepts


def cost(catalogs: Path, jobs: Sequence[Path]) -> int | None:
    """The least cost in cents of buying for these jobs together; None where they cannot be met. Raises TooMany."""
    return Pool(read_pool(catalogs, jobs)).least()


def alone(catalogs: Path, jobs: Sequence[Path]) -> dict[str, int | None]:
    """Each job's cost, by number, when they buy one after another from what the earlier ones left.

    What is left are the stocks and the wish for the shelf. A job after one that has no plan buys as if that one bought
    nothing.
    """
    turns = one_after_another(read_pool(catalogs, jobs))
    return {member.problem.job.number: None if plan is None else plan.key[0] for member, plan in turns}


def one_after_another(members: Sequence[Member]) -> list[tuple[Member, Found | None]]:
    """Each job's own plan in its turn."""
    gone: Counter[tuple[str, str]] = Counter()
    stocked: Counter[Wish] = Counter()
    turns: list[tuple[Member, Found | None]] = []
    for member in members:
        problem = member.problem
        wanted = {d: (n - stocked[member.family, d], worth) for d, (n, worth) in problem.wanted().items()}
        offers = [with_less(offer, gone[offer.supplier, offer.number]) for offer in problem.offers]
        left = replace(
            problem,
            shop=replace(problem.shop, wanted={d: w for d, w in wanted.items() if w[0] > 0}),
            offers=[offer for offer in offers if offer is not None],
        )
        buyer = Buyer(left, member.world)
        plan = buyer.best()
        turns.append((member, plan))
        if plan is not None:
            for supplier, number, _, quantity in plan.lines:
                gone[supplier, number] += quantity
            for design, pieces in on_the_shelf(buyer, plan).items():
                stocked[member.family, design] += pieces
    return turns


def why_dearer(members: Sequence[Member]) -> set[str]:
    """What can make a pool dearer than its jobs one after another, found where their orders are laid together.

    "fewer pieces": a pack or a kit serves several jobs, and what it left over counted on the shelf or towards a threshold;
    "dearer break": more pieces cost more than the same pieces apart; "threshold": an order that reached free freight by
    itself, or its minimum, falls below when a break makes its pieces cheaper. Empty: the pool must not be dearer.
    """
    suppliers, parts = members[0].problem.suppliers, {(p.supplier, p.number): p for p in parts_of(members)}
    apart: dict[tuple[str, str], list[list[tuple[str, int]]]] = {}
    pieces: Counter[tuple[str, str]] = Counter()
    used: dict[tuple[str, str], Counter[tuple[str, str]]] = {}
    for member, plan in one_after_another(members):
        if plan is None:
            continue
        orders: dict[tuple[str, str], list[tuple[str, int]]] = {}
        for supplier, number, mode, quantity in plan.lines:
            orders.setdefault((supplier, mode), []).append((number, quantity))
            pieces[supplier, number] += quantity
            used.setdefault((supplier, number), Counter())[member.problem.job.number] += quantity
        for order, lines in orders.items():
            apart.setdefault(order, []).append(lines)
    found = set()
    for key, jobs in used.items():
        part = parts[key]
        if len(jobs) > 1 and (len(part.sheet.fills) > 1 or part.smallest(len(jobs)) < sum(jobs.values())):
            found.add("fewer pieces")
    for (supplier, mode), orders_apart in apart.items():
        terms = suppliers[supplier]
        free = next(m.free_over for m in terms.modes if m.mode == mode)
        joined: Counter[str] = Counter()
        subtotals = []
        for lines in orders_apart:
            joined.update(dict(lines))
            subtotals.append(sum(parts[supplier, n].sheet.line(q, terms.incremental)[0] for n, q in lines))
        together = sum(parts[supplier, n].sheet.line(q, terms.incremental)[0] for n, q in joined.items())
        if together > sum(subtotals):
            found.add("dearer break")
        if together < terms.order_minimum or (free is not None and together < free <= max(subtotals)):
            found.add("threshold")
    return found


def with_less(offer: Offer, gone: int) -> Offer | None:
    """An offer when some of its stock is gone; None where none is left."""
    if offer.stock is None:
        return offer
    return replace(offer, stock=offer.stock - gone) if offer.stock > gone else None


def on_the_shelf(buyer: Buyer, plan: Found) -> dict[str, int]:
    """The pieces of each wanted design that a single job's plan puts on the shelf."""
    filling = plan.filling
    combination = dict(zip(buyer.codes, filling.combination, strict=True))
    left = [
        hand.design
        for p, hand in buyer.problem.hands.items()
        if hand.stocks and p not in filling.here and p not in filling.sent_back
    ]
    pieces = {}
    for design, (most, _) in buyer.wanted.items():
        offers = {(o.supplier, o.number): o for o in buyer.offers}
        held = sum(q * offers[s, n].fills.count(design) for s, n, _, q in plan.lines)
        used = any(p in filling.bought and combination[p] == design for p in combination)
        pieces[design] = min(most, held - used + left.count(design))
    return pieces
