"""A sheet taken into the record: whole or not at all, under a name that tells, its layout kept beside the shop's own lines."""

from __future__ import annotations

import os
import tomllib
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from killing import killed_before, lines_of

from prices.making import csv_bytes
from sourcing.faults import BadInput
from sourcing.prices.answers import Answers, NoAnswer, answers_of
from sourcing.prices.dated import dated_sheets, sheets_in_force
from sourcing.prices.declaring import Declaration, NotWritten, declared
from sourcing.prices.filing import Receiving
from sourcing.prices.placing import filed_name, put_in_place, written_beside
from sourcing.prices.sheet import read_sheet
from sourcing.prices.suppliers import read_suppliers
from sourcing.shop import Shop

SHOP = Shop(currency="USD")
TERMS = """# Who sells.

# Good prices.
[[supplier]]
code = "quarry" # its folder
name = "Quarry Bend Exchange"

# Rebuilt.
[[supplier]]
code = "harbour"
name = "Harbour Row Parts"
"""
APRIL = csv_bytes([["Part No", "Net price", "Stock"], *([f"QB-1{n}0", f"{100 + n}.50", "3"] for n in range(10))])
MAY = csv_bytes([["Part No", "Your price", "Stock"], *([f"QB-1{n}0", f"{110 + n}.50", "3"] for n in range(10))])
TWO = csv_bytes(
    [
        ["Part No", "Net price east", "Net price west"],
        *([f"QB-1{n}0", f"{90 + n}.25", f"{95 + n}.25"] for n in range(10)),
    ]
)
APRIL_DAY, MAY_DAY, JUNE_DAY = date(2026, 4, 1), date(2026, 5, 1), date(2026, 6, 1)
WEST = Answers({"price": "Net price west"})


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    catalogs = tmp_path / "catalogs"
    catalogs.mkdir()
    (catalogs / "suppliers.toml").write_text(TERMS, encoding="utf-8")
    return catalogs


def receiving(shop: Path, content: bytes, day: date, update: bool | None = None, answers: Answers | None = None,
              code: str = "quarry", name: str = "list.csv") -> Receiving:  # fmt: skip
    source = shop.parent / name
    source.write_bytes(content)
    return Receiving(shop, SHOP, code, source, day, update, answers or Answers())


def filed(shop: Path, code: str = "quarry") -> dict[str, bytes]:
    return {sheet.path.name: sheet.path.read_bytes() for sheet in dated_sheets(shop / "price-sheets" / code)[0]}


def first_prices(shop: Path, day: date) -> list[str]:
    """The first price of each sheet in force on a day, read as suppliers.toml declares it."""
    supplier = read_suppliers(shop / "suppliers.toml")["quarry"]
    sheets = sheets_in_force(dated_sheets(shop / "price-sheets" / "quarry")[0], day)
    read = [read_sheet(sheet.path, supplier.layout("USD", sheet.day)) for sheet in sheets]
    return [f"{one.status} {one.rows[0].price if one.rows else ''}" for one in read]


# -- names --


@pytest.mark.parametrize(
    ("original", "update", "name"),
    [
        ("dealer list.xlsx", False, "2026-04-01 dealer list.xlsx"),
        ("2026-04-01 dealer list.xlsx", False, "2026-04-01 dealer list.xlsx"),
        ("2026-03-31 dealer list.xlsx", False, "2026-04-01 2026-03-31 dealer list.xlsx"),
        ("price update April.csv", True, "2026-04-01 update price April.csv"),
        ("price UPDATE April.csv", False, "2026-04-01 price April.csv"),
        ("updated.csv", False, "2026-04-01 updated.csv"),
        ("..\\..\\Preise: März/2?.csv", False, "2026-04-01 2.csv"),
        ("...csv", True, "2026-04-01 update.csv"),
        ("x" * 300 + ".ods", False, "2026-04-01 " + "x" * 100 + ".ods"),
    ],
)
def test_a_sheet_is_filed_by_date_and_what_is_safe_of_its_name(original: str, update: bool, name: str) -> None:
    ending = "." + original.rpartition(".")[2]
    assert filed_name(original, APRIL_DAY, update, ending) == name


