"""Lists of tables changed table by table: what the text says then is what was asked, and no comment leaves its table."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sourcing.bookfile import entry_of, with_entry
from sourcing.jobtext import changed
from sourcing.prices.declaring import Declaration, declared
from sourcing.tablelist import with_rows
from sourcing.tomltext import comments, literal

ROOT = Path(__file__).resolve().parents[1]
SHOP = (ROOT / "catalogs" / "shop.toml").read_text(encoding="utf-8")
TERMS = (ROOT / "catalogs" / "suppliers.toml").read_text(encoding="utf-8")
TEXT = """# the shop's
currency = "USD"

# steps
[[markup]]
up_to = 50      # the small ones
factor = 1.70

# the middle
[[markup]]
up_to = 250
factor = 1.45

[[markup]]
factor = 1.30   # the rest
# what is wanted
[fx]
EUR = 1.12
"""


def told(text: str) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=Decimal)


def test_a_step_that_is_changed_keeps_its_comments_and_every_other_line() -> None:
    rows = told(TEXT)["markup"]
    rows[0] = {"up_to": 60, "factor": Decimal("1.70")}
    made = with_rows(TEXT, ("markup",), rows)
    assert made == TEXT.replace("up_to = 50      # the", "up_to = 60      # the")


def test_a_step_in_the_middle_taken_out_leaves_the_others_their_comments() -> None:
    rows = told(TEXT)["markup"]
    made = with_rows(TEXT, ("markup",), [rows[0], rows[2]])
    assert told(made)["markup"] == [rows[0], rows[2]]
    assert "up_to = 50      # the small ones" in made and "factor = 1.30   # the rest" in made
    assert comments(made) == comments(TEXT)


def test_a_new_step_stands_where_it_belongs() -> None:
    rows = told(TEXT)["markup"]
    new = {"up_to": 500, "factor": Decimal("1.35")}
    made = with_rows(TEXT, ("markup",), [*rows[:2], new, rows[2]])
    assert told(made)["markup"] == [*rows[:2], new, rows[2]]
    assert made.replace("\n[[markup]]\nup_to = 500\nfactor = 1.35\n", "") == TEXT


def test_nothing_wanted_is_not_the_same_as_nothing_said() -> None:
    job = '[job]\nnumber = "1"\n\n[[wanted]]\ndesign = "a"\npieces = 1\nworth = 2.00\n'
    assert told(changed(job, {"wanted": "[]"})) == {"job": {"number": "1"}, "wanted": []}
    assert told(changed(job, {"wanted": None})) == {"job": {"number": "1"}}
    back = changed(changed(job, {"wanted": "[]"}), {"wanted": '[{design = "a", pieces = 1, worth = 2.00}]'})
    assert told(back) == told(job) and "[[wanted]]" in back


def test_a_list_written_in_a_line_stays_one() -> None:
    text = 'wanted = [{design = "a", pieces = 1, worth = 2}] # in a line\n[job]\nnumber = "1"\n'
    made = changed(text, {"wanted": '[{design = "b", pieces = 1, worth = 2}]'})
    assert told(made)["wanted"] == [{"design": "b", "pieces": 1, "worth": 2}] and "# in a line" in made


def test_a_layout_is_written_so_that_receiving_a_sheet_can_add_to_it() -> None:
    columns = {"price": "Net", "stock": ""}
    made = with_entry(TERMS, "supplier", "harbour", {"columns": columns}, ("columns", "sheet"))
    assert "[supplier.columns]\nprice" in made and comments(made) == comments(TERMS)
    more = declared(made, "harbour", Declaration({"part_number": "No."}, {"header_row": 3}))
    supplier = entry_of(more, "supplier", "harbour")
    assert (
        supplier and supplier["columns"] == {**columns, "part_number": "No."} and supplier["sheet"] == {"header_row": 3}
    )
    gone = with_entry(made, "supplier", "harbour", {"columns": None})
    assert told(gone) == told(TERMS)


def test_a_column_corrected_changes_its_line_alone() -> None:
    old = entry_of(TERMS, "supplier", "birkental")
    assert old
    made = with_entry(TERMS, "supplier", "birkental", {"columns": {**old["columns"], "price": "Netto"}})
    assert made == TERMS.replace('price = "Nettopreis"', 'price = "Netto"')


def test_an_earlier_layout_is_changed_and_taken_out_in_its_place() -> None:
    from datetime import date

    text = declared(TERMS, "harbour", Declaration(earlier=((date(2026, 1, 1), {"price": "Old"}, {"decimal": ","}),)))
    old = entry_of(text, "supplier", "harbour")
    assert old
    (period,) = old["earlier"]
    made = with_entry(text, "supplier", "harbour", {"earlier": [{**period, "columns": {"price": "Older"}}]})
    assert made == text.replace('price = "Old"', 'price = "Older"')
    assert told(with_entry(text, "supplier", "harbour", {"earlier": None})) == told(TERMS)


ROWS = st.lists(
    st.fixed_dictionaries(
        {"design": st.sampled_from("abcde"), "pieces": st.integers(0, 3)},
        optional={"worth": st.sampled_from([Decimal("1.50"), Decimal("2.00")])},
    ),
    max_size=5,
)


@given(ROWS, ROWS, st.booleans())
def test_any_list_can_become_any_other(before: list[Any], after: list[Any], windows: bool) -> None:
    parts = ['# head\n[job]\nnumber = "1" # n\n']
    parts += [
        f"\n# above {number}\n[[wanted]]\n"
        + "".join(f"{key} = {literal(one)} # {key} {number}\n" for key, one in row.items())
        for number, row in enumerate(before)
    ]
    text = "".join([*parts, "\n# last\n[limits]\nkeep = []\n"])
    text = text.replace("\n", "\r\n") if windows else text
    made = changed(text, {"wanted": literal(after)})
    assert told(made) == {**told(text), "wanted": after}
    assert sorted(comments(made)) == sorted(comments(text))
    if before == after and before:
        assert made == text
    kept = [row for row in after if before.count(row) == 1 and after.count(row) == 1]
    if before and after and kept == after and [row for row in before if row in kept] == kept:  # only taken out
        for row in kept:
            number = before.index(row)
            assert f"design = {literal(row['design'])} # design {number}" in made


@pytest.mark.parametrize("end", ["\n", "\r\n", ""])
def test_a_file_without_a_last_line_end_takes_a_list(end: str) -> None:
    made = changed(f'[job]\nnumber = "1"{end}', {"extra": '[{name = "Towing", amount = 60.00}]'})
    assert told(made)["extra"] == [{"name": "Towing", "amount": Decimal("60.00")}]
