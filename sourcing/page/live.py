"""What a form says beside its fields while it is filled in: which designs fit, what is on the bench, what it would cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sourcing.book.fits import FitsIn
from sourcing.decision.possibilities import Answered
from sourcing.faults import BadInput, OurFault
from sourcing.jobfile import JobFile
from sourcing.page.desk import Benched, Desk


@dataclass(frozen=True)
class Live:
    """The panel beside a form. What cannot be told stands among the faults."""

    fits: tuple[FitsIn, ...] = ()
    benched: Benched | None = None
    answered: Answered | None = None
    faults: tuple[str, ...] = ()


def beside(desk: Desk, which: str, file: JobFile) -> dict[str, Any]:
    """The panel of a form, for a job as it would be saved."""
    faults: list[str] = []
    said: dict[str, Any] = {}
    try:
        if which == "unit":
            said["fits"] = desk.fits(file)
        if which == "bench":
            said["benched"] = desk.benched(file)
        said["answered"] = desk.answered(file)
    except BadInput as error:
        faults += [str(fault) for fault in error.faults]
    except OurFault as error:
        faults.append(f"This is a defect of the tool: {error}")
    return {"live": Live(**said, faults=tuple(faults)), "which": which}
