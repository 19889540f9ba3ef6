"""What a received sheet changed: on the screen, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from textwrap import wrap
from typing import Any

from sourcing.cli.asking import FIELD_WORDS
from sourcing.cli.lines import WIDTH, bullet
from sourcing.cli.sheets import money, table_lines
from sourcing.decision.possibilities import Answered
from sourcing.decision.rebuying import Rebought, supplied
from sourcing.money import text
from sourcing.prices.changes import Change, Changes, Kind

KIND_WORDS = {
    Kind.NEW: "new", Kind.GONE: "gone", Kind.BARRED: "without a usable price now", Kind.DEARER: "dearer",
    Kind.CHEAPER: "cheaper", Kind.TERMS: "at the same price on other terms",
}  # fmt: skip


def changes_record(found: Changes, currency: str) -> dict[str, Any]:
    return {
        "currency": currency,
        "counts": {kind.value: len(found.of(kind)) for kind in Kind} | {"same": found.same},
        "numbers": [_change_record(change) for change in found.changes],
        "designs": {design: [change.part_number for change in listed] for design, listed in found.designs.items()},
    }


def _change_record(change: Change) -> dict[str, Any]:
    def amount(value: Decimal | None) -> str | None:
        return None if value is None else money(value)

    return {
        "part_number": change.part_number, "description": change.description, "kind": change.kind.value,
        "designs": list(change.designs), "before": amount(change.price_before), "after": amount(change.price_after),
        "difference": amount(change.difference), "percent": None if change.percent is None else str(change.percent),
        "terms": {name: [_term(name, value) for value in pair] for name, pair in change.terms.items()},
        "why": change.why,
    }  # fmt: skip


def _term(name: str, value: Any) -> Any:
    if name == "breaks":
        return {str(step.quantity): money(step.price) for step in value}
    if isinstance(value, Decimal):
        return money(value)
    return value.isoformat() if isinstance(value, date) else value


def told_changes(found: Changes, since: str, currency: str, most: int) -> Iterator[str]:
    """What changed: counted, then our own parts one by one, then the others."""
    yield ""
    if since:
        yield f"What changed since {since} (prices in {currency})"
    else:
        yield f"It is this supplier's first sheet in force (prices in {currency})"
    counts = [f"{len(found.of(kind))} {KIND_WORDS[kind]}" for kind in Kind if found.of(kind)]
    yield "  " + ", ".join([*counts, f"{found.same} as before"])
    ours = found.ours
    others = [change for change in found.changes if not change.fills]
    for words, listed in (("Numbers that parts.csv names", ours), ("Other numbers", others)):
        if listed:
            yield ""
            yield words
            yield from _told_list(listed, most)
    if ours:
        yield ""
        yield from wrap(f"Designs touched: {', '.join(found.designs)}", WIDTH, subsequent_indent="  ")


def _told_list(listed: Sequence[Change], most: int) -> Iterator[str]:
    kinds = list(Kind)
    ordered = sorted(listed, key=lambda change: (kinds.index(change.kind), change.part_number))[:most]
    if ordered:
        head = ["part number", "what it is", "before", "now", "", "", ""]
        yield from table_lines([head, *(_line(change) for change in ordered)])
    if len(listed) > most:
        yield f"  ... and {len(listed) - most} more (--json lists all)"


def _line(change: Change) -> list[str]:
    def amount(value: Decimal | None) -> str:
        return "-" if value is None else money(value)

    more = change.difference
    differs = f"{more:+.2f}" if more else ""
    percent = f"{change.percent:+}%" if change.percent else ""
    words = "" if change.kind in (Kind.DEARER, Kind.CHEAPER, Kind.TERMS) else KIND_WORDS[change.kind]
    terms = "; ".join(f"{FIELD_WORDS.get(name, name)} {_told(name, old)} -> {_told(name, new)}"
                      for name, (old, new) in change.terms.items())  # fmt: skip
    what = " + ".join(change.designs) or change.description
    return [change.part_number, what, amount(change.price_before), amount(change.price_after), differs, percent,
            words or terms]  # fmt: skip


def _told(name: str, value: Any) -> str:
    if value is None or value == ():
        return "not stated"
    if name == "breaks":
        return ", ".join(f"{step.quantity}+ {money(step.price)}" for step in value)
    return str(_term(name, value))


# -- open jobs --


def jobs_record(jobs: Sequence[Rebought]) -> list[dict[str, Any]]:
    return [
        {"job": item.job.number, "date": item.job.job.date.isoformat(), "outcome": item.outcome,
         "before": _answer_record(item.before), "after": _answer_record(item.after)}
        for item in jobs if item.outcome != "untouched"
    ]  # fmt: skip


def _answer_record(answered: Answered | None) -> dict[str, Any] | None:
    if answered is None:
        return None
    plan = answered.plan
    lead = plan.problem.family.lead.code
    return {
        "status": plan.status.value,
        "design": plan.choice.combination[lead] if plan.choice else None,
        "cost": text(plan.cost) if plan.choice else None,
        "buys": supplied(plan),
    }


def told_jobs(jobs: Sequence[Rebought], folder: str, day: date, failed: Mapping[str, str]) -> Iterator[str]:
    """Which open jobs would be bought differently, which at another cost, and which could not be looked at."""
    yield ""
    yield f"Open jobs in {folder}, each as of {day.isoformat()} or its own later date"
    jobs = sorted(jobs, key=lambda item: item.job.number)
    differs = [item for item in jobs if item.outcome == "differs"]
    repriced = [item for item in jobs if item.outcome == "repriced"]
    rest = len(jobs) - len(differs) - len(repriced)
    yield (f"  {len(differs)} of {len(jobs)} would be bought differently, {len(repriced)} the same at another cost, "
           f"{rest} not touched")  # fmt: skip
    for item in differs:
        yield bullet(f"{item.job.number}: {_outcome(item.before)} before, {_outcome(item.after)} now{_instead(item)}")
    for item in repriced:
        yield bullet(
            f"{item.job.number}: {_outcome(item.before)} before, {_cost(item.after)} now, for the same purchases"
        )
    for name, why in failed.items():
        yield bullet(f"{name} could not be looked at: {why}")


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
