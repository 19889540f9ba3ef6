"""What came of an order: written into the job, and the answer changes."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from page.conftest import Person, ShopFolder, fields_of, words_of

CAME = "/jobs/exact-block/came"


def job(shop: ShopFolder) -> dict[str, Any]:
    return tomllib.loads(shop.job("exact-block").read_text(encoding="utf-8"))


def numbered(text: str, position: str) -> str:
    found = re.search(rf'name="position-(\d+)" value="{position}"', text)
    assert found, position
    return found[1]


def test_what_to_look_at_stands_with_each_part(person: Person) -> None:
    words = words_of(person.sees(CAME))
    assert "What came" in words and "Look at" in words and "Right:" in words


def test_what_came_right_is_paid_for_and_bought_no_more(shop: ShopFolder, person: Person) -> None:
    before = person.client.get("/api/jobs/exact-block/quote").json()
    seen = person.sees(CAME)
    n = numbered(seen, "block")
    fields = fields_of(seen, CAME)
    said = person.sends(CAME, fields, **{f"what-{n}": "right"}, save="")
    assert said.status_code == 200, words_of(said.text)
    hand = job(shop)["in_hand"]["block"]
    assert (hand["source"], hand["design"]) == ("received", before["combination"]["block"])
    after = person.client.get("/api/jobs/exact-block/quote").json()
    bought = [line["part_number"] for line in after["purchases"]]
    assert hand["part_number"] not in bought
    (line,) = [line for line in before["purchases"] if line["part_number"] == hand["part_number"]]
    assert f"{hand['cost']:.2f}" == line["unit_price"] and after["status"] == "proven"


def test_the_wrong_box_is_kept_or_sent_back_and_the_answer_says_what_each_costs(
    shop: ShopFolder, person: Person
) -> None:
    seen = person.sees(CAME)
    n = numbered(seen, "block")
    other = re.search(rf'(?s)<select id="f-instead-{n}".*?<option value="([^"]+)"', seen)
    assert other
    shown = person.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "wrong", f"instead-{n}": other[1]}, show="")
    assert shown.status_code == 200 and "in_hand" not in job(shop)
    person.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "wrong", f"instead-{n}": other[1]}, save="")
    assert job(shop)["in_hand"]["block"]["design"] == other[1]
    answer = words_of(person.sees("/jobs/exact-block/answer"))
    assert "in hand" in answer and (
        "without it" in answer or "send it back" in answer or "no valid plan uses it" in answer
    )


def test_what_cannot_be_had_is_bought_elsewhere_and_can_be_had_again(shop: ShopFolder, person: Person) -> None:
    seen = person.sees(CAME)
    n = numbered(seen, "block")
    person.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "missing"}, save="")
    (lost,) = job(shop)["limits"]["unavailable"]
    after = person.client.get("/api/jobs/exact-block/quote").json()
    assert lost.partition("/")[2] not in [line["part_number"] for line in after["purchases"]]
    assert "cannot be had" in words_of(person.sees("/jobs/exact-block/answer"))
    person.sends(CAME, person.form(CAME), had=[lost], save="")
    assert "unavailable" not in job(shop).get("limits", {})


def test_what_is_taken_out_again_leaves_the_file_as_it_was(shop: ShopFolder, person: Person) -> None:
    before = shop.job("exact-block").read_text(encoding="utf-8")
    seen = person.sees(CAME)
    n = numbered(seen, "block")
    person.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "right"}, save="")
    person.sends(CAME, person.form(CAME), out=["block"], save="")
    assert tomllib.loads(before) == {table: said for table, said in job(shop).items() if said}


def test_a_day_that_is_none_is_said_and_two_people_are_told_of_each_other(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    seen, late = first.sees(CAME), second.sees(CAME)
    n = numbered(seen, "block")
    wrong = first.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "right"}, came="2031-01-01", save="")
    assert wrong.status_code == 422 and "a day not after the job" in words_of(wrong.text)
    assert first.sends(CAME, fields_of(seen, CAME), **{f"what-{n}": "right"}, save="").status_code == 200
    told = second.sends(CAME, fields_of(late, CAME), **{f"what-{n}": "missing"}, save="")
    assert told.status_code == 409 and "was changed meanwhile" in told.text


def test_a_form_that_is_sent_untouched_changes_nothing(shop: ShopFolder, person: Person) -> None:
    for path in sorted((shop.folder / "scenarios").glob("*.toml")):
        before = path.read_bytes()
        action = f"/jobs/{path.stem}/came"
        assert person.sends(action, person.form(action), save="").status_code == 200
        assert path.read_bytes() == before, path.name
