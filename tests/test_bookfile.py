"""A book's files changed entry by entry: the demo's own files with every entry changed and put back, comments kept."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from sourcing.bookfile import entries, entry_of, row_of, rows, with_entry, with_row, without_entry, without_row
from sourcing.tomltext import comments

ROOT = Path(__file__).resolve().parents[1]
BOOK = (ROOT / "catalogs" / "larch5" / "interchange.toml").read_text(encoding="utf-8")
TERMS = (ROOT / "catalogs" / "suppliers.toml").read_text(encoding="utf-8")
PARTS = (ROOT / "catalogs" / "larch5" / "parts.csv").read_text(encoding="utf-8")
AIR = {"mode": "air", "days": 1}
EVERY = [(BOOK, kind, one["code"]) for kind in ("era", "fact", "position", "mark", "design", "rule", "task")
         for one in entries(BOOK, kind)] + [(TERMS, "supplier", one["code"]) for one in entries(TERMS, "supplier")]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "code"), EVERY, ids=lambda value: value if len(str(value)) < 40 else "")
def test_an_entry_changed_touches_no_other_line_and_loses_no_comment(text: str, kind: str, code: str) -> None:
    name = "says" if kind == "rule" else "ask" if kind in ("fact", "mark") else "name"
    changed = with_entry(text, kind, code, {name: 'a "new" name # no comment'})
    differing = [(a, b) for a, b in zip(text.splitlines(), changed.splitlines(), strict=True) if a != b]
    assert len(differing) == 1
    assert comments(changed) == comments(text)
    assert with_entry(changed, kind, code, {name: entry_of(text, kind, code)[name]}) == text  # type: ignore[index]


@pytest.mark.parametrize(("text", "kind", "code"), EVERY, ids=lambda value: value if len(str(value)) < 40 else "")
def test_an_entry_taken_out_leaves_the_others_and_every_comment(text: str, kind: str, code: str) -> None:
    gone = without_entry(text, kind, code)
    assert entry_of(gone, kind, code) is None
    assert sorted(comments(gone)) == sorted(comments(text))
    assert len(entries(gone, kind)) == len(entries(text, kind)) - 1


@pytest.mark.parametrize("kind", ["era", "design", "rule", "task", "inspection", "consumable"])
def test_a_new_entry_stands_behind_the_last_of_its_kind(kind: str) -> None:
    new = {
        "code": "new",
        "name": 'Ünïque "new"',
        "marks": {"solenoids": 7},
        "rows": [["a", "b"]],
        "rate": Decimal("0.05"),
    }
    made = with_entry(BOOK, kind, None, new)
    assert entries(made, kind)[-1] == new
    assert len(made.splitlines()) == len(BOOK.splitlines()) + 1 + len(new) + 1
    assert without_entry(made, kind, "new").replace("\n\n\n", "\n\n") == BOOK.replace("\n\n\n", "\n\n")


def test_the_freight_of_a_supplier_is_changed_in_its_place() -> None:
    freight = entry_of(TERMS, "supplier", "harbour")["freight"]  # type: ignore[index]
    made = with_entry(TERMS, "supplier", "harbour", {"freight": [*freight, AIR], "order_fee": Decimal("2.50")})
    told = tomllib.loads(made, parse_float=Decimal)["supplier"][0]
    assert (told["freight"][2], told["order_fee"]) == ({"mode": "air", "days": 1}, Decimal("2.50"))
    assert comments(made) == comments(TERMS)
    fewer = with_entry(made, "supplier", "harbour", {"freight": freight[:1], "order_fee": None})
    assert tomllib.loads(fewer, parse_float=Decimal)["supplier"][0]["freight"] == freight[:1]


def test_a_row_of_parts_is_changed_added_and_taken_out() -> None:
    first = rows(PARTS)[0]
    key = (first["supplier"], first["part_number"])
    made = with_row(PARTS, key, {"note": 'a, "quoted" note'}, list(first))
    assert row_of(made, key)["note"] == 'a, "quoted" note'  # type: ignore[index]
    assert sum(a != b for a, b in zip(made.splitlines(), PARTS.splitlines(), strict=True)) == 1
    more = with_row(
        PARTS, None, {"supplier": "harbour", "part_number": "007", "fills": "block-b", "condition": "new"}, list(first)
    )
    assert more.startswith(PARTS) and rows(more)[-1]["part_number"] == "007"
    assert without_row(more, ("harbour", "007")) == PARTS


def test_a_column_that_is_not_there_yet_is_added() -> None:
    text = "supplier,part_number,fills,condition\na,1,x,new\n"
    made = with_row(text, ("a", "1"), {"note": "here"}, ["supplier", "part_number", "fills", "condition", "note"])
    assert made == "supplier,part_number,fills,condition,note\na,1,x,new,here\n"
