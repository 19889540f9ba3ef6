"""A job's shelf and charges, and parts that are here already, as forms with scripts off."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from sourcing.tomltext import comments

NAME = "free-freight"
CHARGES, CAME = f"/jobs/{NAME}/charges", f"/jobs/{NAME}/came"


def job(shop: ShopFolder) -> dict[str, Any]:
    return tomllib.loads(shop.job(NAME).read_text(encoding="utf-8"), parse_float=Decimal)


def quoted(person: Person) -> dict[str, Any]:
    told = person.client.get(f"/api/jobs/{NAME}/quote").json()
    assert isinstance(told, dict)
    return told


def wants(design: str, pieces: str, worth: str, row: int = 0) -> dict[str, str]:
    told = {"design": design, "pieces": pieces, "worth": worth}
    return {"some-wanted": "some", **{f"wanted-{key}-{row}": value for key, value in told.items()}}


def test_a_form_that_is_sent_untouched_changes_nothing(shop: ShopFolder, person: Person) -> None:
    extras = '\n[[extra]] # towed\nname = "Towing"\namount = 60\ntaxed = "parts" # said without need\n'
    path = shop.job("core-lost")
    path.write_text(path.read_text(encoding="utf-8") + extras, encoding="utf-8")
    path = shop.job("exact-block")
    in_a_line = 'wanted = [{worth = 14, pieces = 2, design = "screen-s"}]\nextra = []\n'
    path.write_text(
        in_a_line + path.read_text(encoding="utf-8") + "\n[quote]\ndiscount = {share = 0.05}\n", encoding="utf-8"
    )
    for one in sorted((shop.folder / "scenarios").glob("*.toml")):
        before = one.read_bytes()
        action = f"/jobs/{one.stem}/charges"
        said = person.sends(action, person.form(action), save="")
        assert said.status_code == 200 and one.read_bytes() == before, one.name


def test_a_job_wants_its_own_pieces_nothing_or_what_the_shop_wants(shop: ShopFolder, person: Person) -> None:
    before = shop.job(NAME).read_text(encoding="utf-8")
    assert quoted(person)["totals"]["shelf"] != "0.00"
    assert "The shop wants 2 of" in words_of(person.sees(CHARGES))
    shown = person.sends(CHARGES, person.form(CHARGES), **{"some-wanted": "some"}, show="")
    assert shown.status_code == 200 and shop.job(NAME).read_text(encoding="utf-8") == before
    person.sends(CHARGES, person.form(CHARGES), **{"some-wanted": "some"})
    assert job(shop)["wanted"] == [] and quoted(person)["totals"]["shelf"] == "0.00"
    person.sends(CHARGES, person.form(CHARGES), **wants("screen-s", "1", "14.00"))
    assert job(shop)["wanted"] == [{"design": "screen-s", "pieces": 1, "worth": Decimal("14.00")}]
    assert "[[wanted]]" in shop.job(NAME).read_text(encoding="utf-8")
    person.sends(CHARGES, person.form(CHARGES), **{"some-wanted": ""})
    assert "wanted" not in job(shop) and comments(shop.job(NAME).read_text(encoding="utf-8")) == comments(before)
    assert quoted(person)["totals"]["shelf"] != "0.00"


@pytest.mark.parametrize(("changed", "words"), [
    (wants("screen-s", "two", "14.00"), "wanted"), (wants("screen-s", "2", ""), "wanted"),
    (wants("screen-s", "1", "1") | wants("screen-s", "2", "1", 1), '"screen-s" twice'),
    ({"extra-name-0": "Towing", "extra-amount-0": "sixty"}, "extra"), ({"extra-amount-0": "60.00"}, "extra"),
    ({"discount": "a bit"}, "discount"), ({"discount": "5 per cent"}, "discount"),
])  # fmt: skip
def test_what_cannot_be_is_refused_with_its_reason_and_stays_typed(
    shop: ShopFolder, person: Person, changed: dict[str, str], words: str
) -> None:
    before = shop.job(NAME).read_bytes()
    fields = person.form(CHARGES)
    live = words_of(person.sends(f"/jobs/{NAME}/live", fields, **changed).text)
    assert "It cannot be told yet" in live and words in live
    told = person.sends(CHARGES, fields, **changed)
    assert told.status_code == 422 and words in words_of(told.text)
    again = fields_of(told.text, CHARGES)
    assert all(again[name] == [value] for name, value in changed.items())
    assert shop.job(NAME).read_bytes() == before


def test_discount_and_charges_are_what_the_quote_charges(shop: ShopFolder, person: Person) -> None:
    before = quoted(person)
    changed = {"discount": "5%", "extra-name-0": "Towing", "extra-amount-0": "60.00", "extra-taxed-0": "labour",
               "extra-name-1": "Storage", "extra-amount-1": "12.50"}  # fmt: skip
    assert person.sends(CHARGES, person.form(CHARGES), **changed).status_code == 200
    said = job(shop)
    assert said["quote"]["discount"] == "5 %"
    assert said["extra"] == [{"name": "Towing", "amount": Decimal("60.00"), "taxed": "labour"},
                             {"name": "Storage", "amount": Decimal("12.50")}]  # fmt: skip
    assert quoted(person)["totals"] == before["totals"]  # no part of the choice
    person.sends(CHARGES, person.form(CHARGES), **{"extra-out-0": "yes", "discount": "25.00"})
    assert (job(shop)["quote"]["discount"], [one["name"] for one in job(shop)["extra"]]) == (
        Decimal("25.00"),
        ["Storage"],
    )
    person.sends(CHARGES, person.form(CHARGES), **{"extra-out-0": "yes", "discount": ""})
    assert "extra" not in job(shop) and not job(shop).get("quote")


def test_a_discount_written_as_a_table_is_shown_and_changed(shop: ShopFolder, person: Person) -> None:
    path = shop.job(NAME)
    path.write_text(path.read_text(encoding="utf-8") + "\n[quote.discount]\nshare = 0.075\n", encoding="utf-8")
    assert person.form(CHARGES)["discount"] == ["7.5 %"]
    assert person.sends(CHARGES, person.form(CHARGES), discount="10.00").status_code == 200
    assert job(shop)["quote"]["discount"] == Decimal("10.00")


def test_two_people_on_the_charges_are_told_of_each_other_row_by_row(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    early, late = first.form(CHARGES), second.form(CHARGES)
    first.sends(CHARGES, early, **{"extra-name-0": "Towing", "extra-amount-0": "60.00"})
    told = second.sends(CHARGES, late, **{"extra-name-0": "Storage", "extra-amount-0": "12.50"}, discount="5 %")
    assert told.status_code == 409
    words = words_of(told.text)
    assert "Charged besides (you both changed it)" in words
    assert "yours: name Storage, amount 12.50" in words and "as it stands now: name Towing, amount 60.00" in words
    settle = f"/jobs/{NAME}/settle"
    number = told.text.split("you both changed it")[1].split('name="')[1].split('"')[0]
    assert second.sends(settle, fields_of(told.text, settle), **{number: "mine"}).status_code == 200
    assert ([one["name"] for one in job(shop)["extra"]], job(shop)["quote"]["discount"]) == (["Storage"], "5 %")


@pytest.mark.parametrize(
    "said", ["wanted = 3", "wanted = [3]", 'wanted = "x"', "extra = {}", "extra = [[1]]", "extra = [{}, 1]"]
)
def test_a_job_that_was_spoilt_by_hand_is_shown_with_its_fault(shop: ShopFolder, person: Person, said: str) -> None:
    path = shop.job(NAME)
    spoilt = f"{said}\n{path.read_text(encoding='utf-8')}"
    path.write_text(spoilt, encoding="utf-8")
    assert "It cannot be told yet" in words_of(person.sees(CHARGES))
    told = person.sends(CHARGES, person.form(CHARGES), discount="5 %")
    assert told.status_code == 422 and path.read_text(encoding="utf-8") == spoilt
    live = person.sends(f"/jobs/{NAME}/live", person.form(CHARGES), discount="5 %", **wants("screen-s", "1", "2.00"))
    assert live.status_code == 200


# -- parts that are here already --


def test_a_part_from_the_shelf_is_used_and_bought_no_more(shop: ShopFolder, person: Person) -> None:
    before = quoted(person)
    design = before["combination"]["screen"]
    form = person.form(CAME)
    assert person.sends(CAME, form, **{"here-design": design, "here-cost": "3.5"}).status_code == 200
    assert job(shop)["in_hand"]["screen"] == {"design": design, "source": "shelf", "cost": Decimal("3.5")}
    assert not [one for one in quoted(person)["purchases"] if one["fills"] == [design] and one["left_over"] == 0]
    seen = words_of(person.sees(CAME))
    assert "(shelf, 3.5)" in seen
    person.sends(CAME, person.form(CAME), out=["screen"])
    assert not job(shop).get("in_hand")


def test_what_the_customer_brought_stands_under_its_position(shop: ShopFolder, person: Person) -> None:
    changed = {"here-design": "block-b", "here-source": "customer", "here-supplier": "quarry", "here-number": "QB-1200"}
    assert person.sends(CAME, person.form(CAME), **changed).status_code == 200
    assert job(shop)["in_hand"] == {"block": {"design": "block-b", "source": "customer", "supplier": "quarry",
                                              "part_number": "QB-1200"}}  # fmt: skip
    told = person.sends(CAME, person.form(CAME), **changed | {"here-cost": "much"})
    assert told.status_code == 422 and "cost" in words_of(told.text)
    told = person.sends(CAME, person.form(CAME), **changed | {"here-supplier": "", "here-number": "7"})
    assert told.status_code == 422 and "the supplier whose number it is" in words_of(told.text)
    told = person.sends(CAME, person.form(CAME), **changed | {"here-source": "found"})
    assert told.status_code == 422
