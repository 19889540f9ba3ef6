"""What is on the bench, as the JSON object that scripts read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sourcing.book.bench import Bench, Candidate, InEra
from sourcing.book.looks import Look
from sourcing.book.misfits import Misfit

Worth = Mapping[tuple[str, str], str]


def bench_record(number: str, bench: Bench, worth: Worth) -> dict[str, Any]:
    """The object of one job; `combinations` counts whole combinations that contradict no mark seen, valid or not.

    `worth` : what a look is worth in money, by position and mark, where that is known
    """
    return {
        "job": number,
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
