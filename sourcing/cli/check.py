"""`sourcing check`: a combination that somebody proposes, tested rule by rule."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

import typer

from sourcing.book.family import NONE, Family
from sourcing.book.verdict import Ruling, Verdict, judge
from sourcing.bookshelf import Bookshelf
from sourcing.cli.ending import Exit
from sourcing.cli.lines import WIDTH
from sourcing.faults import BadInput, BadValue, Fault, RepeatedCode, UnknownName, shown
from sourcing.job import Job
from sourcing.settings import standings_of

WORDS = {"broken": "NO", "open": "?", "holds": "ok", "silent": "-"}


def check_job(path: Path, proposed: Sequence[str], catalogs: Path, as_json: bool) -> Exit:
    """Test a proposal for a job's unit: 0 valid, 3 not valid, 5 open."""
    shelf = Bookshelf(catalogs)
    job = shelf.read_job(path)
    family = shelf.family(job.job.family)
    proposal = _proposal(family, proposed)
    verdicts = [judge(family, standing, proposal) for standing in standings_of(job, family, shown(path))]
    answers = {verdict.valid for verdict in verdicts}
    valid = answers.pop() if len(answers) == 1 else None
    if as_json:
        typer.echo(json.dumps(_record(job, proposal, verdicts, valid), ensure_ascii=False))
    else:
        typer.echo("\n".join(_told(job, family, proposal, verdicts, valid)))
    return Exit.UNPROVEN if valid is None else Exit.PROVEN if valid else Exit.IMPOSSIBLE


def _proposal(family: Family, proposed: Sequence[str]) -> dict[str, str]:
    """POSITION=DESIGN words as a proposal, in the order of the book. Raises BadInput with every fault of them."""
    faults: list[Fault] = []
    said: dict[str, str] = {}
    for word in proposed:
        position, sign, design = (part.strip() for part in word.partition("="))
        if not sign or not position or not design:
            faults.append(BadValue(place=word, found=f'"{word}"', expected="POSITION=DESIGN, such as block=block-b"))
        elif position not in family.position:
            known = ", ".join(family.position)
            faults.append(
                UnknownName(place=word, found=f'"{position}"', expected=f"a position of {family.code}: {known}")
            )
        elif design not in family.holds[position]:
            known = ", ".join(family.holds[position])
            faults.append(UnknownName(place=word, found=f'"{design}"', expected=f"a design of {position}: {known}"))
        elif position in said:
            faults.append(RepeatedCode(place=word, found=f'"{position}" twice', expected="each position once",
                                       remedy="Name one design for it."))  # fmt: skip
        else:
            said[position] = design
    if faults:
        raise BadInput(faults)
    return {position: said[position] for position in family.position if position in said}


def _record(job: Job, proposal: dict[str, str], verdicts: Sequence[Verdict], valid: bool | None) -> dict[str, Any]:
    return {
        "job": job.number,
        "era": [verdict.standing.era for verdict in verdicts],
        "combination": proposal,
        "valid": "open" if valid is None else valid,
        "eras": [
            {
                "era": verdict.standing.era,
                "valid": "open" if verdict.valid is None else verdict.valid,
                "reasons": [{"rule": r.code, "says": r.says, "source": r.source} for r in verdict.reasons],
                "rules": [_ruling_record(ruling) for ruling in verdict.rulings],
                "completed": dict(verdict.completed),
            }
            for verdict in verdicts
        ],
    }


def _ruling_record(ruling: Ruling) -> dict[str, Any]:
    rule = ruling.rule
    return {"rule": rule.code, "result": ruling.result, "says": rule.says, "source": rule.source, "caution": rule.caution,
            "hangs_on": list(ruling.hangs_on)}  # fmt: skip


def _told(
    job: Job, family: Family, proposal: dict[str, str], verdicts: Sequence[Verdict], valid: bool | None
) -> Iterator[str]:
    head = f"Job {job.number}, {family.family.name}: {_named(family, proposal) or 'nothing proposed'}"
    yield from wrap(head, WIDTH)
    for verdict in verdicts:
        yield ""
        word = "OPEN" if verdict.valid is None else "valid" if verdict.valid else "NOT VALID"
        yield f"{word} in a unit of {family.era[verdict.standing.era].name}"
        yield from _told_verdict(family, proposal, verdict)
    if valid is None and len({verdict.valid for verdict in verdicts}) > 1:
        yield from ("", "To ask", "  - When was the unit built?")
    yield ""
    yield "The maker's service information comes before anything said here."


def _named(family: Family, proposal: dict[str, str]) -> str:
    return ", ".join(f"{p} {d if d != NONE else 'left empty'}" for p, d in proposal.items() if p in family.position)


def _told_verdict(family: Family, proposal: dict[str, str], verdict: Verdict) -> Iterator[str]:
    told = {ruling.rule.code for ruling in verdict.rulings if ruling.result == "broken"}
    for reason in verdict.reasons:
        if reason.code not in told:
            yield _line("NO", reason.says + (f" ({reason.code}, {reason.source})" if reason.source else ""))
    silent = []
    for ruling in sorted(verdict.rulings, key=lambda ruling: list(WORDS).index(ruling.result)):
        rule = ruling.rule
        if ruling.result == "silent":
            silent.append(rule.code)
            continue
        hangs = f" [hangs on {', '.join(ruling.hangs_on)}]" if ruling.hangs_on else ""
        yield _line(WORDS[ruling.result], f"{rule.says} ({rule.code}, {rule.source}){hangs}")
        if rule.caution:
            yield from wrap(f"Caution: {rule.caution}", WIDTH, initial_indent="       ", subsequent_indent="       ")
    if silent:
        yield _line("-", f"no say here: {', '.join(silent)}")
    more = {key: value for key, value in verdict.completed.items() if key not in proposal}
    if verdict.valid is None and more:
        facts = ", ".join(f"{key} {value}" for key, value in more.items() if key not in family.position)
        parts = _named(family, more)
        yield from wrap(f"It is valid with {parts}{f' ({facts})' if facts else ''}, for one.", WIDTH)


def _line(word: str, says: str) -> str:
    return "\n".join(wrap(says, WIDTH, initial_indent=f"  {word:<3}  ", subsequent_indent="       "))