def test_the_name_tells_a_whole_sheet_from_an_update_as_the_record_reads_it(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY, name="April update.csv", update=False).file()
    receiving(shop, APRIL + b" ", APRIL_DAY, name="May.csv", update=True).file()
    sheets, notes = dated_sheets(shop / "price-sheets" / "quarry")
    assert [(sheet.path.name, sheet.update) for sheet in sheets] == [
        ("2026-04-01 April.csv", False),
        ("2026-04-01 update May.csv", True),
    ]
    assert notes == []


def test_a_file_of_an_unknown_ending_is_filed_by_what_it_is(shop: Path) -> None:
    assert receiving(shop, APRIL, APRIL_DAY, name="list.dat").file().target.name == "2026-04-01 list.csv"


# -- filing --


def test_a_byte_for_byte_copy_is_filed_and_the_original_stays(shop: Path) -> None:
    looked = receiving(shop, APRIL, APRIL_DAY).file()
    assert looked.ready and filed(shop) == {"2026-04-01 list.csv": APRIL}
    assert (shop.parent / "list.csv").read_bytes() == APRIL
    left = {path.name for path in (shop / "price-sheets" / "quarry").iterdir()}
    assert left == {"2026-04-01 list.csv"}


def test_looking_changes_nothing(shop: Path) -> None:
    assert receiving(shop, APRIL, APRIL_DAY).look().ready
    assert [path.name for path in shop.iterdir()] == ["suppliers.toml"]


