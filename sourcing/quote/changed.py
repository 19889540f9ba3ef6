"""What a received sheet changed, in words: numbers, and the open jobs that would now be bought differently."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from sourcing.decision.possibilities import Answered
from sourcing.decision.rebuying import Rebought, supplied
from sourcing.money import text
from sourcing.prices.changes import Change, Changes, Kind
from sourcing.prices.sheetwords import field_words, money

KIND_WORDS = {
    Kind.NEW: "new", Kind.GONE: "gone", Kind.BARRED: "without a usable price now", Kind.DEARER: "dearer",
    Kind.CHEAPER: "cheaper", Kind.TERMS: "at the same price on other terms",
}  # fmt: skip
HEAD = ["part number", "what it is", "before", "now", "", "", ""]


def since_words(since: str, currency: str) -> str:
    """Against what a sheet is compared."""
    if since:
        return f"What changed since {since} (prices in {currency})"
    return f"It is this supplier's first sheet in force (prices in {currency})"


def counts_words(found: Changes) -> str:
    """How many numbers are new, gone, dearer and so on."""
    counts = [f"{len(found.of(kind))} {KIND_WORDS[kind]}" for kind in Kind if found.of(kind)]
    return ", ".join([*counts, f"{found.same} as before"])


def lists_of(found: Changes) -> Iterator[tuple[str, list[Change]]]:
    """Our own numbers, then the others; each list by what became of a number."""
    kinds = list(Kind)
    others = [change for change in found.changes if not change.fills]
    for words, listed in (("Numbers that parts.csv names", found.ours), ("Other numbers", others)):
        if listed:
            yield words, sorted(listed, key=lambda change: (kinds.index(change.kind), change.part_number))


def change_line(change: Change) -> list[str]:
    """A number before and now, as cells under `HEAD`."""

    def amount(value: Decimal | None) -> str:
        return "-" if value is None else money(value)

    more = change.difference
    differs = f"{more:+.2f}" if more else ""
    percent = f"{change.percent:+}%" if change.percent else ""
    words = "" if change.kind in (Kind.DEARER, Kind.CHEAPER, Kind.TERMS) else KIND_WORDS[change.kind]
    terms = "; ".join(f"{field_words(name)} {_told(name, old)} -> {_told(name, new)}"
                      for name, (old, new) in change.terms.items())  # fmt: skip
    what = " + ".join(change.designs) or change.description
    return [change.part_number, what, amount(change.price_before), amount(change.price_after), differs, percent,
            words or terms]  # fmt: skip


def _told(name: str, value: Any) -> str:
    if value is None or value == ():
        return "not stated"
    if name == "breaks":
        return ", ".join(f"{step.quantity}+ {money(step.price)}" for step in value)
    return str(term(name, value))


def term(name: str, value: Any) -> Any:
    """A term as it is said."""
    if name == "breaks":
        return {str(step.quantity): money(step.price) for step in value}
    if isinstance(value, Decimal):
        return money(value)
    return value.isoformat() if isinstance(value, date) else value


# -- open jobs --


def rebought_words(jobs: Sequence[Rebought]) -> str:
    """How many jobs would be bought differently."""
    differs = sum(item.outcome == "differs" for item in jobs)
    repriced = sum(item.outcome == "repriced" for item in jobs)
    return (f"{differs} of {len(jobs)} would be bought differently, {repriced} the same at another cost, "
            f"{len(jobs) - differs - repriced} not touched")  # fmt: skip


def rebought_lines(jobs: Iterable[Rebought]) -> Iterator[tuple[Rebought, str]]:
    """Each job that would be bought differently, then each at another cost."""
    ordered = sorted(jobs, key=lambda item: item.job.number)
    for item in ordered:
        if item.outcome == "differs":
            yield item, f"{item.job.number}: {_outcome(item.before)} before, {_outcome(item.after)} now{_instead(item)}"
    for item in ordered:
        if item.outcome == "repriced":
            yield (
                item,
                f"{item.job.number}: {_outcome(item.before)} before, {_cost(item.after)} now, for the same purchases",
            )


def _outcome(answered: Answered | None) -> str:
    if answered is None:
        return "no quote"
    plan = answered.plan
    if plan.choice is None:
        return {"open": "open (a fact decides)", "impossible": "impossible"}.get(plan.status.value, "no plan found")
    family = plan.problem.family
    design = plan.choice.combination[family.lead.code]
    return f"{_short(family.name_of(design), [family.name_of(one) for one in family.design])} {text(plan.cost)}"


def _short(name: str, names: Sequence[str]) -> str:
    """A name up to its first comma, where that still tells it from every other."""
    short = name.split(",")[0]
    return short if sum(other.split(",")[0] == short for other in names) == 1 else name


def _cost(answered: Answered | None) -> str:
    return text(answered.plan.cost) if answered and answered.plan.choice else "no plan"


def _instead(item: Rebought) -> str:
    if item.before is None or item.after is None or not item.before.plan.choice or not item.after.plan.choice:
        return ""
    old, new = supplied(item.before.plan), supplied(item.after.plan)
    buys, leaves = [one for one in new if one not in old], [one for one in old if one not in new]
    if buys and leaves:
        return f" (buys {', '.join(buys)} instead of {', '.join(leaves)})"
    if buys or leaves:
        return f" (buys {', '.join(buys)} as well)" if buys else f" (no longer buys {', '.join(leaves)})"
    return " (the same parts, by other freight or in other quantities)"
