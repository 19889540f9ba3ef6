"""The whole path at the counter with scripts off: from a unit to a downloaded workbook."""

from __future__ import annotations

import io

import openpyxl
import pytest

from page.conftest import Person, ShopFolder, fields_of, words_of


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
