"""A pool's plan as the person at the counter reads it: like units together, however many they are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import shorten, wrap

from sourcing.book.family import NONE
from sourcing.cli.laid import at_most, orders_laid, totals_laid
from sourcing.cli.lines import WIDTH, bullet
from sourcing.money import text
from sourcing.plan import Purchase
from sourcing.pool.buying import Bought
from sourcing.pool.plan import PoolPlan
from sourcing.quote.pooled import (
    Alike,
    alike,
    header_of,
    how_filled,
    in_hand_told,
    jobs_named,
    pool_cautions,
    proof_told,
    saving_told,
    stands_in,
)
from sourcing.quote.poolrecord import noted
from sourcing.quote.pooltold import cores_told, order_told, purchase_told, shares_told, whose_told
from sourcing.quote.told import totals_of

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
        lines += ["", "What it costs", *totals_laid(totals_of(plan.totals, plan.pool.minimise), 14), *_saved(bought)]
        lines += ["", "Who pays what", *_shares(bought, kinds)]
        lines += ["", "Check before the vehicle moves", *_cautions(plan, kinds)]
    else:
        lines += ["", "Why", *at_most(_joined(reason.says for reason in plan.reasons), MOST_REASONS)]
    notes = [shorten(note, WIDTH - 4, placeholder=" ...") for note in noted(plan)]
    if notes:
        lines += ["", "Noted", *at_most(notes, MOST_NOTES)]
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
    def line(purchase: Purchase) -> Iterator[str]:
        yield purchase_told(plan, purchase)
        yield from wrap(whose_told(plan, purchase), WIDTH - 6)
        yield stands_in(purchase.line.offer.source)

    return orders_laid(plan.orders, lambda order: order_told(plan, order), line)


def _cores(plan: PoolPlan) -> Iterator[str]:
    for told in cores_told(plan):
        yield from wrap(told, WIDTH, initial_indent="  ", subsequent_indent="    ")


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
    rows = list(shares_told(bought, kinds, MOST_SHARES))
    width = max(len(row.who) for row in rows)
    yield f"  {'':<{width}}{'in turn':>14}{'share':>14}{'less':>12}"
    for row in rows:
        if row.in_turn is None or row.less is None:
            yield f"  {row.who:<{width}}{'no plan':>14}{text(row.share):>14}"
        else:
            yield f"  {row.who:<{width}}{text(row.in_turn):>14}{text(row.share):>14}{text(row.less):>12}"
    yield bullet(f"How: {bought.rule}.")


def _cautions(plan: PoolPlan, kinds: tuple[Alike, ...]) -> Iterator[str]:
    for caution, numbers in pool_cautions(kinds):
        whom = "" if len(numbers) == len(plan.gets) else f"{jobs_named(numbers)}: "
        yield bullet(f"{whom[:1].upper()}{whom[1:]}{caution.says}")
