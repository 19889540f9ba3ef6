"""The books and the shop's files as forms, with scripts off: changed, checked as they are typed, two people told of each other."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from sourcing.bookfile import entries, rows
from sourcing.tomltext import comments

BOOK = "/families/larch5/book"
KINDS = ("era", "fact", "position", "mark", "design", "rule", "task", "consumable", "inspection")
OF_SHOP = ("/book/shop", "/book/markup", "/book/shelf", "/book/letterhead")


def all_entries(shop: ShopFolder) -> list[str]:
    text = (shop.reach.catalogs / "larch5" / "interchange.toml").read_text(encoding="utf-8")
    found = [f"{BOOK}/{kind}?entry={one['code']}" for kind in KINDS for one in entries(text, kind)]
    terms = (shop.reach.catalogs / "suppliers.toml").read_text(encoding="utf-8")
    found += [
        f"/book/{of}?entry={one['code']}" for one in entries(terms, "supplier") for of in ("suppliers", "layouts")
    ]
    parts = (shop.reach.catalogs / "larch5" / "parts.csv").read_text(encoding="utf-8")
    return [
        *found,
        *(f"{BOOK}/part?entry={row['supplier']}/{row['part_number']}" for row in rows(parts)),
        *OF_SHOP,
        f"{BOOK}/family",
    ]


def files_of(shop: ShopFolder) -> dict[str, bytes]:
    names = ("larch5/interchange.toml", "larch5/parts.csv", "suppliers.toml", "shop.toml")
    return {name: (shop.reach.catalogs / name).read_bytes() for name in names}


def test_a_form_that_is_sent_untouched_changes_nothing(shop: ShopFolder) -> None:
    before, person = files_of(shop), shop.opens(changes=_plenty(), reads=_plenty())
    for path in all_entries(shop):
        action = path.partition("?")[0]
        said = person.sends(action, person.form(path, action), save="")
        assert said.status_code == 200, (path, words_of(said.text))
        assert files_of(shop) == before, path


def _plenty() -> Any:
    from sourcing.page.rates import Rate

    return Rate(100_000, 100_000)


def test_one_field_changed_changes_one_line_and_keeps_every_comment(shop: ShopFolder, person: Person) -> None:
    path = shop.reach.catalogs / "larch5" / "interchange.toml"
    before = path.read_text(encoding="utf-8")
    action = f"{BOOK}/design"
    person.sends(action, person.form(f"{action}?entry=block-b", action), name='Block B, "seven"')
    after = path.read_text(encoding="utf-8")
    assert sum(a != b for a, b in zip(before.splitlines(), after.splitlines(), strict=True)) == 1
    assert [one["name"] for one in entries(after, "design") if one["code"] == "block-b"] == ['Block B, "seven"']
    assert comments(after) == comments(before)


def test_the_holes_of_a_book_stand_beside_the_form_as_it_is_typed(shop: ShopFolder, person: Person) -> None:
    action = f"{BOOK}/design"
    fields = {**person.form(f"{action}?new=1", action), "code": "block-x", "position": "block", "name": "Block X"}
    live = person.sends(f"{action}/live", fields).text
    assert "<html" not in live and "block-x belongs in no era" in words_of(live)
    shown = person.sends(action, fields, show="").text
    assert "block-x belongs in no era" in words_of(shown) and 'value="Block X"' in shown
    wrong = person.sends(f"{action}/live", {**fields, "comeback_rate": "often"}).text
    assert "Not right yet" in wrong and "comeback_rate" in wrong
    text = (shop.reach.catalogs / "larch5" / "interchange.toml").read_text(encoding="utf-8")
    assert "block-x" not in text


def test_what_is_wrong_is_not_saved_and_what_was_typed_stays(shop: ShopFolder, person: Person) -> None:
    before = files_of(shop)
    action = f"{BOOK}/era"
    said = person.sends(action, person.form(f"{action}?entry=mid", action), **{"from": "soon"})
    assert said.status_code == 422 and 'value="soon"' in said.text and "Not saved" in said.text
    said = person.sends(action, person.form(f"{action}?entry=mid", action), take_out="")
    assert said.status_code == 422  # designs name it
    assert files_of(shop) == before


def test_a_code_that_is_taken_is_refused(shop: ShopFolder, person: Person) -> None:
    action = f"{BOOK}/design"
    fields = {**person.form(f"{action}?new=1", action), "code": "block-b", "position": "block", "name": "again"}
    assert person.sends(action, fields).status_code == 422


def test_two_people_on_one_entry_are_told_of_each_other(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    action = "/book/suppliers"
    early, late = (one.form(f"{action}?entry=harbour", action) for one in (first, second))
    assert first.sends(action, early, lead_days="2").status_code == 200
    told = second.sends(action, late, core_needs="dry")
    assert told.status_code == 409
    words = words_of(told.text)
    assert "Somebody changed this supplier" in words and "Working days until it sends 1 2" in words
    assert second.sends(action, fields_of(told.text, action)).status_code == 200
    harbour = tomllib.loads((shop.reach.catalogs / "suppliers.toml").read_text(encoding="utf-8"))["supplier"][0]
    assert (harbour["lead_days"], harbour["core_needs"]) == (2, "dry")


def test_two_people_on_two_entries_do_not_meet(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    action = f"{BOOK}/design"
    early, late = first.form(f"{action}?entry=block-a", action), second.form(f"{action}?entry=block-b", action)
    assert first.sends(action, early, name="A").status_code == 200
    assert second.sends(action, late, name="B").status_code == 200


def test_an_entry_that_somebody_took_out_can_be_put_back(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    action = f"{BOOK}/task"
    text = (shop.reach.catalogs / "larch5" / "interchange.toml").read_text(encoding="utf-8")
    code = entries(text, "task")[0]["code"]
    late = second.form(f"{action}?entry={code}", action)
    assert first.sends(action, first.form(f"{action}?entry={code}", action), take_out="").status_code == 200
    told = second.sends(action, late, name="mine")
    assert told.status_code == 409 and "took this task out" in told.text
    assert second.sends(action, fields_of(told.text, action)).status_code == 200
    now = entries((shop.reach.catalogs / "larch5" / "interchange.toml").read_text(encoding="utf-8"), "task")
    assert [one["name"] for one in now if one["code"] == code] == ["mine"]


EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)> {{ 7*7 }}"


def test_whatever_a_book_says_stands_as_text(shop: ShopFolder, person: Person) -> None:
    action = f"{BOOK}/design"
    assert person.sends(action, person.form(f"{action}?entry=block-b", action), name=EVIL).status_code == 200
    for page in (BOOK, action, f"{action}?entry=block-b", "/families/larch5/wall", "/families/larch5/review", "/prices",
                 "/prices/larch5/block-b", "/families/larch5/chart", "/book", f"{BOOK}/part?new=1",
                 "/jobs/exact-block/came"):  # fmt: skip
        seen = person.sees(page)
        assert "<script>alert" not in seen and "<img" not in seen


@pytest.mark.parametrize("path", [
    "/families/..%2Flarch5/book", "/families/larch5/book/..%2f..", "/families/larch5/book/reading", "/book/shops",
    "/book/layouts?entry=none", "/families/none/book", "/families/larch5/wall/..%2Fshop.toml",
    "/families/larch5/wall/shop.toml", "/families/larch5/book/design?entry=none", "/book/suppliers?entry=../x",
    "/families/price-sheets/book",
])  # fmt: skip
def test_no_name_leads_out_of_the_books(person: Person, path: str) -> None:
    assert person.client.get(path).status_code in (404, 422)


@pytest.mark.parametrize("code", ["../evil", "a/b", "", "CON", "price-sheets", "x" * 90, "ünder", "."])
def test_a_family_gets_a_folder_of_its_own_and_no_other(shop: ShopFolder, person: Person, code: str) -> None:
    before = sorted(path.name for path in shop.reach.catalogs.iterdir())
    said = person.sends("/book/families", person.form("/book", "/book/families"), code=code, name="x")
    assert said.status_code == 422
    assert sorted(path.name for path in shop.reach.catalogs.iterdir()) == before


def test_the_chart_is_there_for_paper_with_the_same_words(person: Person) -> None:
    seen = words_of(person.sees("/families/larch5/wall"))
    page = person.client.get("/families/larch5/wall/chart.html")
    assert page.headers["content-disposition"].startswith("attachment")
    for why in re.findall(r"<li>(.*?)</li>", page.text):
        assert " ".join(words_of(why).split()) in seen
    assert person.client.get("/families/larch5/wall/chart.xlsx").content.startswith(b"PK")


def test_the_review_says_what_the_command_prints(shop: ShopFolder, person: Person) -> None:
    from sourcing.book.review import review
    from sourcing.bookshelf import Bookshelf, numbers_of

    shelf = Bookshelf(shop.reach.catalogs)
    family = shelf.family("larch5")
    seen = words_of(person.sees("/families/larch5/review"))
    found = review(family, numbers_of(shelf.parts(family) or ()))
    assert found
    for finding in found:
        assert " ".join(finding.says.split()) in seen and " ".join(finding.example.split()) in seen


def test_a_forged_entry_is_refused(person: Person) -> None:
    action = f"{BOOK}/design"
    fields = person.form(f"{action}?entry=block-b", action)
    assert person.sends(action, fields, opened="][").status_code == 403
    assert person.sends(action, fields, token="x").status_code == 403
