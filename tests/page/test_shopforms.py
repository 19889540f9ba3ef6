"""Rates, mark-up, the shelf, the letterhead, layouts of sheets, inspections and consumables as forms, with scripts off."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from sourcing.prices.declaring import Declaration, declared
from sourcing.prices.suppliers import read_suppliers
from sourcing.shop import read_shop
from sourcing.tomltext import comments

MARKUP, SHELF, SHOP, HEAD, LAYOUTS = "/book/markup", "/book/shelf", "/book/shop", "/book/letterhead", "/book/layouts"


def text_of(shop: ShopFolder, name: str = "shop.toml") -> str:
    return (shop.reach.catalogs / name).read_text(encoding="utf-8")


def said(shop: ShopFolder) -> dict[str, Any]:
    return tomllib.loads(text_of(shop), parse_float=Decimal)


def quoted(person: Person, job: str = "substitute-with-plate") -> dict[str, Any]:
    told = person.client.get(f"/api/jobs/{job}/quote").json()
    assert isinstance(told, dict)
    return told


def test_a_step_of_the_mark_up_is_changed_added_and_taken_out(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop)
    fields = person.form(MARKUP, MARKUP)
    assert person.sends(MARKUP, fields, **{"markup-factor-0": "1.80"}).status_code == 200
    assert text_of(shop) == before.replace("factor = 1.70", "factor = 1.80")
    fields = person.form(MARKUP, MARKUP)
    added = {"markup-up_to-2": "900", "markup-factor-2": "1.35", "markup-factor-3": "1.20"}
    assert person.sends(MARKUP, fields, **added).status_code == 200
    steps = [(step.up_to, step.factor) for step in read_shop(shop.reach.catalogs / "shop.toml").markups]
    assert steps == [(50, Decimal("1.80")), (250, Decimal("1.45")), (900, Decimal("1.35")), (None, Decimal("1.20"))]
    assert comments(text_of(shop)) == comments(before)
    person.sends(MARKUP, person.form(MARKUP, MARKUP), **{"markup-out-1": "yes"})
    assert [step["factor"] for step in said(shop)["markup"]] == [Decimal("1.80"), Decimal("1.35"), Decimal("1.20")]


@pytest.mark.parametrize(("changed", "words"), [
    ({"markup-up_to-0": "cheap"}, "markup"), ({"markup-up_to-2": "100"}, "up_to on every step but the last"),
    ({"markup-factor-0": ""}, "factor"), ({"fx-currency-1": "euro", "fx-rate-1": "1.1"}, "fx"),
    ({"fx-rate-0": "about one"}, "fx"), ({"fx-rate-0": "0"}, "fx"), ({"fx-rate-1": "3.5"}, "fx"),
])  # fmt: skip
def test_a_step_or_rate_that_is_none_is_refused_with_its_reason(
    shop: ShopFolder, person: Person, changed: dict[str, str], words: str
) -> None:
    before = text_of(shop)
    fields = person.form(MARKUP, MARKUP)
    assert words in words_of(person.sends(f"{MARKUP}/live", fields, **changed).text)
    told = person.sends(MARKUP, fields, **changed)
    assert told.status_code == 422 and words in words_of(told.text)
    name, value = next(iter(changed.items()))
    assert fields_of(told.text, MARKUP)[name] == [value]  # what was typed stays
    assert text_of(shop) == before


def test_an_exchange_rate_changes_what_a_part_from_abroad_costs_on_the_command_line_too(
    shop: ShopFolder, person: Person
) -> None:
    before = text_of(shop)
    person.sends(
        MARKUP, person.form(MARKUP, MARKUP), **{"fx-rate-0": "1.25", "fx-currency-1": "CAD", "fx-rate-1": "0.73"}
    )
    assert said(shop)["fx"] == {"EUR": Decimal("1.25"), "CAD": Decimal("0.73")}
    assert comments(text_of(shop)) == comments(before)
    assert read_shop(shop.reach.catalogs / "shop.toml").rate("EUR") == Decimal("1.25")
    person.sends(MARKUP, person.form(MARKUP, MARKUP), **{"fx-out-1": "yes"})
    assert text_of(shop) == before.replace("EUR = 1.12", "EUR = 1.25")


def test_what_is_wanted_for_the_shelf_is_bought_by_the_answer(shop: ShopFolder, person: Person) -> None:
    before, free = text_of(shop), quoted(person, "free-freight")
    assert free["totals"]["shelf"] != "0.00"
    fields = person.form(SHELF, SHELF)
    assert person.sends(SHELF, fields, **{f"wanted-out-{n}": "yes" for n in range(3)}).status_code == 200
    assert "wanted" not in said(shop) and comments(text_of(shop)) == comments(before)
    assert quoted(person, "free-freight")["totals"]["shelf"] == "0.00"
    row = {"wanted-design-0": "screen-s", "wanted-pieces-0": "2", "wanted-worth-0": "14.00"}
    person.sends(SHELF, person.form(SHELF, SHELF), **row)
    assert said(shop)["wanted"] == [{"design": "screen-s", "pieces": 2, "worth": Decimal("14.00")}]
    twice = {"wanted-design-1": "screen-s", "wanted-pieces-1": "1", "wanted-worth-1": "1.00"}
    told = person.sends(SHELF, person.form(SHELF, SHELF), **twice)
    assert told.status_code == 422 and '"screen-s" twice' in words_of(told.text)


def test_a_design_that_no_book_has_stays_wanted(shop: ShopFolder, person: Person) -> None:
    path = shop.reach.catalogs / "shop.toml"
    path.write_text(text_of(shop).replace('design = "jumper-s"', 'design = "of-another-book"'), encoding="utf-8")
    before = text_of(shop)
    person.sends(SHELF, person.form(SHELF, SHELF), **{"wanted-pieces-0": "3"})
    assert text_of(shop) == before.replace("pieces = 2", "pieces = 3", 1)


def test_rates_days_and_supplies_are_saved_and_every_comment_stays(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop)
    changed = {"holidays": "2026-05-25, 2026-07-03\n2026-12-24", "tax_cores": "0.065", "mixed_share": "0.2",
               "shop_supplies-share": "0.05", "shop_supplies-cap": ""}  # fmt: skip
    assert person.sends(SHOP, person.form(SHOP, SHOP), **changed).status_code == 200
    shop_now = read_shop(shop.reach.catalogs / "shop.toml")
    assert [str(day) for day in shop_now.holidays] == ["2026-05-25", "2026-07-03", "2026-12-24"]
    assert (shop_now.tax_cores, shop_now.mixed_share) == (Decimal("0.065"), Decimal("0.2"))
    assert (shop_now.shop_supplies.share, shop_now.shop_supplies.cap) == (Decimal("0.05"), None)
    assert comments(text_of(shop)) == comments(before)
    told = person.sends(SHOP, person.form(SHOP, SHOP), holidays="2026-02-30")
    assert told.status_code == 422 and "holidays" in told.text and "2026-02-30" in told.text


def test_the_letterhead_is_what_the_papers_say(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop)
    changed = {"letterhead-address": "4 Larch Lane\r\nInvented Falls", "letterhead-terms": "All of it on collection.",
               "letterhead-paper": "a4"}  # fmt: skip
    assert person.sends(HEAD, person.form(HEAD, HEAD), **changed).status_code == 200
    head = read_shop(shop.reach.catalogs / "shop.toml").letterhead
    assert (head.address, head.terms, head.paper) == (
        ["4 Larch Lane", "Invented Falls"],
        "All of it on collection.",
        "a4",
    )
    assert comments(text_of(shop)) == comments(before)
    told = person.sends(HEAD, person.form(HEAD, HEAD), **{"letterhead-address": "\n".join("abcdef")})
    assert told.status_code == 422 and "letterhead" in words_of(told.text)
    told = person.sends(HEAD, person.form(HEAD, HEAD), **{"letterhead-logo": "../../etc/passwd"})
    assert told.status_code == 422


def sends_picture(person: Person, name: str, content: bytes, **more: str) -> Any:
    token = person.form(HEAD, HEAD)["token"][0]
    return person.client.post(f"{HEAD}/picture", data={"token": token, **more}, files={"file": (name, content)})


def test_a_picture_is_sent_in_and_stands_on_the_letterhead(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop)
    content = (shop.reach.catalogs / "logo.png").read_bytes()
    assert sends_picture(person, "../../our head.PNG", content + b"").status_code == 200
    assert text_of(shop) == before.replace('logo = "logo.png"', 'logo = "our head.png"')
    assert (shop.reach.catalogs / "our head.png").read_bytes() == content
    sends_picture(person, "logo.png", content)  # the very same: no second copy
    assert text_of(shop) == before
    other = content.replace(b"IEND", b"IEND", 1)[:-1] + b"\x83"
    assert sends_picture(person, "logo.png", other).status_code == 200
    assert read_shop(shop.reach.catalogs / "shop.toml").letterhead.logo == "logo 2.png"
    assert (shop.reach.catalogs / "logo.png").read_bytes() == content


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"<svg onload=alert(1)>", b"x" * 1_200_000])
def test_what_is_no_picture_is_refused_and_nothing_is_kept(shop: ShopFolder, person: Person, content: bytes) -> None:
    before, names = text_of(shop), sorted(path.name for path in shop.reach.catalogs.iterdir())
    told = sends_picture(person, "head.png", content)
    assert told.status_code == 422 and "letterhead logo" in words_of(told.text)
    huge = (shop.reach.catalogs / "logo.png").read_bytes()
    huge = huge[:16] + (5000).to_bytes(4, "big") + huge[20:]  # 5000 pixels wide, its header says
    assert sends_picture(person, "head.png", huge).status_code == 422
    assert sends_picture(person, "head.png", huge, token="x").status_code == 403
    assert (text_of(shop), sorted(path.name for path in shop.reach.catalogs.iterdir() if path.name != "price-sheets")) == (
        before, [name for name in names if name != "price-sheets"])  # fmt: skip


def test_two_people_on_one_page_of_the_shop_are_told_and_on_two_they_do_not_meet(shop: ShopFolder) -> None:
    first, second, third = shop.opens(), shop.opens(), shop.opens()
    late, other = second.form(MARKUP, MARKUP), third.form(SHELF, SHELF)
    first.sends(MARKUP, first.form(MARKUP, MARKUP), **{"fx-rate-0": "1.20"})
    told = second.sends(MARKUP, late, **{"markup-factor-0": "2.00"})
    assert told.status_code == 409 and "Exchange rates EUR, 1.12 EUR, 1.20" in words_of(told.text)
    assert second.sends(MARKUP, fields_of(told.text, MARKUP)).status_code == 200
    assert (said(shop)["fx"]["EUR"], said(shop)["markup"][0]["factor"]) == (Decimal("1.20"), Decimal("2.00"))
    assert third.sends(SHELF, other, **{"wanted-pieces-0": "1"}).status_code == 200


SPOILT = {
    "rates": ("[fx]\nEUR = 1.12", "", MARKUP, {"markup-factor-0": "2"}),
    "a factor": ("[[markup]]\nfactor = 1.30", "[[markup]]\nfactor = [1]", MARKUP, {"fx-rate-0": "2"}),
    "days": ("holidays = [", "holidays = 5 # [", SHOP, {"quote_days": "9"}),
    "supplies": ("[shop_supplies]\nshare = 0.04\ncap = 35.00", "", SHOP, {"shop_supplies-cap": "9"}),
    "an address": ('address = ["3', 'address = "x" # ["3', HEAD, {"letterhead-phone": "1"}),
    "a list": ("[[wanted]]", "[[wanting]]", SHELF, {"wanted-design-0": "screen-s"}),
}


@pytest.mark.parametrize("what", SPOILT)
def test_a_file_that_was_spoilt_by_hand_is_shown_with_its_fault_and_never_changed_in_silence(
    shop: ShopFolder, person: Person, what: str
) -> None:
    old, new, page, changed = SPOILT[what]
    path = shop.reach.catalogs / "shop.toml"
    assert old in text_of(shop)
    spoilt = text_of(shop).replace(old, new)
    spoilt = {"rates": "fx = 3\n", "supplies": "shop_supplies = 5\n"}.get(what, "") + spoilt
    path.write_text(spoilt, encoding="utf-8")
    assert "Not right yet" in person.sees(page)
    assert person.sends(page, person.form(page, page), **changed).status_code == 422
    assert person.sends(f"{page}/live", person.form(page, page), **changed).status_code == 200
    assert text_of(shop) == spoilt


@pytest.mark.parametrize(
    "said",
    [
        "freight = 3",
        "columns = 3",
        "sheet = [1]",
        "earlier = 3",
        "earlier = [3]",
        "freight = [{}, 4]",
        "lead_days = {}",
    ],
)
def test_a_supplier_that_was_spoilt_by_hand_is_shown_with_its_fault(
    shop: ShopFolder, person: Person, said: str
) -> None:
    path = shop.reach.catalogs / "suppliers.toml"
    spoilt = f'{text_of(shop, "suppliers.toml")}\n[[supplier]]\ncode = "new"\nname = "New"\n{said}\n'
    path.write_text(spoilt, encoding="utf-8")
    for page in ("/book/suppliers", LAYOUTS):
        seen = person.client.get(f"{page}?entry=new")
        assert seen.status_code == 200 and "Not right yet" in seen.text
        fields = fields_of(seen.text, page)
        assert person.sends(page, fields, core_needs="dry").status_code in (200, 422)
        assert person.sends(f"{page}/live", fields, core_needs="dry").status_code == 200
    assert path.read_text(encoding="utf-8") == spoilt


# -- how a supplier's sheets are laid out --


def test_a_column_of_a_supplier_is_seen_and_corrected_and_the_sheets_are_read_by_it(
    shop: ShopFolder, person: Person
) -> None:
    before = text_of(shop, "suppliers.toml")
    path = f"{LAYOUTS}?entry=birkental"
    fields = person.form(path, LAYOUTS)
    lines = fields["columns"][0]
    assert "price = Nettopreis" in lines and "lead days = Lieferzeit (Tage)" in lines
    assert (
        person.sends(LAYOUTS, fields, columns=lines.replace("price = Nettopreis", "price = Preis")).status_code == 200
    )
    assert text_of(shop, "suppliers.toml") == before.replace('price = "Nettopreis"', 'price = "Preis"')
    person.sends(LAYOUTS, person.form(path, LAYOUTS), columns=lines)
    assert text_of(shop, "suppliers.toml") == before
    assert read_suppliers(shop.reach.catalogs / "suppliers.toml")["birkental"].columns["price"] == "Nettopreis"


def test_how_the_sheets_on_file_are_read_by_a_layout_is_shown_before_it_is_saved(
    shop: ShopFolder, person: Person
) -> None:
    path = f"{LAYOUTS}?entry=birkental"
    before = text_of(shop, "suppliers.toml")
    seen = words_of(person.sees(path))
    assert "Its newest sheets on file, read so" in seen and "part numbers can be bought at these prices." in seen
    fields = person.form(path, LAYOUTS)
    wrong = fields["columns"][0].replace("price = Nettopreis", "price = Nirgends")
    assert "to see how its newest sheets" in words_of(person.sends(f"{LAYOUTS}/live", fields, columns=wrong).text)
    shown = words_of(person.sends(LAYOUTS, fields, columns=wrong, show="").text)
    assert "a question would be open" in shown or "refused" in shown
    assert text_of(shop, "suppliers.toml") == before


def test_a_layout_that_no_sheet_has_is_said_beside_the_form(shop: ShopFolder, person: Person) -> None:
    fields = person.form(f"{LAYOUTS}?entry=birkental", LAYOUTS)
    live = words_of(person.sends(f"{LAYOUTS}/live", fields, columns="colour = Farbe").text)
    assert "colour" in live and "a field: part_number" in live
    assert person.sends(LAYOUTS, fields, columns="colour = Farbe").status_code == 422
    assert person.sends(LAYOUTS, fields, **{"sheet-header_row": "first"}).status_code == 422


def test_a_layout_is_declared_where_there_was_none_and_taken_back(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop, "suppliers.toml")
    path = f"{LAYOUTS}?entry=quarry"
    changed = {"columns": "Part number = No.\n10+ = from ten\nstock =", "sheet-decimal": ",", "sheet-header_row": "3"}
    assert person.sends(LAYOUTS, person.form(path, LAYOUTS), **changed).status_code == 200
    quarry = read_suppliers(shop.reach.catalogs / "suppliers.toml")["quarry"]
    assert quarry.columns == {"part_number": "No.", "10+": "from ten", "stock": ""}
    assert (quarry.sheet.decimal, quarry.sheet.header_row) == (",", 3)
    text = text_of(shop, "suppliers.toml")
    assert "[supplier.columns]" in text and comments(text) == comments(before)
    again = person.form(path, LAYOUTS)
    assert again["columns"] == ["part number = No.\n10+ = from ten\nstock ="]
    person.sends(LAYOUTS, again, **{"columns": "", "sheet-decimal": "", "sheet-header_row": ""})
    assert tomllib.loads(text_of(shop, "suppliers.toml")) == tomllib.loads(before)


def test_a_layout_of_before_is_seen_corrected_and_taken_out(shop: ShopFolder, person: Person) -> None:
    from datetime import date

    path = shop.reach.catalogs / "suppliers.toml"
    old = Declaration(earlier=((date(2026, 1, 1), {"price": "Old net"}, {"decimal": ","}),))
    path.write_text(declared(text_of(shop, "suppliers.toml"), "harbour", old), encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    form = person.form(f"{LAYOUTS}?entry=harbour", LAYOUTS)
    assert person.sends(LAYOUTS, form).status_code == 200 and path.read_text(encoding="utf-8") == before
    assert (form["earlier-until-0"], form["earlier-columns-0"], form["earlier-sheet-0-decimal"]) == (
        ["2026-01-01"], ["price = Old net"], [","])  # fmt: skip
    person.sends(LAYOUTS, form, **{"earlier-columns-0": "price = Older net"})
    assert path.read_text(encoding="utf-8") == before.replace('"Old net"', '"Older net"')
    person.sends(LAYOUTS, person.form(f"{LAYOUTS}?entry=harbour", LAYOUTS), **{"earlier-out-0": "yes"})
    assert read_suppliers(path)["harbour"].earlier == []


def test_a_supplier_is_neither_made_nor_taken_out_by_its_layout(shop: ShopFolder, person: Person) -> None:
    before = text_of(shop, "suppliers.toml")
    form = person.form(f"{LAYOUTS}?entry=harbour", LAYOUTS)
    assert "take_out" not in person.sees(f"{LAYOUTS}?entry=harbour")
    person.sends(LAYOUTS, form, take_out="")
    assert person.sends(LAYOUTS, form, entry="", columns="price = Net").status_code == 404
    assert text_of(shop, "suppliers.toml") == before


# -- a book's inspections and consumables, and its name --


def test_an_inspection_is_written_and_a_job_is_held_to_it(shop: ShopFolder, person: Person) -> None:
    action = "/families/larch5/book/inspection"
    path = shop.reach.catalogs / "larch5" / "interchange.toml"
    before = path.read_text(encoding="utf-8")
    new = {"code": "play", "position": "body", "ask": "How far does the valve move?", "unit": "mm", "accept": "-0.05, 0.10",
           "source": "Shop note 40"}  # fmt: skip
    wrong = person.sends(action, person.form(f"{action}?new=1", action), **new | {"accept": "0.10, -0.05"})
    assert wrong.status_code == 422 and "the lower end of the range first" in words_of(wrong.text)
    assert person.sends(action, person.form(f"{action}?new=1", action), **new).status_code == 200
    text = path.read_text(encoding="utf-8")
    assert "accept = [-0.05, 0.10]" in text and comments(text) == comments(before)
    bench = "/jobs/substitute-with-plate/bench"
    assert "How far does the valve move?" in person.sees(bench)
    kept = quoted(person)
    assert kept["status"] == "proven" and "body" not in kept["kept"]  # no reading yet
    assert person.sends(bench, person.form(bench), **{"reading-play": "-0.02"}).status_code == 200
    assert "play = -0.02" in shop.job("substitute-with-plate").read_text(encoding="utf-8")
    assert "body" in quoted(person)["kept"]


def test_a_reading_that_is_one_of_a_few_numbers_is_read_as_a_number(shop: ShopFolder, person: Person) -> None:
    action, bench = "/families/larch5/book/inspection", "/jobs/substitute-with-plate/bench"
    new = {"code": "turns", "position": "body", "ask": "How many turns?", "accept": "2, 3, 4", "source": "Shop note 41"}
    assert person.sends(action, person.form(f"{action}?new=1", action), **new).status_code == 200
    assert "body" not in quoted(person)["kept"]
    person.sends(bench, person.form(bench), **{"reading-turns": "3"})
    assert (
        "turns = 3" in shop.job("substitute-with-plate").read_text(encoding="utf-8")
        and "body" in quoted(person)["kept"]
    )


def test_a_consumable_is_written_with_when_it_is_charged(shop: ShopFolder, person: Person) -> None:
    action = "/families/larch5/book/consumable"
    path = shop.reach.catalogs / "larch5" / "interchange.toml"
    before = path.read_text(encoding="utf-8")
    new = {"code": "seal", "name": "Plug seal", "price": "4.20", "when": "lever = gate", "replacing": ["block"]}
    assert person.sends(action, person.form(f"{action}?new=1", action), **new).status_code == 200
    text = path.read_text(encoding="utf-8")
    assert comments(text) == comments(before)
    wanted = {
        "code": "seal",
        "name": "Plug seal",
        "price": Decimal("4.20"),
        "when": {"lever": ["gate"]},
        "replacing": ["block"],
    }
    assert tomllib.loads(text, parse_float=Decimal)["consumable"][-1] == wanted
    wrong = person.sends(action, person.form(f"{action}?entry=seal", action), when="colour = red")
    assert wrong.status_code == 422 and '"colour"' in words_of(wrong.text)
    first, second = shop.opens(), shop.opens()
    late = second.form(f"{action}?entry=seal", action)
    first.sends(action, first.form(f"{action}?entry=seal", action), price="5.00")
    told = second.sends(action, late, unit="pair")
    assert told.status_code == 409 and "What the customer pays for one 4.20 5.00" in words_of(told.text)


def test_a_family_is_called_otherwise_and_its_code_stays(shop: ShopFolder, person: Person) -> None:
    action = "/families/larch5/book/family"
    path = shop.reach.catalogs / "larch5" / "interchange.toml"
    before = path.read_text(encoding="utf-8")
    assert person.sends(action, person.form(action), **{"family-name": "Larch, five speeds"}).status_code == 200
    after = path.read_text(encoding="utf-8")
    assert sum(a != b for a, b in zip(before.splitlines(), after.splitlines(), strict=True)) == 1
    assert "Larch, five speeds" in person.sees("/book")


@pytest.mark.parametrize("opened", ["{" + "a." * 40_000 + "b = 1}", "[" * 50_000, "x" * 10])
def test_an_entry_that_costs_more_to_read_than_it_says_is_refused(person: Person, opened: str) -> None:
    fields = person.form(MARKUP, MARKUP)
    assert person.sends(MARKUP, fields, opened=opened).status_code == 403
