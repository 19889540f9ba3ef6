"""A form saved into its job's file; or what is wrong with it; or what somebody else saved meanwhile."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from http import HTTPStatus

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from sourcing.book.family import Family
from sourcing.faults import BadInput
from sourcing.jobfile import ChangedMeanwhile, JobFile, save
from sourcing.jobtext import Edits, Lines, changed, clashing, laid_over, lines_of, text_of
from sourcing.page.asked import Forged, Form
from sourcing.page.carried import plain_in
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.forms import FORMS, in_words, keys_in_words

MOST_SIGNS = 100_000  # of a job's lines; a job's file has some thousand
Redraw = Callable[[Lines, Sequence[str]], Response]


@dataclass(frozen=True)
class Edited:
    """A job as a form would have it: the file as it stands, what the form was opened on, and what was changed in it."""

    file: JobFile
    family: Family
    version: str
    base: Lines
    edits: Edits

    @property
    def lines(self) -> dict[str, str]:
        """What the form says, for it to be drawn again."""
        return laid_over(self.base, self.edits)

    @property
    def unsaved(self) -> JobFile:
        """The job as it would be saved, under the name of its file."""
        return JobFile(self.file.path, changed(self.file.text, self.edits)) if self.edits else self.file


def edited(desk: Desk, name: str, which: str, form: Form) -> Edited:
    """What a form would change of a job.

    Raises NotThere, BadInput, or Forged where what the form was opened on is no job's.
    """
    file = desk.file(name)
    base = _lines(form.get("opened"))
    family = desk.family(base)
    fields = FORMS[which](form, family, base)
    edits = {key: value for key, value in fields.items() if base.get(key) != value}
    return Edited(file, family, form.get("version"), base, edits)


def keep(request: Request, desk: Desk, name: str, change: Edited, onward: str, redraw: Redraw) -> Response:
    """Save a change, and go on; where that cannot be, the form again, or what the other one saved."""
    if not change.edits:
        return RedirectResponse(onward, HTTPStatus.SEE_OTHER)
    try:
        save(change.file, change.version, change.edits, change.base, lambda text: desk.check(change.file.path, text))
    except ChangedMeanwhile as first:
        return clash(request, name, change, first, onward)
    except BadInput as error:
        return redraw(change.lines, [str(fault) for fault in error.faults])
    return RedirectResponse(f"{onward}?saved=1", HTTPStatus.SEE_OTHER)


def clash(
    request: Request, name: str, change: Edited, first: ChangedMeanwhile, onward: str, faults: Sequence[str] = ()
) -> Response:
    """What the first one saved, beside what the second one would: field by field, and where they differ a choice."""
    both = clashing(change.edits, first.theirs)
    now = first.now.lines
    theirs = [
        {"key": keys_in_words(key, change.family), "was": in_words(change.base.get(key)), "now": in_words(now.get(key))}
        for key in first.theirs
    ]
    mine = [
        {"number": number, "key": keys_in_words(key, change.family), "was": in_words(change.base.get(key)),
         "now": in_words(now.get(key)), "mine": in_words(value), "both": key in both}
        for number, (key, value) in enumerate(change.edits.items())
    ]  # fmt: skip
    return page(
        request, "clash.html", HTTPStatus.CONFLICT, name=name, theirs=theirs, mine=mine, onward=onward, faults=faults,
        version=first.now.version, opened=text_of(now), edits=json.dumps(dict(change.edits)),
    )  # fmt: skip


def settled(desk: Desk, name: str, form: Form) -> Edited:
    """What is left of the second one's changes after they chose. Raises as `edited` does."""
    base = _lines(form.get("opened"))
    try:
        edits = json.loads(form.get("edits"))
        said = {key: value for key, value in edits.items() if value is not None}
        if set(_lines(text_of(said))) != set(said):  # a value that goes on as a line of its own
            raise Forged
    except (ValueError, TypeError, AttributeError, AssertionError, RecursionError):
        raise Forged from None
    taken = {key: value for number, (key, value) in enumerate(edits.items()) if form.get(f"take-{number}") != "theirs"}
    wanted = {key: value for key, value in taken.items() if base.get(key) != value}
    return Edited(desk.file(name), desk.family(base), form.get("version"), base, _free_of_strangers(wanted, base))


def _free_of_strangers(wanted: Edits, base: Lines) -> dict[str, str | None]:
    """The changes, with what the file says now around or within their places taken out: one place says one thing."""
    edits = dict(wanted)
    for key, value in wanted.items():
        if value is not None:
            edits |= {other: None for other in base if other.startswith(f"{key}.") or key.startswith(f"{other}.")}
    return {key: value for key, value in edits.items() if value is not None or key in base}


def _lines(text: str) -> dict[str, str]:
    if len(text) > MOST_SIGNS:
        raise Forged
    return dict(lines_of(plain_in(text.replace("\r\n", "\n"))))
