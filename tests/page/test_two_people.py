"""Two people on one job: the second to save is told what the first changed, and nothing is lost silently."""

from __future__ import annotations

import tomllib

from page.conftest import Person, ShopFolder, fields_of, words_of

LIMITS = "/jobs/exact-block/limits"


def test_the_second_to_save_is_told_what_the_first_changed(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    early, late = first.form(LIMITS), second.form(LIMITS)
    assert first.sends(LIMITS, early, need_by="2026-04-08").status_code == 200
    told = second.sends(LIMITS, late, base_hours="15")
    assert told.status_code == 409
    words = words_of(told.text)
    assert "Job: needed by not said 2026-04-08" in words
    assert "Labour: base hours" in words and "yours: 15" in words
    assert "both" not in words.replace("you both", "both") or "you both changed it" not in words
    assert "base_hours = 13.5" in shop.job("exact-block").read_text(encoding="utf-8")
    done = second.sends("/jobs/exact-block/settle", fields_of(told.text, "/jobs/exact-block/settle"))
    assert done.status_code == 200
    job = tomllib.loads(shop.job("exact-block").read_text(encoding="utf-8"))
    assert (str(job["job"]["need_by"]), job["labour"]["base_hours"]) == ("2026-04-08", 15)


def test_where_both_changed_one_thing_the_second_must_choose(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    early, late = first.form(LIMITS), second.form(LIMITS)
    first.sends(LIMITS, early, base_hours="14", need_by="2026-04-08")
    told = second.sends(LIMITS, late, base_hours="15", customer="")
    assert "you both changed it" in told.text
    fields = fields_of(told.text, "/jobs/exact-block/settle")
    assert not [name for name in fields if name.startswith("take-")]  # no choice is made for them
    number = next(name for name in told.text.split('name="') if name.startswith("take-")).split('"')[0]
    theirs = second.sends("/jobs/exact-block/settle", fields, **{number: "theirs"})
    assert theirs.status_code == 200
    assert "base_hours = 14" in shop.job("exact-block").read_text(encoding="utf-8")


def test_a_third_who_saves_while_the_second_chooses_is_told_of_again(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    late = second.form(LIMITS)
    first.sends(LIMITS, first.form(LIMITS), need_by="2026-04-08")
    told = second.sends(LIMITS, late, base_hours="15")
    first.sends(LIMITS, first.form(LIMITS), max_suppliers="2")
    again = second.sends("/jobs/exact-block/settle", fields_of(told.text, "/jobs/exact-block/settle"))
    assert again.status_code == 409
    assert "Limits: max suppliers not said 2" in words_of(again.text)


def test_what_is_typed_by_hand_meanwhile_counts_as_saved(shop: ShopFolder, person: Person) -> None:
    fields = person.form(LIMITS)
    path = shop.job("exact-block")
    path.write_text(
        path.read_text(encoding="utf-8").replace("base_hours = 13.5", "base_hours = 12.0"), encoding="utf-8"
    )
    assert person.sends(LIMITS, fields, need_by="2026-04-08").status_code == 409


def test_a_form_that_changes_nothing_goes_on_whatever_was_saved(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    late = second.form(LIMITS)
    first.sends(LIMITS, first.form(LIMITS), need_by="2026-04-08")
    assert second.sends(LIMITS, late).status_code == 200
    assert "need_by = 2026-04-08" in shop.job("exact-block").read_text(encoding="utf-8")


def test_marks_and_a_named_design_of_one_part_are_a_clash(shop: ShopFolder) -> None:
    first, second = shop.opens(), shop.opens()
    action = "/jobs/exact-block/bench"
    late = second.form(action)
    first.sends(action, first.form(action), **{"known-block": "", "mark-solenoids": "6"})
    told = second.sends(action, late, **{"known-block": "block-c"})
    assert told.status_code == 409 and "you both changed it" in told.text
    fields = fields_of(told.text, "/jobs/exact-block/settle")
    done = second.sends("/jobs/exact-block/settle", fields, **{"take-0": "mine"})
    assert done.status_code == 200
    found = tomllib.loads(shop.job("exact-block").read_text(encoding="utf-8"))["found"]
    assert found["block"] == "block-c"
