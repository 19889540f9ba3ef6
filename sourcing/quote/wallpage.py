"""The compatibility chart as a page to hang on the wall: one file, no script, nothing from outside, A4 or letter."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from sourcing.book.chart import Cell, Chart, EraChart, Row, Why
from sourcing.book.family import NONE, Family
from sourcing.quote.sheets.texts import clean

STYLE = """
@page { size: landscape; margin: 11mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.3 Arial, Helvetica, sans-serif; color: #111; margin: 6mm; }
h1 { font-size: 17pt; margin: 0; }
h2 { font-size: 13pt; margin: 0 0 2mm; }
section { break-after: page; break-inside: avoid-page; margin-top: 5mm; }
section:last-of-type { break-after: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #666; padding: 1mm 1.4mm; vertical-align: top; text-align: left; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th { font-weight: bold; background: #eee; }
td { text-align: center; }
td.yes { font-weight: bold; font-size: 12pt; }
td.no { background: #ccc; }
td.depends { background: repeating-linear-gradient(45deg, #fff 0 2mm, #eaeaea 2mm 2.6mm); }
th.row { width: 24%; }
.small { font-size: 8.5pt; font-weight: normal; }
ol { margin: 2mm 0 0; padding-left: 6mm; font-size: 9pt; columns: 2; column-gap: 8mm; }
li { break-inside: avoid; }
.safety { font-size: 8.5pt; margin: 2mm 0 0; }
.caution { border: 2px solid #111; padding: 2mm 3mm; margin: 3mm 0 0; break-inside: avoid; }
.caution p { margin: 0 0 1mm; }
@media print { body { margin: 0; } }
"""
MARKS = {"yes": "yes", "no": "no", "depends": "if"}
SAFETY = (
    "A wrong combination can let an engine start in gear. With the wheels blocked, check that it starts in park and neutral"
    " only. The maker's service information, local codes and licensed practice come before this chart."
)


def wall_page(chart: Chart) -> str:
    """The whole page as HTML."""
    family = chart.family
    title = f"What goes with which {family.lead.name.lower()}: {family.family.name}"
    return "\n".join([
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_text(title)}</title><style>{STYLE}</style></head><body>",
        f"<h1>{_text(title)}</h1>",
        f"<p><b>yes</b>: some valid unit of the era holds both. <b>if</b>: not always; the numbers say when it does not."
        f" <b>no</b>: never; the numbers say why.{_left_out(chart)}</p>",
        *(line for era in chart.eras for line in _section(chart, era)),
        '<div class="caution">' if chart.cautions else "<div hidden>",
        "<p><b>Cautions of the book</b></p>",
        *(f"<p>{_text(rule.caution)} <span class=small>({_text(rule.code)}, {_text(rule.source)})</span></p>"
          for rule in chart.cautions),
        "</div></body></html>",
        "",
    ])  # fmt: skip


def _text(words: str) -> str:
    return escape(clean(words))


def _left_out(chart: Chart) -> str:
    if not chart.left_out:
        return ""
    return f" Left out, as no rule names them together with it: {len(chart.left_out)} positions."


def _section(chart: Chart, era: EraChart) -> Iterator[str]:
    family, lead = chart.family, chart.family.lead
    built = f"{era.era.from_} to {era.era.to or 'the end'}"
    yield f"<section><h2>{_text(era.era.name)} <span class=small>({_text(era.era.code)}, built {built})</span></h2>"
    if not era.rows:
        yield f"<p>The book lets no {_text(lead.name.lower())} into a unit of this era.</p></section>"
        return
    positions = "".join(
        f"<th colspan={len(held)}>{_text(family.position[p].name)}</th>" for p, held in era.columns if held
    )
    designs = "".join(f"<th>{_design(family, design)}</th>" for _, held in era.columns for design in held)
    yield f"<table><thead><tr><th rowspan=2 class=row>{_text(lead.name)}</th>{positions}</tr><tr>{designs}</tr></thead><tbody>"
    notes = era.notes
    yield from (_row(family, row, notes) for row in era.rows)
    yield "</tbody></table>"
    if notes:
        yield "<ol>"
        yield from (f"<li>{_note(why)}</li>" for why in notes)
        yield "</ol>"
    yield f"<p class=safety><b>{_text(SAFETY)}</b></p></section>"


def _design(family: Family, design: str) -> str:
    if design == NONE:
        return "nothing"
    return f"{_text(design)}<br><span class=small>{_text(family.name_of(design))}</span>"


def _row(family: Family, row: Row, notes: tuple[Why, ...]) -> str:
    how = "the factory's" if row.fitted else "goes in by retrofit"
    not_if = f"<br>not if {_numbers(row.why, notes)}" if row.why else ""
    head = f"<th>{_design(family, row.design)}<br><span class=small>{how}{not_if}</span></th>"
    return f"<tr>{head}{''.join(_cell(cell, notes) for cell in row.cells)}</tr>"


def _cell(cell: Cell, notes: tuple[Why, ...]) -> str:
    numbers = f" <span class=small>{_numbers(cell.why, notes)}</span>" if cell.why else ""
    return f"<td class={cell.goes}>{MARKS[cell.goes]}{numbers}</td>"


def _numbers(whys: tuple[Why, ...], notes: tuple[Why, ...]) -> str:
    return ", ".join(str(notes.index(why) + 1) for why in whys)


def _note(why: Why) -> str:
    when = f"<b>Not with {_text(why.when)}.</b> " if why.when else ""
    source = (
        f" <span class=small>({_text(why.reason.code)}, {_text(why.reason.source)})</span>" if why.reason.source else ""
    )
    return f"{when}{_text(why.reason.says)}{source}"
