"""A study as one page for the screen and for paper: no script, no address, everything in the one file.

Equal studies give equal bytes. The page is drawn in black on white; whatever was read from a file stands in it as text.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from sourcing.decision.study import Study
from sourcing.decision.trend import Moment
from sourcing.labels import labels_of
from sourcing.quote.cautions import cautions, for_all_work
from sourcing.quote.placed import put_in_place
from sourcing.quote.sections.assumptions import assumptions_section
from sourcing.quote.sections.frontiers import frontiers_section
from sourcing.quote.sections.others import best_section, instead_section
from sourcing.quote.sections.parts import bullets, section
from sourcing.quote.sections.prices import asks_section, cliffs_section, turns_section
from sourcing.quote.sections.routes import answer_section, routes_section
from sourcing.quote.sections.trend import trend_section
from sourcing.quote.style import STYLE
from sourcing.quote.tags import Markup, join, name, tag

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def write_report(study: Study, moments: Sequence[Moment] | None, path: Path) -> None:
    """Write the report of a study to `path`, with the job's trend where `moments` are given.

    Raises
    ------
    OSError
        The file cannot be put there; an old one is untouched.
    """
    put_in_place(report_text(study, moments).encode("utf-8"), path)


def report_text(study: Study, moments: Sequence[Moment] | None = None) -> str:
    """The whole page."""
    problem = study.plan.problem
    title = f"Job {problem.job.number}: the decision"
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light"),
        tag("title", title),
        tag("style", Markup(STYLE)),
    )
    body = tag("body", tag("main", *_head(study, title), *sections_of(study, moments), _noted(study), _cautions(study)))
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en')}\n"


def _head(study: Study, title: str) -> Iterator[Markup]:
    problem = study.plan.problem
    job, family = problem.job, problem.family
    facts = ", ".join(f"{code} {value}" for code, value in job.facts.items())
    unit = [family.era[problem.setting.era].name, facts]
    yield tag("h1", title)
    yield tag("p", join((name(family.family.name), "; unit of ", name("; ".join(word for word in unit if word)),
                         f". Prices of {job.job.date.isoformat()}, amounts in {problem.shop.currency}.")))  # fmt: skip
    yield tag("p", "For the shop only: it holds purchase prices and suppliers.", class_="label")


def sections_of(study: Study, moments: Sequence[Moment] | None) -> Iterator[Markup]:
    """What a study says, section by section; those that say nothing are left out."""
    made = (
        answer_section(study),
        routes_section(study.comparison),
        turns_section(study),
        asks_section(study),
        cliffs_section(study),
        frontiers_section(study),
        best_section(study),
        instead_section(study),
        assumptions_section(study),
        trend_section(moments) if moments else None,
    )
    yield from (section for section in made if section is not None)


def _noted(study: Study) -> Markup | None:
    notes = study.plan.problem.notes
    return section("Noted", bullets(notes)) if notes else None


def _cautions(study: Study) -> Markup:
    """What must be watched; without a plan, who decides."""
    said = cautions(study.plan) or for_all_work(labels_of("en"))[-1:]
    return section("Check before the vehicle moves", bullets(caution.says for caution in said))
