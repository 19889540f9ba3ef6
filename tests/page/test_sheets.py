"""A supplier's sheet at the counter with scripts off: dropped in, asked about, filed, and what it changed."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response

from page.conftest import Person, ShopFolder, fields_of, words_of

HARBOUR = "2026-08-31 dealer list.xlsx"


def drops(
    person: Person, name: str, content: bytes, supplier: str = "harbour", day: str = "2026-08-31", **more: Any
) -> Response:
    fields = {key: value[0] for key, value in person.form("/sheets").items() if key != "file"}
    fields |= {"supplier": supplier, "date": day, **more}
    return person.client.post("/sheets", data=fields, files={"file": (name, content)})


def settled(person: Person, path: str) -> str:
    """A page when its work has ended: looked at again and again, as somebody without scripts does."""
    for _ in range(2400):
        text = person.sees(path)
        if "Look again" not in text:
            return text
        time.sleep(0.05)
    raise AssertionError("the work did not end")


def home_of(said: Response) -> str:
    assert said.status_code == 200, said.text
    return said.url.path


def taken_out(shop: ShopFolder, supplier: str, name: str) -> bytes:
    path = shop.reach.catalogs / "price-sheets" / supplier / name
    content = path.read_bytes()
    path.unlink()
    return content


def test_a_sheet_is_shown_before_it_is_filed_and_then_says_what_it_changed(shop: ShopFolder, person: Person) -> None:
    content = taken_out(shop, "harbour", HARBOUR)
    home = home_of(drops(person, "dealer list.xlsx", content))
    seen = settled(person, home)
    words = words_of(seen)
    assert 'part number under "' in words and "priced rows" in words and "can be bought at these prices." in words
    assert not (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).exists()
    person.sends(f"{home}/file", fields_of(seen, f"{home}/file"))
    done = words_of(settled(person, home))
    assert (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).read_bytes() == content
    assert "would be bought differently" in done and "What changed since" in done
    assert person.sees(home) == person.sees(home)  # a reload loses nothing
    again = words_of(settled(person, home_of(drops(person, "dealer list.xlsx", content))))
    assert "on file already, byte for byte" in again


def test_the_page_says_of_a_sheet_what_the_command_prints(
    shop: ShopFolder, person: Person, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import sys

    from sourcing.cli import main

    content = taken_out(shop, "harbour", HARBOUR)
    source = shop.folder / "dealer list.xlsx"
    source.write_bytes(content)
    home = home_of(drops(person, source.name, content))
    person.sends(f"{home}/file", fields_of(settled(person, home), f"{home}/file"))
    seen = "".join(words_of(settled(person, home)).split()).casefold()
    (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).unlink()
    monkeypatch.setattr(
        sys, "argv", ["sourcing", "receive", str(source), "--supplier", "harbour", "--date", "2026-08-31"]
    )
    with pytest.raises(SystemExit):
        main()
    said = capsys.readouterr().out
    jobs = said[said.index("Open jobs in") :]
    items = re.split(r"\n  (?:- )?", jobs)
    assert len(items) > 3
    for item in items:
        assert "".join(item.split()).casefold() in seen, item


def test_the_one_question_of_a_sheet_is_answered_and_kept(shop: ShopFolder, person: Person) -> None:
    terms = shop.reach.catalogs / "suppliers.toml"
    before = terms.read_text(encoding="utf-8")
    sheet = b"number;price one;price two\nTM0922;210,50;250,00\nTM0560;31,25;40,00\nTM0390;18,10;22,00\n"
    home = home_of(drops(person, "net.csv", sheet, "tallow", "2026-12-01", kind="whole"))
    for _ in range(6):
        seen = settled(person, home)
        if f'action="{home}/file"' in seen:
            break
        assert "One question: nothing is guessed" in seen or "Is this an update?" in seen, words_of(seen)
        fields = fields_of(seen, home)
        for name in ("supplier", "date", "kind", "field", "header"):
            fields.pop(name, None)
        if "Is this an update?" in seen:
            fields["kind"] = ["whole"]
        else:
            assert 'name="way"' in seen
            price = re.search(r'name="way" value="(\d+)"[^>]*> <span>&#34;price one&#34;', seen)
            fields["way"] = [price[1] if price else "0"]
        person.sends(home, fields)
    assert terms.read_text(encoding="utf-8") == before  # nothing is kept before it is filed
    person.sends(f"{home}/file", fields_of(seen, f"{home}/file"))
    done = words_of(settled(person, home))
    assert "Filed:" in done, done
    after = terms.read_text(encoding="utf-8")
    assert after != before and 'price = "price one"' in after
    assert [line for line in before.splitlines() if line.startswith("#")] == [
        line for line in after.splitlines() if line.startswith("#")
    ]


def test_what_is_no_price_sheet_is_refused_with_its_reason(person: Person) -> None:
    home = home_of(drops(person, "picture.xlsx", b"\x89PNG\r\n\x1a\n" + bytes(200)))
    seen = settled(person, home)
    assert "Refused" in seen and f'action="{home}/file"' not in seen


def test_a_sheet_without_a_supplier_is_only_looked_at(shop: ShopFolder, person: Person) -> None:
    content = (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).read_bytes()
    home = home_of(drops(person, "dealer list.xlsx", content, supplier=""))
    seen = settled(person, home)
    assert "say whose it is" in words_of(seen) and f'action="{home}/file"' not in seen


def test_a_date_that_is_none_and_a_file_that_is_missing_are_said(person: Person) -> None:
    assert "is no date" in words_of(drops(person, "x.csv", b"a", day="2026-13-01").text)
    fields = {key: value[0] for key, value in person.form("/sheets").items() if key != "file"}
    said = person.client.post("/sheets", data=fields, files={"file": ("", b"")})
    assert said.status_code == 422 and "Choose the file" in said.text


def test_a_sheet_that_is_too_large_is_refused_while_it_comes_in(shop: ShopFolder) -> None:
    person = shop.opens(upload_bytes=20_000)
    assert drops(person, "large.csv", b"x" * 30_000).status_code == 413

    def dripping() -> Any:
        yield b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
        for _ in range(300):
            yield b"x" * 100

    said = person.client.post(
        "/sheets", content=dripping(), headers={"content-type": "multipart/form-data; boundary=b"}
    )
    assert said.status_code == 413


def test_a_sheet_without_the_token_is_not_taken(shop: ShopFolder, person: Person) -> None:
    assert drops(person, "net.csv", b"a;b\n1;2\n", token="x").status_code == 403
    assert "Dropped in" not in person.sees("/sheets")


@pytest.mark.parametrize("name", ["../../evil.csv", "..\\..\\evil.csv", "/etc/evil.csv", "C:\\evil.csv", "evil\x00.csv",
                                  "\u202eevil.csv",
                                  "<script>alert(1)</script>.csv", "'\"><img src=x>.csv", "a" * 400 + ".csv"])  # fmt: skip
def test_no_name_of_a_sheet_leads_anywhere_or_runs(shop: ShopFolder, person: Person, name: str) -> None:
    home = home_of(drops(person, name, b"part;price\nA1;2.50\n", "tallow", "2026-12-01"))
    seen = settled(person, home)
    assert "<script>alert" not in seen and "<img" not in seen
    beside = [path for above in shop.folder.parents[:3] for path in above.glob("evil*")]
    waits = [path for path in shop.folder.rglob("evil*") if path.parents[1] == shop.reach.tray]
    assert not [*({*shop.folder.rglob("evil*")} - {*waits}), *beside, *Path("/etc").glob("evil*")]


def test_two_people_on_one_sheet_are_told_of_each_other(shop: ShopFolder, person: Person) -> None:
    content = taken_out(shop, "harbour", HARBOUR)
    home = home_of(drops(person, "dealer list.xlsx", content))
    seen = settled(person, home)
    both = fields_of(seen, f"{home}/file")
    first = person.sends(home, {**fields_of(seen, home), "date": "2026-09-01", "supplier": "harbour", "kind": ""})
    assert first.status_code == 200
    second = person.sends(f"{home}/file", both)
    assert second.status_code == 409 and "Somebody else answered for this sheet" in second.text
    assert not (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).exists()


def test_the_look_at_the_jobs_can_be_stopped_and_the_sheet_is_filed(
    shop: ShopFolder, person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sourcing import newsheet

    honest = newsheet.rebought

    def slow(*words: Any) -> Any:
        time.sleep(2)
        return honest(*words)

    monkeypatch.setattr(newsheet, "rebought", slow)
    content = taken_out(shop, "harbour", HARBOUR)
    home = home_of(drops(person, "dealer list.xlsx", content))
    seen = settled(person, home)
    going = person.sends(f"{home}/file", fields_of(seen, f"{home}/file")).text
    for _ in range(1200):
        going = person.sees(home)
        if "Looking at the open jobs" in going:
            break
        time.sleep(0.05)
    stop = re.search(r'action="(/works/[^"]+/stop)"', going)
    assert stop and "<progress" in going
    person.sends(stop[1], fields_of(going, stop[1]))
    done = words_of(settled(person, home))
    assert "Stopped: the sheet is filed;" in done and "jobs were not looked at" in done
    assert (shop.reach.catalogs / "price-sheets" / "harbour" / HARBOUR).exists()


def test_a_design_has_its_prices_as_a_picture_and_as_a_table(person: Person) -> None:
    seen = person.sees("/prices/larch5/block-b")
    assert "<svg" in seen and "<script>" not in seen and " style=" not in seen
    assert "Harbour Row Parts" in words_of(seen) and "298.00" in seen
    person.sees("/prices/larch5/no-such", 422)
    person.sees("/prices/..%2Flarch5/block-b", 404)
    assert "block-b" in person.sees("/prices")


def test_files_of_the_record_are_named_and_none_outside(shop: ShopFolder, person: Person) -> None:
    assert HARBOUR in person.sees("/sheets")
    assert Path("/etc/passwd").name not in person.sees("/sheets")


def test_a_day_that_has_a_sheet_already_is_said_and_another_day_can_be_given(shop: ShopFolder, person: Person) -> None:
    content = b"Part Number;Net Price\n0041102;300.00\n0041103;310.00\n"
    home = home_of(drops(person, "dealer list.csv", content, day="2026-08-31"))
    seen = settled(person, home)
    assert "a whole sheet on file already" in words_of(seen) and f'action="{home}/file"' not in seen
    person.sends(home, {**fields_of(seen, home), "date": "2026-09-02", "kind": "whole"})
    assert f'action="{home}/file"' in settled(person, home)


def test_a_sheet_can_be_thrown_away_and_then_is_gone(person: Person) -> None:
    home = home_of(drops(person, "net.csv", b"part;price\nA1;2.50\n", "tallow", "2026-12-01"))
    seen = settled(person, home)
    person.sends(f"{home}/away", fields_of(seen, f"{home}/away"))
    person.sees(home, 404)
    assert home not in person.sees("/sheets")


def test_a_column_that_a_person_names_is_read_as_they_say(person: Person) -> None:
    sheet = b"part;net;list\nTM0922;210.50;250.00\nTM0560;31.25;40.00\n"
    home = home_of(drops(person, "net.csv", sheet, "tallow", "2026-12-01", kind="whole"))
    seen = settled(person, home)
    said = person.sends(home, {"token": fields_of(seen, home)["token"], "seen": fields_of(seen, home)["seen"], "field": "price",
                               "header": "list"})  # fmt: skip
    assert said.status_code == 200 and 'under "list"' in words_of(settled(person, home))
