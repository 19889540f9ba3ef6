"""The whole path at the counter with scripts off: from a unit to a downloaded workbook."""

from __future__ import annotations

import io
import json
import sys

import openpyxl
import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of
from sourcing.cli import main


def test_from_a_unit_to_a_downloaded_workbook(shop: ShopFolder, person: Person) -> None:
    fields = person.form("/new")
    assert fields["number"] == ["1106"]  # one above the greatest of the demo's
    seen = person.sends(
        "/new", fields, date="2026-04-13", vehicle__built="1999-05", unit__built="1999-05", show="",
        **{"fact-lever": "gate", "fact-module": "white", "fact-pan": "shallow"},
    )  # fmt: skip
    assert "Fits a unit of first blocks, round case plug" in words_of(seen.text)
    assert not shop.job("1106").exists()
    bench = person.sends("/new", dict(fields_of(seen.text, "/new").items()))
    assert str(bench.url).endswith("/jobs/1106/bench?saved=1")
    looked = person.sends(
        "/jobs/1106/bench", person.form("/jobs/1106/bench"),
        **{"mark-solenoids": "6", "known-plate": "plate-1", "known-body": "body-1", "known-screen": "screen-s", "keep": ["body"]},
    )  # fmt: skip
    assert "Block A, six solenoids, round plug" in looked.text
    limits = person.sends("/jobs/1106/limits", person.form("/jobs/1106/limits"), base_hours="13.5")
    assert "Saved." in limits.text
    assert "proven: no valid plan is cheaper by a cent" in person.sees("/jobs/1106/answer").casefold()
    made = person.sends("/jobs/1106/papers", person.form("/jobs/1106/papers"))
    assert "The papers were made." in made.text
    paper = person.client.get("/jobs/1106/papers/quote.xlsx")
    assert paper.headers["content-disposition"].startswith("attachment")
    assert openpyxl.load_workbook(io.BytesIO(paper.content)).sheetnames
    assert (shop.folder / "reports" / "1106" / "revisions" / "1" / "quote.xlsx").read_bytes() == paper.content


@pytest.mark.parametrize("step", ["unit", "bench", "limits"])
def test_a_form_that_is_sent_untouched_changes_nothing(shop: ShopFolder, person: Person, step: str) -> None:
    for path in sorted((shop.folder / "scenarios").glob("*.toml")):
        before = path.read_bytes()
        action = f"/jobs/{path.stem}/{step}"
        said = person.sends(action, person.form(action), save="")
        assert said.status_code == 200
        assert path.read_bytes() == before, path.name


def test_papers_made_twice_are_one_revision(person: Person) -> None:
    action = "/jobs/exact-block/papers"
    person.sends(action, person.form(action))
    again = person.sends(action, person.form(action))
    assert "Nothing changed since the last revision: nothing was written." in again.text
    assert "Revision 2" not in again.text


def test_a_job_of_the_page_is_quoted_the_same_on_the_command_line(
    shop: ShopFolder, person: Person, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person.sends(
        "/new", person.form("/new"), number="A 7/b", customer='Ämter # "x"', date="2026-04-13", vehicle__built="1999-05",
        **{"fact-lever": "gate", "fact-module": "white", "fact-pan": "shallow"},
    )  # fmt: skip
    bench = person.form("/jobs/a-7-b/bench")
    person.sends("/jobs/a-7-b/bench", bench, **{"known-block": "block-a", "known-plate": "plate-1", "keep": ["plate"]})
    monkeypatch.setattr(sys, "argv", ["sourcing", "quote", "scenarios/a-7-b.toml", "--json"])
    with pytest.raises(SystemExit):
        main()
    printed = json.loads(capsys.readouterr().out)
    served = person.client.get("/api/jobs/a-7-b/quote").json()
    assert (printed["job"], printed["status"], printed["totals"]) == ("A 7/b", served["status"], served["totals"])
    assert printed["purchases"] == served["purchases"]
    assert 'keep = ["plate"]' in shop.job("a-7-b").read_text(encoding="utf-8")


def test_a_job_written_by_hand_opens_on_the_page(shop: ShopFolder, person: Person) -> None:
    shop.job("by hand").write_text(shop.job("exact-block").read_text(encoding="utf-8"), encoding="utf-8")
    assert "Proven: no valid plan" in person.sees("/jobs/by%20hand/answer")
    assert 'href="/jobs/by%20hand/answer"' in person.sees("/")


def test_a_file_that_cannot_be_read_is_listed_with_its_faults(shop: ShopFolder, person: Person) -> None:
    shop.job("broken").write_text('[job]\nnumber = "1"\n', encoding="utf-8")
    seen = person.sees("/")
    assert "broken" in seen and "job family" in seen
    assert "A file cannot be used" in person.sees("/jobs/broken/answer", 422)


def test_a_changed_price_sheet_is_seen_at_the_next_look(shop: ShopFolder, person: Person) -> None:
    before = person.client.get("/api/jobs/exact-block/quote").json()["totals"]["whole"]
    path = shop.folder / "catalogs" / "shop.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("day_cost = 6.00", "day_cost = 16.00"), encoding="utf-8")
    assert person.client.get("/api/jobs/exact-block/quote").json()["totals"]["whole"] != before


def test_what_will_not_do_comes_back_with_what_was_typed(shop: ShopFolder, person: Person) -> None:
    action = "/jobs/exact-block/unit"
    before = shop.job("exact-block").read_bytes()
    said = person.sends(action, person.form(action), vehicle__vin="TOO-SHORT", customer="Somebody else")
    assert said.status_code == 422
    assert (
        "17 letters and digits" in said.text
        and 'value="TOO-SHORT"' in said.text
        and 'value="Somebody else"' in said.text
    )
    assert shop.job("exact-block").read_bytes() == before


def test_an_open_job_says_what_to_ask_on_every_page(person: Person) -> None:
    for step in ("answer", "compare", "trend"):
        assert "Which colour is the label" in person.sees(f"/jobs/read-the-label-first/{step}")
    assert "there are no papers to make" in person.sees("/jobs/read-the-label-first/papers")


def test_the_job_over_the_record_of_prices_has_its_numbers_beside_it(person: Person) -> None:
    seen = person.sees("/jobs/date-spring/trend")
    assert "<svg" in seen and "What each route costs from each date on" in seen


def test_the_chart_gives_a_reason_for_every_no(person: Person) -> None:
    seen = person.sees("/families/larch5/chart")
    cells = seen.split('<td class="goes-no">')[1:]
    assert cells and all("<details>" in cell.split("</td>")[0] for cell in cells)