def test_the_same_bytes_again_are_said_to_be_on_file_whatever_they_are_called(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    terms = (shop / "suppliers.toml").read_bytes()
    for day, name in ((APRIL_DAY, "list.csv"), (MAY_DAY, "other.csv")):
        again = receiving(shop, APRIL, day, name=name).file()
        assert again.on_file is not None and again.on_file.name == "2026-04-01 list.csv"
    assert filed(shop) == {"2026-04-01 list.csv": APRIL}
    assert (shop / "suppliers.toml").read_bytes() == terms


@pytest.mark.parametrize("update", [False, True])
def test_two_of_a_kind_on_one_day_are_a_fault_that_says_what_to_do(update: bool, shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY, update=update).file()
    changed = APRIL.replace(b"100.50", b"101.50")
    with pytest.raises(BadInput) as stopped:
        receiving(shop, changed, APRIL_DAY, update=update).file()
    [fault] = stopped.value.faults
    assert fault.code == "two-sheets-one-day" and "list.csv" in fault.found
    assert ("add --update" in fault.remedy) == (not update)
    assert list(filed(shop).values()) == [APRIL]
    receiving(shop, changed, APRIL_DAY, update=not update).file()
    assert len(filed(shop)) == 2


@pytest.mark.parametrize(("left", "asks"), [(10, False), (9, False), (8, True)])
def test_more_than_a_tenth_of_the_known_numbers_gone_raises_the_question(left: int, asks: bool, shop: Path) -> None:
    # 10 known: 1 gone is a tenth and is not more than a tenth; 2 gone is.
    receiving(shop, APRIL, APRIL_DAY).file()
    shorter = b"\r\n".join(APRIL.splitlines()[: left + 1]).replace(b"100.50", b"99.50") + b"\r\n"
    looked = receiving(shop, shorter, MAY_DAY).file()
    assert (looked.asks_update, looked.ready) == (asks, not asks)
    assert (looked.known, len(looked.gone)) == (10, 10 - left)
    assert len(filed(shop)) == (1 if asks else 2)
    for update in (True, False) if asks else ():
        answered = receiving(shop, shorter + b" " * update, MAY_DAY, update=update).file()
        assert answered.ready and answered.update is update
    assert len(filed(shop)) == (3 if asks else 2)


def test_a_number_that_stands_there_without_a_price_is_not_gone(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    looked = receiving(shop, APRIL.replace(b"100.50", b"call").replace(b"101.50", b"call"), MAY_DAY).file()
    assert looked.ready and looked.gone == ()


def test_a_sheet_in_a_foreign_currency_alone_is_refused(shop: Path) -> None:
    looked = receiving(shop, csv_bytes([["Part No", "Price EUR"], ["A-1", "5.00"], ["A-2", "6.00"]]), APRIL_DAY).file()
    assert not looked.ready and filed(shop) == {}
    assert [fault.code for fault in looked.sheet.faults] == ["other-currency"]


def test_an_unsure_sheet_is_not_filed_until_it_is_answered(shop: Path) -> None:
    assert not receiving(shop, TWO, APRIL_DAY).file().ready
    assert filed(shop) == {}
    assert receiving(shop, TWO, APRIL_DAY, answers=WEST).file().ready
    assert first_prices(shop, APRIL_DAY) == ["read 95.25"]


# -- the layout that is kept --


def test_the_layout_is_kept_under_its_supplier_and_every_other_line_stays(shop: Path) -> None:
    looked = receiving(shop, APRIL, APRIL_DAY).file()
    text = (shop / "suppliers.toml").read_text(encoding="utf-8")
    added = '\n[supplier.columns]\npart_number = "Part No"\nprice = "Net price"\n'
    assert text == TERMS.replace('Exchange"\n', f'Exchange"\n{added}')
    assert looked.declaration.columns == {"part_number": "Part No", "price": "Net price"}


def test_a_later_sheet_with_another_price_column_asks(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    looked = receiving(shop, MAY, MAY_DAY).file()
    assert looked.sheet.status == "unsure"
    assert [question.field for question in looked.sheet.questions] == ["price"]


def test_when_a_layout_changes_every_sheet_keeps_the_one_that_it_has(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    looked = receiving(shop, MAY, MAY_DAY, answers=Answers({"price": "Your price"})).file()
    assert [day for day, _, _ in looked.declaration.earlier] == [APRIL_DAY]
    assert first_prices(shop, APRIL_DAY) == ["read 100.50"]
    assert first_prices(shop, MAY_DAY) == ["read 110.50"]
    # back again in June, and a forgotten one from between
    receiving(shop, APRIL.replace(b"100.50", b"120.50"), JUNE_DAY, answers=Answers({"price": "Net price"})).file()
    receiving(shop, TWO, date(2026, 4, 15), answers=WEST).file()
    days = (APRIL_DAY, date(2026, 4, 15), MAY_DAY, JUNE_DAY)
    assert [first_prices(shop, day) for day in days] == [
        ["read 100.50"], ["read 95.25"], ["read 110.50"], ["read 120.50"],
    ]  # fmt: skip


def test_a_whole_sheet_and_an_update_of_one_day_must_be_laid_out_alike(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    with pytest.raises(BadInput, match="the same headers as in the other sheet of that day"):
        receiving(shop, MAY, APRIL_DAY, update=True, answers=Answers({"price": "Your price"})).file()
    assert list(filed(shop)) == ["2026-04-01 list.csv"]


def test_recognised_columns_are_not_declared_where_a_sheet_on_file_would_no_longer_be_read(shop: Path) -> None:
    home = shop / "price-sheets" / "quarry"
    home.mkdir(parents=True)
    (home / "2026-05-01 by hand.csv").write_bytes(MAY)
    assert not receiving(shop, APRIL, APRIL_DAY).file().declaration
    assert (shop / "suppliers.toml").read_text(encoding="utf-8") == TERMS
    assert first_prices(shop, MAY_DAY) == ["read 110.50"]


@pytest.mark.parametrize(
    ("text", "new", "expected"),
    [
        (
            '[[supplier]]\ncode = "q"\n',
            {"price": "Net"},
            '[[supplier]]\ncode = "q"\n\n[supplier.columns]\nprice = "Net"\n',
        ),
        (
            '[[supplier]]\r\ncode = "q"\r\n[supplier.columns] # told by phone\r\nprice = "List" # old\r\n',
            {"price": "Net", "stock": "On hand"},
            '[[supplier]]\r\ncode = "q"\r\n[supplier.columns] # told by phone\r\nprice = "Net" # old\r\nstock = "On hand"\r\n',
        ),
        (
            '[[supplier]]\ncode = "a"\n# of q\n[[supplier]]\ncode = "q"\n[[supplier.freight]]\nmode = "g"\ndays = 1\n\n# of z\n'
            '[[supplier]]\ncode = "z"\n',
            {"10+": 'He said "10"'},
            '[[supplier]]\ncode = "a"\n# of q\n[[supplier]]\ncode = "q"\n[[supplier.freight]]\nmode = "g"\ndays = 1\n\n'
            '[supplier.columns]\n"10+" = "He said \\"10\\""\n\n# of z\n[[supplier]]\ncode = "z"\n',
        ),
    ],
    ids=["added", "changed in place", "between others"],
)
def test_a_declaration_touches_no_other_line(text: str, new: dict[str, str], expected: str) -> None:
    assert declared(text, "q", Declaration(columns=new)) == expected


HEADER = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@given(columns=st.dictionaries(st.sampled_from(["price", "part_number", "10+"]), HEADER, min_size=1), twice=HEADER,
       newline=st.sampled_from(["\n", "\r\n"]), last=st.booleans())  # fmt: skip
def test_any_header_can_be_declared_and_declared_anew(
    columns: dict[str, str], twice: str, newline: str, last: bool
) -> None:
    code = "harbour" if last else "quarry"
    text = TERMS.replace("\n", newline).removesuffix(newline if last else "")
    once = declared(text, code, Declaration(columns=columns))
    again = declared(once, code, Declaration(columns={"price": twice}, sheet={"header_row": 3}))
    lines = iter(again.splitlines())
    assert all(line in lines for line in text.splitlines())  # every line of the shop's, in its order
    table = next(one for one in tomllib.loads(again)["supplier"] if one["code"] == code)
    assert table["columns"] == {**columns, "price": twice} and table["sheet"] == {"header_row": 3}
    assert ("\r" in again) == (newline == "\r\n")


def test_the_layout_of_a_sheet_that_was_put_there_by_hand_can_be_answered_later(shop: Path) -> None:
    home = shop / "price-sheets" / "quarry"
    home.mkdir(parents=True)
    (home / "2026-04-01 by hand.csv").write_bytes(TWO)
    assert first_prices(shop, APRIL_DAY) == ["unsure "]
    looked = receiving(shop, TWO, APRIL_DAY, answers=WEST).file()
    assert looked.on_file is not None and list(filed(shop)) == ["2026-04-01 by hand.csv"]
    assert first_prices(shop, APRIL_DAY) == ["read 95.25"]


@pytest.mark.parametrize("failing", ["replace", "link"])
def test_trouble_with_the_disk_leaves_nothing_behind(shop: Path, failing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*names: Any, **more: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, failing, full) if failing == "replace" else monkeypatch.setattr(os, failing, full)
    monkeypatch.setattr(Path, "rename", full)
    with pytest.raises(OSError, match="No space"):
        receiving(shop, APRIL, APRIL_DAY).file()
    assert filed(shop) == {}
    assert not list(shop.rglob(".receiving-*"))


@pytest.mark.parametrize(
    "text",
    ['[[supplier]]\ncode = "q"\ncolumns = {price = "Net"}\n', 'supplier = [{code = "q"}]\n', '[[supplier]]\ncode = "z"\n',
     '[[supplier]]\ncode = "q"\nname = """\n[[supplier]]\n"""\ncolumns.stock = "S"\n'],
    ids=["columns in one line", "suppliers in one line", "another supplier", "dotted keys"],
)  # fmt: skip
def test_what_cannot_be_changed_safely_is_given_back_to_write_by_hand(text: str) -> None:
    with pytest.raises(NotWritten, match='price = "Your price"'):
        declared(text, "q", Declaration(columns={"price": "Your price"}))


def test_a_file_that_we_do_not_change_stops_the_filing(shop: Path) -> None:
    inline = TERMS.replace('name = "Quarry Bend Exchange"\n', 'name = "Quarry"\ncolumns = {part_number = "Part No"}\n')
    (shop / "suppliers.toml").write_text(inline, encoding="utf-8")
    with pytest.raises(BadInput) as stopped:
        receiving(shop, TWO, APRIL_DAY, answers=WEST).file()
    assert 'price = "Net price west"' in stopped.value.faults[0].found
    assert filed(shop) == {}
    assert (shop / "suppliers.toml").read_text(encoding="utf-8") == inline


def test_an_answer_is_a_field_and_a_header() -> None:
    told = answers_of(["price= Net = ours ", "10+=10 off", "Core-charge="], decimal=",")
    assert told == Answers({"price": "Net = ours", "10+": "10 off", "core_charge": ""}, decimal=",")
    for wrong in ("price", "=Net", "colour=Red"):
        with pytest.raises(NoAnswer, match="FIELD=HEADER"):
            answers_of([wrong])


# -- killed, and two at once --


def test_a_name_that_is_taken_is_never_written_over(tmp_path: Path) -> None:
    target = tmp_path / "2026-04-01.csv"
    target.write_bytes(b"old")
    with pytest.raises(BadInput):
        put_in_place(written_beside(target, b"new"), target)
    assert target.read_bytes() == b"old"


def test_a_disk_without_links_serves_as_well(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*names: Any, **more: Any) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    receiving(shop, APRIL, APRIL_DAY).file()
    assert filed(shop) == {"2026-04-01 list.csv": APRIL}
    assert {path.name for path in (shop / "price-sheets" / "quarry").iterdir()} == {"2026-04-01 list.csv"}


OURS = ("filing.py", "placing.py", "declaring.py", "keeping.py")


def _put_back(shop: Path, before: dict[Path, bytes]) -> None:
    for path in [path for path in shop.rglob("*") if path.is_file() and path not in before]:
        path.unlink()
    for path, content in before.items():
        path.write_bytes(content)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be copied")
def test_a_receive_killed_at_any_line_leaves_the_sheet_whole_or_not_at_all(shop: Path) -> None:
    receiving(shop, APRIL, APRIL_DAY).file()
    before = {path: path.read_bytes() for path in shop.rglob("*") if path.is_file()}
    old = filed(shop)
    whole = {**old, "2026-05-01 list.csv": TWO}
    work = receiving(shop, TWO, MAY_DAY, answers=WEST)
    count = shop.parent / "lines"
    ran = lines_of(work.file, count, OURS)
    _put_back(shop, before)
    # Before the layout is kept nothing is written but a temporary file: a few moments there, and every one after it.
    moments = [*range(1, ran - 60, 25), *range(ran - 60, ran + 1)]
    seen = {"nothing": 0, "whole": 0}
    for line in moments:
        killed_before(line, work.file, count, OURS)
        now = filed(shop)
        assert now in (old, whole), line
        seen["whole" if now == whole else "nothing"] += 1
        assert first_prices(shop, APRIL_DAY) == ["read 100.50"], line
        assert first_prices(shop, MAY_DAY) == (["read 95.25"] if now == whole else ["read 100.50"]), line
        assert "# Rebuilt.\n[[supplier]]" in (shop / "suppliers.toml").read_text(encoding="utf-8")
        work.file()  # again, as a person would
        assert filed(shop) == whole, line
        assert first_prices(shop, MAY_DAY) == ["read 95.25"], line
        assert not list(shop.rglob(".receiving-*")), line
        _put_back(shop, before)
    assert seen["nothing"] > 20 and seen["whole"] > 5, seen


def test_of_two_receives_at_once_one_files_and_the_other_finds_it_filed(shop: Path) -> None:
    work = receiving(shop, APRIL, APRIL_DAY)
    with ThreadPoolExecutor(8) as several:
        done = list(several.map(lambda _: work.file(), range(8)))
    assert filed(shop) == {"2026-04-01 list.csv": APRIL}
    assert sum(looked.on_file is None for looked in done) == 1


def test_two_suppliers_received_at_once_both_keep_their_layout(shop: Path) -> None:
    several = [
        receiving(shop, APRIL, APRIL_DAY, name="q.csv"),
        receiving(shop, TWO, APRIL_DAY, answers=WEST, code="harbour"),
    ]
    with ThreadPoolExecutor(2) as at_once:
        list(at_once.map(lambda work: work.file(), several))
    suppliers = read_suppliers(shop / "suppliers.toml")
    assert suppliers["quarry"].columns["price"] == "Net price"
    assert suppliers["harbour"].columns["price"] == "Net price west"


def test_a_record_that_somebody_else_holds_for_long_is_said_to_be_in_use(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sourcing.prices import placing

    work = receiving(shop, APRIL, APRIL_DAY)
    work.home.mkdir(parents=True)
    monkeypatch.setattr(placing, "PATIENCE", 0.05)
    with placing.alone_in(work.record), pytest.raises(BadInput) as stopped:
        work.file()
    assert [fault.code for fault in stopped.value.faults] == ["record-in-use"]
