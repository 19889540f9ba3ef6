"""The report: one file that fetches nothing, runs nothing, holds every figure of its pictures as text, and reads in grey."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path

import pytest

from quote.hand import Opened, block_and_screen
from quote.studied import JOBS, cost_only, moments_of, studied, study_of
from sourcing.decision.trend import trend
from sourcing.quote import style
from sourcing.quote.pictures import break_even_picture, frontier_picture, trend_picture
from sourcing.quote.report import POLICY, report_text, write_report
from sourcing.quote.svg import draw
from sourcing.quote.tags import name, said, tag

DRAWN = [job for job in JOBS if job != "nothing-crosses"]


def page(job: str) -> ET.Element:
    """The report of a job as a tree: it is well-formed."""
    return parsed(report_text(studied(job), moments_of(job)))


def parsed(whole: str) -> ET.Element:
    head, _, rest = whole.partition("\n")
    assert head == "<!DOCTYPE html>"
    return ET.fromstring(rest)


def words(element: ET.Element) -> str:
    return " ".join("".join(element.itertext()).split())


def tables(tree: ET.Element) -> list[list[list[str]]]:
    return [[[words(cell) for cell in row] for row in table.iter("tr")] for table in tree.iter("table")]


@pytest.mark.parametrize("job", JOBS)
def test_the_page_runs_nothing_and_fetches_nothing(job: str) -> None:
    whole = report_text(studied(job), moments_of(job))
    tree = parsed(whole)
    assert {element.tag for element in tree.iter()} & {
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "a",
        "form",
    } == set()
    for element in tree.iter():
        assert not [key for key in element.attrib if key.startswith("on") or key in ("src", "href", "style", "action")]
    assert "//" not in whole and "url(" not in whole and "@import" not in whole
    policy = next(meta for meta in tree.iter("meta") if meta.get("http-equiv"))
    assert policy.get("content") == POLICY == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    assert tree.get("lang") == "en"


@pytest.mark.parametrize("job", JOBS)
def test_headings_go_down_one_step_at_a_time_and_tables_name_their_rows_and_columns(job: str) -> None:
    tree = page(job)
    levels = [int(element.tag[1]) for element in tree.iter() if re.fullmatch("h[1-6]", element.tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - one <= 1 for one, after in itertools.pairwise(levels))
    for table in tree.iter("table"):
        assert words(next(table.iter("caption")))
        assert {cell.get("scope") for cell in table.iter("th")} <= {"col", "row"}
        columns = [cell for cell in table.iter("th") if cell.get("scope") == "col"]
        for row in next(table.iter("tbody")):
            assert len(row) == len(columns) and row[0].get("scope") == "row"


@pytest.mark.parametrize("job", DRAWN)
def test_every_figure_of_a_picture_stands_in_the_table_beside_it(job: str) -> None:
    seen = studied(job)
    problem = seen.plan.problem
    pictures = [
        *(break_even_picture(found) for found in seen.turns),
        frontier_picture(problem, "day", seen.by_day),
        frontier_picture(problem, "comebacks", [(None, plan) for plan in seen.by_comebacks]),
        frontier_picture(problem, "cash", [(None, plan) for plan in seen.by_cash]),
        trend_picture(moments_of(job)),
    ]
    beside = [element for element in page(job).iter("div") if element.get("class") == "beside"]
    assert len(beside) == len(pictures)
    for picture, element in zip(pictures, beside, strict=True):
        cells = {word for row in tables(element)[0] for cell in row for word in cell.split()}
        for point in (point for series in picture.series for point in series.points()):
            assert {picture.x.says(point.at), picture.y.says(point.value)} <= cells
        for mark in picture.marks:
            assert picture.x.says(mark.at) in cells


@pytest.mark.parametrize("job", DRAWN)
@pytest.mark.parametrize("width", [720, 340])
def test_a_line_lies_where_the_labels_of_the_axes_say(job: str, width: int) -> None:
    """The drawing read back: places of the labels give the scale, the scale gives the figures of the line."""
    for found in studied(job).turns:
        picture = break_even_picture(found)
        tree = ET.fromstring(draw(picture, "k", width))
        shown = [element for element in tree.iter("text") if re.fullmatch(r"-?\d+\.\d\d", words(element))]
        values = [(float(e.get("y", "")), float(words(e))) for e in shown if e.get("text-anchor") == "end"]
        places = [(float(e.get("x", "")), float(words(e))) for e in shown if e.get("text-anchor") == "middle"]
        lift = (picture_font(tree)) * 0.35  # a label's text hangs so much below the place that it names
        for series, path in zip(picture.series, lines(tree, len(picture.series)), strict=True):
            for run, d in zip(series.runs, path, strict=True):
                ends = [tuple(map(float, place.split())) for place in d[1:].split("L")]
                for point, (x, y) in zip(run, ends, strict=True):
                    assert at(values, y + lift) * 100 == pytest.approx(point.value, abs=per_unit(values) * 100)
                    assert at(places, x) * 100 == pytest.approx(point.at, abs=per_unit(places) * 100)


def picture_font(tree: ET.Element) -> float:
    return float(tree.get("font-size", ""))


def lines(tree: ET.Element, many: int) -> list[list[str]]:
    """The paths of each series, in order: those with the same dashes belong together."""
    grouped: dict[str, list[str]] = {}
    for path in tree.iter("path"):
        if path.get("class") == "series":
            grouped.setdefault(path.get("stroke-dasharray", ""), []).append(path.get("d", ""))
    assert len(grouped) == many
    return list(grouped.values())


def at(labels: list[tuple[float, float]], place: float) -> float:
    (one, first), (other, last) = labels[0], labels[-1]
    return first + (place - one) * (last - first) / (other - one)


def per_unit(labels: list[tuple[float, float]]) -> float:
    """What a third of a unit of the drawing is worth: coordinates are rounded to a tenth."""
    (one, first), (other, last) = labels[0], labels[-1]
    return abs((last - first) / (other - one)) / 3


@pytest.mark.parametrize("job", DRAWN)
def test_a_picture_has_a_title_and_words_and_its_series_differ_without_colour(job: str) -> None:
    drawings = list(page(job).iter("svg"))
    assert drawings
    ids = [element.get("id") for drawing in drawings for element in drawing.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for drawing in drawings:
        assert drawing.get("role") == "img"
        named = {element.get("id"): words(element) for element in drawing if element.tag in ("title", "desc")}
        assert list(named) == drawing.get("aria-labelledby", "").split() and all(named.values())
        dashes = [line.get("stroke-dasharray") for line in drawing.iter("line") if line.get("class") == "series"]
        assert len(dashes) == len(set(dashes))
        assert not [e for e in drawing.iter() if {"fill", "stroke", "style"} & set(e.attrib)]  # the one style rules


def test_the_words_of_a_picture_say_the_figures_that_matter() -> None:
    told = [words(desc) for desc in page("date-autumn").iter("desc")]
    assert any("At the price now, 164.00," in one and "The choice turns at 182.80." in one for one in told)
    assert any("on 2026-10-01 from block-b to block-c" in one for one in told)


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (from memory; sRGB with its threshold at 0.04045)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    r, g, b = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_text_and_lines_stand_out_as_level_aa_asks() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text; 1.4.11: 3 to 1 for what a picture is understood by."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    rules = re.findall(r"([^{}]+)\{([^{}]*)\}", style.STYLE)
    texts = {c for _, body in rules for c in re.findall(r"(?<![-\w])color:\s*(#\w{6})", body)}
    texts |= {c for name, body in rules if "text" in name for c in re.findall(r"fill:\s*(#\w{6})", body)}
    strokes = {c for name, body in rules if "svg ." in name and "grid" not in name and "name" not in name
               for c in re.findall(r"stroke:\s*(#\w{6})", body)}  # fmt: skip
    assert texts and strokes
    assert all(contrast(colour, style.BACK) >= 4.5 for colour in texts)
    assert all(contrast(colour, style.BACK) >= 3 for colour in strokes)
    assert all(len({c[1:3], c[3:5], c[5:7]}) == 1 for c in re.findall(r"#\w{6}", style.STYLE))  # greys only


def test_the_answer_is_two_sentences_with_the_cost_and_the_proof() -> None:
    tree = page("substitute-with-plate")
    answer = next(words(e) for e in tree.iter("p") if e.get("class") == "answer")
    assert "675.35 USD" in answer and "no valid plan is cheaper by a cent" in answer and "93.07 dearer" in answer
    assert answer.count(". ") == 1 and answer.endswith(".")


def test_an_impossible_job_says_why_and_keeps_the_line_of_safety() -> None:
    whole = words(page("nothing-crosses"))
    assert "no valid plan" in whole and "does not belong in a unit of third valve body" in whole
    assert "The maker's service information, local codes and licensed practice come before" in whole


def test_the_routes_are_told_with_what_the_customer_pays_and_what_stays() -> None:
    found = next(rows for rows in tables(page("substitute-with-plate")) if rows[0][0] == "Design")
    assert found[1][1:9] == ["substitute", "675.35", "0.00", "2026-04-17", "510.82", "118.63", "2628.29", "1214.25"]
    assert found[2][1:9] == ["exact", "768.42", "93.07", "2026-04-20", "200.48", "502.34", "2187.63", "1076.71"]


def test_equal_studies_give_equal_pages(tmp_path: Path) -> None:
    one, other = tmp_path / "a" / "one.html", tmp_path / "other.html"
    write_report(studied("date-autumn"), moments_of("date-autumn"), one)
    write_report(studied("date-autumn"), moments_of("date-autumn"), other)
    assert one.read_bytes() == other.read_bytes()
    assert [path.name for path in one.parent.iterdir()] == ["one.html"]


def test_without_a_record_the_trend_is_left_out() -> None:
    heads = [words(head) for head in parsed(report_text(studied("date-autumn"))).iter("h2")]
    assert "The job over the record of prices" not in heads
    assert "The job over the record of prices" in [words(head) for head in page("date-autumn").iter("h2")]


HOSTILE = ["<script>alert(1)</script>", "</style><b>", "\\\" onload=\\\"x", "' & <", "a\\u0001b\\u0007\\tc", "\\u202Eturned",
           "\\u05e9\\u05dc\\u05d5\\u05dd \\u0645\\u0631\\u062d\\u0628\\u0627", "]]>", "<!--", "&lt;", "x" * 3900]  # fmt: skip


class Tags(HTMLParser):
    """The elements and attributes that a browser would see."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[tuple[str, tuple[str, ...]]] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add((tag, tuple(sorted(name for name, _ in attrs))))


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_text_of_a_file_becomes_an_element(text: str, opened: Opened) -> None:
    quoted = f'"{text}"'
    changes = [('"Invented: A. Person"', quoted), ('"Block one"', quoted), ('"Northgate Invented"', quoted),
               ('"Look at the tracks first."', quoted), ('"Oak four-speed"', quoted), ('"the one era"', quoted),
               ('"Solenoid block"', quoted), ('number = "77"', f'number = "{text[:60]}"')]  # fmt: skip
    shown = []
    for problem in (opened(*changes), opened()):
        study = study_of(block_and_screen(problem), wanted=2, instead="block-1")
        whole = report_text(study, trend([(problem.job.job.date, problem)], cost_only))
        tree, tags = parsed(whole), Tags()
        tags.feed(whole)
        shown.append((tree, tags.seen))
    (tree, seen), (_, plain) = shown
    assert seen == plain
    meant = said(text.encode().decode("unicode_escape") if "\\u" in text else text.replace('\\"', '"'))
    assert words(ET.fromstring(f"<p>{meant}</p>")) in words(tree)
    assert all(sign.isprintable() or sign == "\n" for sign in "".join(tree.itertext()).replace(style.STYLE, ""))


def test_only_an_element_of_ours_is_left_as_it_is() -> None:
    assert tag("p", "<b>", tag("b", "&")) == "<p>&lt;b&gt;<b>&amp;</b></p>"
    assert tag("td", 5, None, class_='a"b') == '<td class="a&quot;b">5</td>'
    assert name("\u05e9") == "<bdi>\u05e9</bdi>"
