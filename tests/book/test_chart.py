"""The chart of a family, against trying every unit of an era in every world."""

from __future__ import annotations

import re
from random import Random

import pytest
from oracle import bench as oracle
from program.tiny import family_of

from book.books import marked_tables
from sourcing.book.chart import chart_of
from sourcing.quote.wallpage import wall_page

BOOKS = range(0, 160, 10)  # ten books a case


@pytest.mark.parametrize("first", BOOKS)
def test_a_pair_goes_where_some_unit_holds_both_and_depends_where_some_facts_leave_none(first: int) -> None:
    for seed in range(first, first + 10):
        tables = marked_tables(Random(seed))
        chart = chart_of(family_of(tables))
        eras = [era["code"] for era in tables["era"]]
        lead = oracle.positions(tables)[0]
        for made in chart.eras:
            worlds = list(oracle.worlds(tables, made.era.code, eras, {}))
            held = {p: oracle.may_hold(tables, p) for p in oracle.positions(tables)}
            good = [[c for c in oracle.everything(tables, held) if oracle.valid(tables, c, world)] for world in worlds]
            for row in made.rows:
                bearing = [n for n, units in enumerate(good) if any(c[lead] == row.design for c in units)]
                assert bool(row.why) == (len(bearing) < len(worlds))
                for cell in row.cells:
                    both = [
                        n for n in bearing
                        if any(c[lead] == row.design and c[cell.position] == cell.design for c in good[n])
                    ]  # fmt: skip
                    assert cell.goes == ("no" if not both else "yes" if both == bearing else "depends")
                    assert bool(cell.why) == (cell.goes != "yes" and bool(bearing))
                    assert all(why in made.notes for why in cell.why)


def test_the_page_for_the_wall_is_whole_in_itself_and_lets_no_text_become_markup() -> None:
    family = family_of({
        "family": {"code": "f", "name": "<script>alert(1)</script> & Co"},
        "position": [{"code": "block", "name": "Block <b>", "lead": True}, {"code": "plate", "name": "Plate"}],
        "design": [
            {"code": "a", "position": "block", "name": '"A" <img src=x>', "fitted": ["e"]},
            {"code": "x", "position": "plate", "name": "X", "fitted": ["e"]},
        ],
        "rule": [{"code": "r", "says": "<i>never</i>", "source": "\u202ehttp://x", "caution": "<u>hot</u>",
                  "never": {"block": ["a"], "plate": ["x"]}}],
    })  # fmt: skip
    page = wall_page(chart_of(family))
    assert not re.search(r"<script|<img|<i>|<u>|src=x>|<link|href=|@import|url\(|onload", page)
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Co" in page
    assert "\u202e" not in page
    assert page.count("<section>") == page.count("</section>") == 1
    assert "start in gear" in page  # on every era's own page
