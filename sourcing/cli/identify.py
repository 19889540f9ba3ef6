"""`sourcing identify`: what is on the bench, whether it belongs together, and what to look at next."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap

import typer

from sourcing.book.bench import Bench, InEra, identify
from sourcing.book.benchrecord import Worth, bench_record
from sourcing.book.benchwords import (
    DATED_BY_VEHICLE,
    MOST_LISTED,
    NOTHING_LEFT,
    WHO_DECIDES,
    ask_told,
    changed_before,
    hangs_on,
    inside_told,
    misfit_head,
    outcomes_told,
    percent,
    unit_told,
    verdict_told,
    worth_told,
)
from sourcing.book.family import NONE
from sourcing.bookshelf import Bookshelf
from sourcing.cli.ending import Exit
from sourcing.cli.lines import WIDTH, bullet
from sourcing.faults import shown
from sourcing.job import Job
from sourcing.settings import standings_of


def identify_job(path: Path, catalogs: Path, as_json: bool) -> Exit:
    """Identify what is on the bench of one job: 0 where it is settled whether it belongs together, else 5."""
    shelf = Bookshelf(catalogs)
    job = shelf.read_job(path)
    family = shelf.family(job.job.family)
    bench = identify(family, standings_of(job, family, shown(path)), job.found, shelf.mixed_share())
    worth, why_not = _worth(shelf, job, shown(path), bench)
    if as_json:
        typer.echo(json.dumps(bench_record(job.number, bench, worth), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(job, bench, worth, why_not)))
    return Exit.UNPROVEN if bench.valid is None else Exit.PROVEN


def _worth(shelf: Bookshelf, job: Job, file: str, bench: Bench) -> tuple[Worth, str]:
    """What looks are worth, asked only where there are prices: all that a quote needs is imported for it."""
    if not bench.looks or not shelf.priced:
        return {}, ""
    from sourcing.counter import worths_of

    return worths_of(shelf, job, file, bench)


def _told(job: Job, bench: Bench, worth: Worth, why_not: str) -> Iterator[str]:
    family = bench.family
    head = f"Job {job.number}, {family.family.name}: what is on the bench"
    yield from (head, "=" * len(head), "")
    yield from wrap(unit_told(bench, job.unit.tag), WIDTH)
    if job.dated_by_vehicle and len(bench.eras) < len(bench.family.eras):
        yield f"  {DATED_BY_VEHICLE}"
    yield ""
    yield from _told_positions(bench)
    yield ""
    yield from wrap(verdict_told(bench), WIDTH)
    for one in bench.eras:
        yield from _told_era(bench, one)
    yield from _told_looks(bench, worth, why_not)
    if bench.asks:
        yield from ("", "To ask")
        for ask in bench.asks:
            yield bullet(ask_told(ask))
    if bench.notes:
        yield from ("", "Noted", *(bullet(note) for note in bench.notes))
    yield from ("", *wrap(WHO_DECIDES, WIDTH))  # fmt: skip


def _told_positions(bench: Bench) -> Iterator[str]:
    family = bench.family
    width = max(len(position.name) for position in family.positions)
    for position, ones in bench.candidates.items():
        name = family.position[position].name
        if not ones:
            near = "; ".join(
                f"{family.name_of(one.design)} but for {', '.join(one.contradicts)}"
                for one in bench.nearest[position][:MOST_LISTED]
            )
            yield from _beside(name, width, f"no design of the book has these marks (nearest: {near})")
            continue
        ordered = sorted(ones, key=lambda one: -(one.chance or 0))
        for number, one in enumerate(ordered[:MOST_LISTED]):
            chance = f"{percent(one.chance):>4}  " if len(ones) > 1 else ""
            seen = f"  <- {', '.join(one.agrees)}" if len(ones) == 1 and one.agrees else ""
            named = "nothing" if one.design == NONE else f"{family.name_of(one.design)} ({one.design})"
            yield from _beside("" if number else name, width, f"{chance}{named}{seen}")
        if len(ones) > MOST_LISTED:
            yield from _beside("", width, f"and {len(ones) - MOST_LISTED} more")


def _beside(name: str, width: int, words: str) -> list[str]:
    head = f"  {name:<{width}}  "
    lines = wrap(words, WIDTH, initial_indent=head, subsequent_indent=" " * len(head), drop_whitespace=False)
    return [line.rstrip() for line in lines]


def _told_era(bench: Bench, one: InEra) -> Iterator[str]:
    family = bench.family
    inside = inside_told(bench, one)
    for ways in one.misfits:
        yield ""
        yield misfit_head(one, ways, inside)
        for way in ways:
            for misfit in way:
                named = " or ".join(family.name_of(design) for design in misfit.designs) or "the part there"
                yield bullet(f"{family.position[misfit.position].name}: {named}")
                for reason in misfit.reasons:
                    by = f" ({reason.code}, {reason.source})" if reason.source else ""
                    yield from wrap(f"{reason.says}{by}", WIDTH, initial_indent="      ", subsequent_indent="      ")
    if one.valid is False and not one.mixed:
        yield from ("", f"Against it{inside}", *(bullet(f"{r.says} ({r.code}, {r.source})") for r in one.reasons))
    if changed_before(bench, one):
        yield f"  {changed_before(bench, one)}"
    if hangs_on(bench, one):
        yield bullet(hangs_on(bench, one))


def _told_looks(bench: Bench, worth: Worth, why_not: str) -> Iterator[str]:
    if not bench.looks:
        yield from ("", NOTHING_LEFT)
        return
    yield from ("", "Look next, the most telling first")
    for look in bench.looks[:MOST_LISTED]:
        mark = look.mark
        told = worth_told(look, worth.get((mark.position, mark.code)))
        yield bullet(f"{bench.family.position[mark.position].name}: {mark.ask}  [{told}]")
        yield from (f"      {line}" for line in outcomes_told(look))
    if len(bench.looks) > MOST_LISTED:
        yield f"  and {len(bench.looks) - MOST_LISTED} more (--json lists all)"
    if why_not:
        yield from wrap(why_not, WIDTH, initial_indent="  ", subsequent_indent="  ")
