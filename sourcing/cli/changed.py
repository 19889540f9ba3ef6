"""What a received sheet changed: on the screen, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from textwrap import wrap
from typing import Any

from sourcing.cli.lines import WIDTH, bullet
from sourcing.cli.sheets import table_lines
from sourcing.decision.possibilities import Answered
from sourcing.decision.rebuying import Rebought, supplied
from sourcing.money import text
from sourcing.prices.changes import Change, Changes, Kind
from sourcing.prices.sheetwords import money
from sourcing.quote.changed import (
    HEAD,
    change_line,
    counts_words,
    lists_of,
    rebought_lines,
    rebought_words,
    since_words,
    term,
)


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
        "terms": {name: [term(name, value) for value in pair] for name, pair in change.terms.items()},
        "why": change.why,
    }  # fmt: skip


def told_changes(found: Changes, since: str, currency: str, most: int) -> Iterator[str]:
    """What changed: counted, then our own parts one by one, then the others."""
    yield ""
    yield since_words(since, currency)
    yield "  " + counts_words(found)
    for words, listed in lists_of(found):
        yield ""
        yield words
        yield from _told_list(listed, most)
    if found.ours:
        yield ""
        yield from wrap(f"Designs touched: {', '.join(found.designs)}", WIDTH, subsequent_indent="  ")


def _told_list(listed: Sequence[Change], most: int) -> Iterator[str]:
    if listed[:most]:
        yield from table_lines([HEAD, *(change_line(change) for change in listed[:most])])
    if len(listed) > most:
        yield f"  ... and {len(listed) - most} more (--json lists all)"


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
    yield f"  {rebought_words(jobs)}"
    yield from (bullet(words) for _, words in rebought_lines(jobs))
    for name, why in failed.items():
        yield bullet(f"{name} could not be looked at: {why}")
