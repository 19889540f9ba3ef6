"""`sourcing identify`: what is on the bench, whether it belongs together, and what to look at next."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from textwrap import wrap
from typing import Any

import typer

from sourcing.book.bench import Bench, Candidate, InEra, identify
from sourcing.book.family import NONE
from sourcing.book.looks import Look
from sourcing.book.misfits import Misfit
from sourcing.bookshelf import Bookshelf
from sourcing.cli import Exit
from sourcing.cli.lines import WIDTH, bullet
from sourcing.faults import BadInput, shown
from sourcing.job import Job
from sourcing.plan import Plan
from sourcing.settings import standings_of

MOST_LISTED = 6
Worth = dict[tuple[str, str], str]


def identify_job(path: Path, catalogs: Path, as_json: bool) -> Exit:
    """Identify what is on the bench of one job: 0 where it is settled whether it belongs together, else 5."""
    shelf = Bookshelf(catalogs)
    job = shelf.read_job(path)
    family = shelf.family(job.job.family)
    bench = identify(family, standings_of(job, family, shown(path)), job.found, shelf.mixed_share())
    worth, why_not = _worth(shelf, job, shown(path), bench)
    if as_json:
        typer.echo(json.dumps(bench_record(job, bench, worth), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(job, bench, worth, why_not)))
    return Exit.UNPROVEN if bench.valid is None else Exit.PROVEN


def _worth(shelf: Bookshelf, job: Job, file: str, bench: Bench) -> tuple[Worth, str]:
    """What the most telling looks are worth in money, and why that is not told where it is not."""
    if not bench.looks or not shelf.priced:
        return {}, ""
    from sourcing.decision.looks import MOST_LOOKS, worths
    from sourcing.folder import Folder
    from sourcing.money import text
    from sourcing.prices.cache import Cache
    from sourcing.problem import Problem
    from sourcing.program.answer import answer

    def cost_only(problem: Problem) -> Plan:
        return answer(problem, ties=False)

    try:
        folder = Folder(shelf.path, Cache())
        found = worths(job, bench.looks, lambda changed: folder.problems_of(changed, file), cost_only)
    except BadInput as error:
        return {}, f"What a look is worth cannot be told: {error.faults[0]}"
    if found is None:
        return {}, "What a look is worth cannot be told: by what is known now there is no plan, or it is open."
    said = f"Money: the plan made now less what plans made after the look cost on average; the first {MOST_LOOKS} looks only."
    return {(one.look.mark.position, one.look.mark.code): text(one.cents) for one in found}, said


def bench_record(job: Job, bench: Bench, worth: Worth) -> dict[str, Any]:
    """The JSON object; `combinations` counts whole combinations that contradict no mark seen, valid or not."""
    return {
        "job": job.number,
        "era": [one.standing.era for one in bench.eras],
        "positions": {p: [_candidate_record(one) for one in ones] for p, ones in bench.candidates.items()},
        "combinations": bench.combinations,
        "valid": "open" if bench.valid is None else bench.valid,
        "reasons": _reason_records(bench),
        "look_next": [_look_record(look, worth) for look in bench.looks],
        "eras": [_era_record(one) for one in bench.eras],
        "mixed": _agreed([one.mixed for one in bench.eras]),
        "swapped": {position: _number(chance) for position, chance in bench.swapped.items()},
        "ask": [
            {"key": ask.key, "ask": ask.ask, "answers": {v: "open" if a is None else a for v, a in ask.outcomes}}
            for ask in bench.asks
        ],
        "nearest": {p: [_candidate_record(one) for one in ones] for p, ones in bench.nearest.items()},
        "notes": list(bench.notes),
    }


def _candidate_record(one: Candidate) -> dict[str, Any]:
    said = {"design": one.design, "agrees": list(one.agrees), "contradicts": list(one.contradicts)}
    return {**said, "chance": _number(one.chance)}


def _number(chance: Fraction | None) -> float | None:
    return None if chance is None else round(float(chance), 6)


def _agreed(answers: Sequence[bool]) -> bool | str:
    return answers[0] if len(set(answers)) == 1 else "open"


def _reason_records(bench: Bench) -> list[dict[str, Any]]:
    """Each reason once, with the eras in which it stands; `all`: whether everything that was seen breaks it there."""
    said: dict[tuple[str, str], dict[str, Any]] = {}
    for one in bench.eras:
        for reason in one.reasons:
            known = said.setdefault(
                (reason.code, reason.says),
                {"rule": reason.code, "says": reason.says, "source": reason.source, "positions": list(reason.positions),
                 "eras": [], "all": one.valid is False},
            )  # fmt: skip
            known["eras"].append(one.standing.era)
            known["all"] = known["all"] and one.valid is False
    return list(said.values())


def _era_record(one: InEra) -> dict[str, Any]:
    return {
        "era": one.standing.era,
        "chance": _number(one.chance),
        "valid": "open" if one.valid is None else one.valid,
        "valid_combinations": one.combinations,
        "as_built": one.built,
        "mixed": one.mixed,
        "does_not_belong": [[[_misfit_record(misfit) for misfit in way] for way in ways] for ways in one.misfits],
    }


def _misfit_record(misfit: Misfit) -> dict[str, Any]:
    rules = [{"rule": reason.code, "says": reason.says, "source": reason.source} for reason in misfit.reasons]
    return {"position": misfit.position, "designs": list(misfit.designs), "reasons": rules}


def _look_record(look: Look, worth: Worth) -> dict[str, Any]:
    mark = look.mark
    return {
        "position": mark.position,
        "mark": mark.code,
        "ask": mark.ask,
        "needs": mark.needs,
        "separates": list(look.separates),
        "bits": round(look.bits, 6),
        "answers": [
            {"answer": outcome.answer, "chance": _number(outcome.chance), "leaves": list(outcome.leaves)}
            for outcome in look.outcomes
        ],
        "worth": worth.get((mark.position, mark.code)),
    }


def _told(job: Job, bench: Bench, worth: Worth, why_not: str) -> Iterator[str]:
    family = bench.family
    head = f"Job {job.number}, {family.family.name}: what is on the bench"
    yield from (head, "=" * len(head), "")
    yield from _told_unit(job, bench)
    yield ""
    yield from _told_positions(bench)
    yield ""
    yield from _told_validity(bench)
    for one in bench.eras:
        yield from _told_era(bench, one)
    yield from _told_looks(bench, worth, why_not)
    if bench.asks:
        yield from ("", "To ask")
        for ask in bench.asks:
            answers = "; ".join(f"{value}: {_word(answer)}" for value, answer in ask.outcomes)
            yield bullet(f"{ask.ask} ({answers})")
    if bench.notes:
        yield from ("", "Noted", *(bullet(note) for note in bench.notes))
    yield from ("", *wrap("The book says what its author wrote into it. Where the maker's service information says otherwise, "
                          "that is right.", WIDTH))  # fmt: skip


def _told_unit(job: Job, bench: Bench) -> Iterator[str]:
    family = bench.family
    tag = f', tag "{job.unit.tag}"' if job.unit.tag else ""
    names = [
        family.era[one.standing.era].name + (f" ({_percent(one.chance)})" if len(bench.eras) > 1 and one.chance else "")
        for one in bench.eras
    ]
    yield from wrap(f"Unit of {' or '.join(names)}{tag}", WIDTH)
    if job.unit_undated and job.vehicle is not None and len(bench.eras) < len(family.eras):
        yield "  dated by the vehicle: the unit has no date of its own. Units get swapped; look at its tag"


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
            chance = f"{_percent(one.chance):>4}  " if len(ones) > 1 else ""
            seen = f"  <- {', '.join(one.agrees)}" if len(ones) == 1 and one.agrees else ""
            named = "nothing" if one.design == NONE else f"{family.name_of(one.design)} ({one.design})"
            yield from _beside("" if number else name, width, f"{chance}{named}{seen}")
        if len(ones) > MOST_LISTED:
            yield from _beside("", width, f"and {len(ones) - MOST_LISTED} more")


def _beside(name: str, width: int, words: str) -> list[str]:
    head = f"  {name:<{width}}  "
    lines = wrap(words, WIDTH, initial_indent=head, subsequent_indent=" " * len(head), drop_whitespace=False)
    return [line.rstrip() for line in lines]


def _told_validity(bench: Bench) -> Iterator[str]:
    count = bench.combinations
    ways = "one whole combination fits" if count == 1 else f"{_many(count)} whole combinations fit"
    if bench.valid is None:
        several = len(bench.eras) > 1
        counted = [
            f"{_many(one.combinations)}{f' in {one.standing.era}' if several else ''}"
            for one in bench.eras
            if one.combinations is not None
        ]
        good = f", of which {' and '.join(counted)} would be valid" if counted else ""
        yield from wrap(f"OPEN whether it belongs together: {ways} what was seen{good}.", WIDTH)
    elif bench.valid:
        yield "It belongs together in this unit."
    elif any(one.mixed for one in bench.eras):
        yield "MIXED BEFORE: it does not belong together in this unit."
    else:
        yield "It belongs together in the unit, but not in this vehicle."


def _told_era(bench: Bench, one: InEra) -> Iterator[str]:
    family = bench.family
    inside = f" in a unit of {family.era[one.standing.era].name}" if len(bench.eras) > 1 else ""
    for ways in one.misfits:
        yield ""
        if len(ways) == 1:
            yield f"Does not belong{inside}"
        else:
            yield f"One of these does not belong{inside}; nothing seen so far says which"
        for way in ways:
            for misfit in way:
                named = " or ".join(family.name_of(design) for design in misfit.designs) or "the part there"
                yield bullet(f"{family.position[misfit.position].name}: {named}")
                for reason in misfit.reasons:
                    by = f" ({reason.code}, {reason.source})" if reason.source else ""
                    yield from wrap(f"{reason.says}{by}", WIDTH, initial_indent="      ", subsequent_indent="      ")
    if one.valid is False and not one.mixed:
        yield from ("", f"Against it{inside}", *(bullet(f"{r.says} ({r.code}, {r.source})") for r in one.reasons))
    if one.valid and not one.built:
        yield f"  but not as the factory built it{inside}: somebody changed it before, by a way that the book allows"
    if one.valid is None and len(one.reasons) and bench.combinations:
        rules = [reason for reason in one.reasons if reason.kind == "rule"]
        if rules:
            listed = ", ".join(reason.code for reason in rules[:MOST_LISTED])
            head = f"{inside.strip().capitalize()} it" if inside else "It"
            yield bullet(f"{head} hangs on: {listed}" + (", ..." if len(rules) > MOST_LISTED else ""))


def _told_looks(bench: Bench, worth: Worth, why_not: str) -> Iterator[str]:
    if not bench.looks:
        yield from ("", "Nothing is left to look at: no unseen mark tells more.")
        return
    yield from ("", "Look next, the most telling first")
    for look in bench.looks[:MOST_LISTED]:
        mark = look.mark
        needs = f"; needs {mark.needs}" if mark.needs else ""
        money = worth.get((mark.position, mark.code))
        said = "" if money is None else ", worth nothing" if money == "0.00" else f", worth {money}"
        yield bullet(f"{bench.family.position[mark.position].name}: {mark.ask}  [{look.bits:.2f} bits{said}{needs}]")
        for outcome in look.outcomes:
            left = ", ".join("nothing" if design == NONE else design for design in outcome.leaves[:MOST_LISTED])
            more = ", ..." if len(outcome.leaves) > MOST_LISTED else ""
            yield f"      {outcome.answer} ({_percent(outcome.chance)}): leaves {left}{more}"
    if len(bench.looks) > MOST_LISTED:
        yield f"  and {len(bench.looks) - MOST_LISTED} more (--json lists all)"
    if why_not:
        yield from wrap(why_not, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _percent(chance: Fraction | None) -> str:
    if chance is None:
        return "?"
    share = float(chance) * 100
    return "<1%" if 0 < share < 1 else ">99%" if 99 < share < 100 else f"{share:.0f}%"


def _many(count: int) -> str:
    return f"{count:,}" if count < 10**9 else f"about 10^{len(str(count)) - 1}"


def _word(answer: bool | None) -> str:
    return "open" if answer is None else "belongs together" if answer else "does not"
