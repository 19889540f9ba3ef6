"""A pool's plan as the person at the counter reads it: like units together, however many they are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import shorten, wrap

from sourcing.book.family import NONE
from sourcing.cli.lines import WIDTH, bullet
from sourcing.money import text
from sourcing.plan import Totals
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan, core_credit
from sourcing.quote.pooled import (
    Alike,
    alike,
    designs_named,
    header_of,
    how_filled,
    in_hand_told,
    jobs_named,
    numbers_of,
    pieces_named,
    pool_cautions,
    proof_told,
    saving_told,
    stands_in,
)
from sourcing.quote.poolrecord import noted

# Kinds of unit told one by one; jobs whose share is told one by one; reasons and notes.
MOST_KINDS, MOST_SHARES, MOST_REASONS, MOST_NOTES = 12, 12, 12, 12


def told(bought: Bought, papers: str) -> str:
    """The whole answer as text, and what was written."""
    plan = bought.plan
    title, families = header_of(plan)
    head = f"{title}, {families}, {plan.pool.first.job.job.date.isoformat()}"
    lines = [head, "=" * min(len(head), WIDTH), proof_told(plan)]
    if plan.proof.interrupted:
        lines.append("stopped by Ctrl-C: this is the best that was found until then")
    if plan.gets and not plan.proof.settled:
        lines.append("ties were not settled: another plan may cost exactly the same")
    if plan.gets:
        kinds = alike(plan)
        lines += ["", "What the units get", *_kinds(kinds)]
        lines += ["", "Bought from", *_orders(plan), *_cores(plan)]
        lines += ["", "What it costs", *_totals(plan), *_saved(bought)]
        lines += ["", "Who pays what", *_shares(bought, kinds)]
        lines += ["", "Check before the vehicle moves", *_cautions(plan, kinds)]
    else:
        reasons = _joined(reason.says for reason in plan.reasons)
        lines += ["", "Why", *map(bullet, reasons[:MOST_REASONS])]
        if len(reasons) > MOST_REASONS:
            lines.append(f"  and {len(reasons) - MOST_REASONS} more (--json lists all)")
    notes = noted(plan)
    if notes:
        lines += ["", "Noted", *(bullet(shorten(note, WIDTH - 4, placeholder=" ...")) for note in notes[:MOST_NOTES])]
        if len(notes) > MOST_NOTES:
            lines.append(f"  and {len(notes) - MOST_NOTES} more (--json lists all)")
    if papers:
        lines += ["", papers]
    return "\n".join(lines) + "\n"


def _joined(reasons: Iterable[str]) -> list[str]:
    """Reasons that say the same of several jobs as one."""
    said: dict[str, list[str]] = {}
    for reason in reasons:
        job, colon, rest = reason.partition(": ")
        if job.startswith("job ") and colon:
            said.setdefault(rest, []).append(job.removeprefix("job "))
        else:
            said.setdefault(reason, [])
    return [f"{jobs_named(numbers)}: {says}" if numbers else says for says, numbers in said.items()]


def _kinds(kinds: tuple[Alike, ...]) -> Iterator[str]:
    shown = kinds if len(kinds) <= MOST_KINDS else sorted(kinds, key=lambda kind: -len(kind.gets))[:MOST_KINDS]
    for kind in shown:
        one, family = kind.one, kind.family
        era = family.era[one.problem.setting.era].name
        whom = jobs_named(kind.numbers)
        head = f"{whom[0].upper()}{whom[1:]}, {family.family.name}, {era}"
        yield from wrap(head, WIDTH, initial_indent="  ", subsequent_indent="  ")
        width = max(len(position.name) for position in family.positions)
        for code, design in one.choice.combination.items():
            name = "nothing" if design == NONE else family.name_of(design)
            yield f"    {family.position[code].name:<{width}}  {name} - {how_filled(one, code)}"
        yield from (f"    in hand: {said}" for said in in_hand_told(one))
    if len(kinds) > len(shown):
        rest = sum(len(kind.gets) for kind in kinds) - sum(len(kind.gets) for kind in shown)
        yield f"  and {rest} units of {len(kinds) - len(shown)} other kinds (the workbook's sheet of jobs has each)"


def _orders(plan: PoolPlan) -> Iterator[str]:
    if not plan.orders:
        yield "  nothing is bought"
    waiting = {one.number for one in plan.gets if one.problem.job.job.need_by}
    for order in plan.orders:
        freight = f"freight {text(order.freight_cents)}" if order.freight_cents else "freight free"
        yield f"  {plan.pool.terms[order.supplier].name}, {order.mode}, here {order.arrives.isoformat()}, {freight}"
        for purchase in order.lines:
            offer, numbers = purchase.line.offer, numbers_of(purchase, plan)
            core = f", core charge {text(offer.core_cents)} each" if offer.core_cents else ""
            stock = ""
            if offer.stock is None:
                stock = "; stock not stated" + (": confirm before promising" if waiting & set(numbers) else "")
            total = text(offer.cents(purchase.quantity))
            yield f"    {purchase.quantity} x {offer.part.number}  {designs_named(plan, purchase)}  {total}{core}{stock}"
            yield from wrap(f"for {pieces_named(numbers, purchase.quantity)}", WIDTH, initial_indent="      ",
                            subsequent_indent="      ")  # fmt: skip
            yield f"      {stands_in(offer.source)}"


def _cores(plan: PoolPlan) -> Iterator[str]:
    """Which cores go where: like ones to one number together."""
    going: dict[tuple[str, str, str], tuple[list[str], list[int]]] = {}
    for one in plan.gets:
        for item in one.choice.returns:
            offer = plan.pool.offer[item.offer]
            key = (
                plan.pool.terms[offer.supplier].name,
                str(offer.part.number),
                one.problem.family.name_of(item.design),
            )
            numbers, credits = going.setdefault(key, ([], []))
            numbers.append(one.number)
            credits.append(core_credit(plan.pool, item))
    for (supplier, number, design), (numbers, credits) in sorted(going.items()):
        of = jobs_named(sorted(set(numbers)))
        told = (
            f"cores: {len(credits)} x {design} to {supplier} against {number}, of {of}: {text(sum(credits))} comes back"
        )
        yield from wrap(told, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _totals(plan: PoolPlan) -> Iterator[str]:
    t: Totals = plan.totals
    rows = [("parts", t.parts), ("core charges", t.core_charges), ("freight", t.freight), ("cash to lay out", t.cash),
            ("core credit", -t.core_credit), ("returning cores", t.core_return), ("landed", t.landed),
            ("labour", t.labour), ("expected comebacks", t.comebacks), ("waiting", t.waiting),
            ("worth on the shelf", -t.shelf), ("whole", t.whole)]  # fmt: skip
    for name, cents in rows:
        if cents or name in ("cash to lay out", "landed", "whole"):
            yield f"  {name:<20}{text(cents):>14}" + ("  <- minimised" if name.split()[0] == plan.pool.minimise else "")


def _saved(bought: Bought) -> Iterator[str]:
    yield ""
    if bought.alone_total is None or bought.saved is None:
        yield bullet(saving_told(bought))
        return
    yield f"  {'one after another':<20}{text(bought.alone_total):>14}"
    yield f"  {'together':<20}{text(bought.plan.cost):>14}"
    share = f"  ({bought.saved * 100 / bought.alone_total:.1f} %)" if bought.alone_total > 0 else ""
    yield f"  {'saved':<20}{text(bought.saved):>14}{share}"


def _shares(bought: Bought, kinds: tuple[Alike, ...]) -> Iterator[str]:
    """Each job's share beside what it would cost in its turn; of many jobs, like ones together."""
    few = len(bought.plan.gets) <= MOST_SHARES
    if few:
        rows = [(f"job {one.number}", [one.number]) for one in bought.plan.gets]
    else:
        shown = sorted(kinds, key=lambda kind: -len(kind.gets))[:MOST_SHARES]
        rows = [(jobs_named(kind.numbers, 1), list(kind.numbers)) for kind in shown]
        rest = {one.number for one in bought.plan.gets}.difference(*(kind.numbers for kind in shown))
        rows += [(f"{len(rest)} further jobs", sorted(rest))] if rest else []
    width = max(len(name) for name, _ in rows)
    yield f"  {'':<{width}}{'in turn':>14}{'share':>14}{'less':>12}"
    for name, numbers in rows:
        share = sum(bought.shares[number] for number in numbers)
        each = [bought.alone.get(number) for number in numbers]
        known = [cents for cents in each if cents is not None]
        if len(known) < len(each):
            yield f"  {name:<{width}}{'no plan':>14}{text(share):>14}"
        else:
            yield f"  {name:<{width}}{text(sum(known)):>14}{text(share):>14}{text(sum(known) - share):>12}"
    yield bullet(f"How: {bought.rule}.")


def _cautions(plan: PoolPlan, kinds: tuple[Alike, ...]) -> Iterator[str]:
    for caution, numbers in pool_cautions(kinds):
        whom = "" if len(numbers) == len(plan.gets) else f"{jobs_named(numbers)}: "
        yield bullet(f"{whom[:1].upper()}{whom[1:]}{caution.says}")
