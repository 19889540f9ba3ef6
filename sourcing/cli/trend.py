"""`sourcing trend`: the job at each date on which a price sheet changed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import typer

from sourcing.cli.ending import Exit
from sourcing.cli.plot import plot
from sourcing.counter import answers, moments_of
from sourcing.decision.possibilities import answer_all
from sourcing.decision.trend import Moment
from sourcing.faults import BadInput, MissingFile, shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.money import text
from sourcing.plan import Status
from sourcing.prices.cache import Cache
from sourcing.quote.pictures import trend_picture
from sourcing.quote.record import record

MOST_MOVES = 12


def trend_of(path: Path, catalogs: Path, as_json: bool) -> Exit:
    """Replay one job over the record of prices."""
    folder, by = Folder(catalogs, Cache()), answers()
    job = folder.read_job(path)
    answered = answer_all(folder.problems_of(job, shown(path)), by.cost_only)
    if answered.plan.status == Status.OPEN:
        typer.echo(json.dumps(record(answered)) if as_json else "\n".join(r.says for r in answered.plan.reasons))
        return Exit.UNPROVEN
    if not folder.prices.days():
        where = shown(catalogs / "price-sheets")
        raise BadInput([MissingFile(file=where, expected="a dated price sheet", remedy="File one there.")])
    moments = moments_of(folder, job, shown(path), by)
    if as_json:
        typer.echo(
            json.dumps({"job": job.number, "minimise": job.job.minimise, "dates": [_record(m) for m in moments]})
        )
    else:
        typer.echo("\n".join(_told(job, moments)))
    return Exit.PROVEN if any(moment.best for moment in moments) else Exit.IMPOSSIBLE


def _record(moment: Moment) -> dict[str, Any]:
    return {
        "date": moment.day.isoformat(),
        "design": moment.best.design if moment.best else None,
        "cost": text(moment.best.plan.cost) if moment.best else None,
        "turned": moment.turned,
        "routes": [
            {
                "design": route.design,
                "exact": route.exact,
                "status": route.plan.status.value,
                "cost": text(route.plan.cost) if route.plan.choice else None,
            }
            for route in moment.routes
        ],
        "moved": [
            {
                "supplier": move.supplier,
                "part_number": move.part_number,
                "from": None if move.before_cents is None else text(move.before_cents),
                "to": None if move.after_cents is None else text(move.after_cents),
            }
            for move in moment.moved
        ],
    }


def _told(job: Job, moments: Sequence[Moment]) -> Iterator[str]:
    yield f"Job {job.number} at each date on which a price sheet changed (minimised: {job.job.minimise})"
    for moment in moments:
        yield ""
        yield f"{moment.day.isoformat()}" + ("  THE CHOICE TURNED" if moment.turned else "")
        if moment.best is None:
            yield "  no plan"
        for route in moment.routes:
            if route.plan.choice is not None:
                best = "  <- cheapest" if route is moment.best else ""
                yield f"  {route.design:<16}{text(route.plan.cost):>12}{best}"
        if moment.turned:
            yield from (f"  moved: {move}" for move in moment.moved[:MOST_MOVES])
            if len(moment.moved) > MOST_MOVES:
                yield f"  and {len(moment.moved) - MOST_MOVES} more moved (--json lists all)"
    yield ""
    yield from plot(trend_picture(moments))
