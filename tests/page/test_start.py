"""From nothing to a first quote at the counter, with scripts off: the walk that takes five minutes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from page.test_sheets import drops, home_of, settled

BOOK = "/families/fir4/book"


@pytest.fixture
def nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ShopFolder:
    monkeypatch.chdir(tmp_path)
    return ShopFolder(tmp_path)


def enters(person: Person, action: str, **said: Any) -> None:
    """A new entry typed into its form and saved."""
    fields = {**person.form(f"{action}?new=1", action), **said, "save": ""}
    done = person.client.post(action, data=fields)
    assert done.status_code == 200 and "Saved." in done.text, words_of(done.text)


def test_whatever_is_asked_for_leads_to_the_start(nothing: ShopFolder) -> None:
    person = nothing.opens()
    for path in ("/", "/new", "/jobs/x/answer", "/sheets", "/book"):
        assert str(person.client.get(path).url).endswith("/start"), path
    assert not list(nothing.folder.iterdir())


def test_the_example_is_a_shop_at_once(nothing: ShopFolder) -> None:
    person = nothing.opens()
    said = person.sends("/start", person.form("/start"), kind="example", name="<b>Mine</b>", labour_rate="95")
    assert said.url.path == "/" and "1042" in said.text and "<b>Mine" not in said.text and "&lt;b&gt;Mine" in said.text
    assert "proven" in person.sees("/jobs/exact-block/answer")
    assert "already" in person.sees("/start")
    again = person.sends("/start", {"token": person.form("/new")["token"][0], "kind": "empty"})
    assert again.status_code == 422


def test_what_cannot_be_is_said_and_nothing_is_made(nothing: ShopFolder) -> None:
    person = nothing.opens()
    for wrong in ({"currency": "dollars"}, {"labour_rate": "much"}, {"family": "../evil"}, {"family": ""}):
        said = person.sends("/start", person.form("/start"), **wrong)
        assert said.status_code == 422, wrong
        assert not list(nothing.folder.iterdir())


def test_from_nothing_to_a_first_quote(nothing: ShopFolder) -> None:
    person = nothing.opens()
    made = person.sends("/start", person.form("/start"), kind="empty", name="First Shop", currency="EUR", labour_rate="80",
                        family="fir4", family_name="Fir four-speed")  # fmt: skip
    assert made.url.path == BOOK and "Fir four-speed" in made.text and "holes found" in made.text
    era = f"{BOOK}/era"
    person.sends(
        era, person.form(f"{era}?entry=first", era), name="all years", **{"from": "1999-01"}, model_years="1999-2004"
    )
    enters(person, f"{BOOK}/mark", code="solenoids", position="block", ask="How many solenoids?", values="5, 6")
    enters(person, f"{BOOK}/mark", code="tracks", position="plate", ask="How many tracks?")
    enters(person, f"{BOOK}/design", code="block-a", position="block", name="Block A", fitted=["first"], comeback_rate="3/41",
           **{"mark-solenoids": "5"})  # fmt: skip
    enters(person, f"{BOOK}/design", code="block-b", position="block", name="Block B", retrofits=["first"],
           **{"mark-solenoids": "6"})  # fmt: skip
    enters(
        person,
        f"{BOOK}/design",
        code="plate-1",
        position="plate",
        name="Plate 1",
        fitted=["first"],
        **{"mark-tracks": "5"},
    )
    enters(
        person,
        f"{BOOK}/design",
        code="plate-2",
        position="plate",
        name="Plate 2",
        retrofits=["first"],
        **{"mark-tracks": "6"},
    )
    enters(person, f"{BOOK}/rule", code="plates", says="the plate must read as the block does", source="our own bench",
           caution="Check that it starts in park and neutral only.",
           allow="block, plate\nblock-a, plate-1\nblock-b, plate-2")  # fmt: skip
    enters(person, "/book/suppliers", code="mill", name="Mill Lane Parts", lead_days="1", **{
        "freight-mode-0": "ground", "freight-days-0": "2", "freight-flat-0": "9.50"})  # fmt: skip
    for number, design in (("M-10", "block-a"), ("M-20", "block-b"), ("M-31", "plate-1"), ("M-32", "plate-2")):
        enters(person, f"{BOOK}/part", supplier="mill", part_number=number, fills=[design], condition="new")
    assert "No hole was found." in words_of(person.sees(f"{BOOK}"))
    sheet = b"Part number;Description;Price\nM-10;Block A;310.00\nM-20;Block B;198.00\nM-31;Plate 1;44.00\nM-32;Plate 2;61.00\n"
    home = home_of(drops(person, "list.csv", sheet, "mill", "2026-04-01"))
    seen = settled(person, home)
    person.sends(f"{home}/file", fields_of(seen, f"{home}/file"))
    assert "Filed:" in words_of(settled(person, home))
    fields = person.form("/new") if 'action="/new"' in person.sees("/new") else person.form("/new?family=fir4", "/new")
    begun = person.sends("/new", fields, number="1", date="2026-04-02", unit__built="2001-05", save="")
    assert begun.url.path == "/jobs/1/bench", words_of(begun.text)
    bench = person.form("/jobs/1/bench")
    person.sends("/jobs/1/bench", {**bench, "known-block": "block-a", "known-plate": "plate-1"}, save="")
    answer = words_of(person.sees("/jobs/1/answer"))
    assert "proven: no valid plan is cheaper by a cent" in answer.casefold()
    assert "Block B" in answer and "Plate 2" in answer and "EUR" in answer
    papers = person.sends("/jobs/1/papers", person.form("/jobs/1/papers"))
    assert "The papers were made." in papers.text
    assert person.client.get("/jobs/1/papers/quote.xlsx").content.startswith(b"PK")
