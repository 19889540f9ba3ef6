"""Sheets that were dropped in and are not filed yet: they outlast the page, are bounded, and nothing half-way is ever seen."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from threading import Thread

import pytest
from killing import killed_before, lines_of

from page.conftest import Person, ShopFolder, fields_of, words_of
from page.served import demo_in, served
from page.test_sheets import HARBOUR, drops, home_of, settled, taken_out
from sourcing.page import tray as trays
from sourcing.page.reach import NotThere
from sourcing.page.tray import Tray
from sourcing.prices.answers import Answers

ASKED = b"number;price one;price two\nTM0922;210,50;250,00\nTM0560;31,25;40,00\nTM0390;18,10;22,00\n"
DAY = date(2026, 12, 1)


def put(tray: Tray, name: str = "net.csv", content: bytes = b"part;price\nA1;2.50\n") -> str:
    return tray.put(name, io.BytesIO(content), "tallow", DAY).key


def test_whoever_looks_while_a_sheet_is_filed_finds_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Filing begins just when somebody else looks whether the sheet lies there."""
    tray = Tray(tmp_path)
    dropped = tray.of(put(tray))
    filing = Thread(target=tray.filed, args=(dropped,))
    honest = Path.is_file

    def looked_at(path: Path) -> bool:
        if path == dropped.path and not filing.ident:
            filing.start()
            filing.join(0.5)
        return honest(path)

    monkeypatch.setattr(Path, "is_file", looked_at)
    assert tray.of(dropped.key) is dropped
    filing.join(60)
    assert tray.of(dropped.key).filed


def test_a_question_left_open_is_asked_again_after_the_page_was_ended(shop: ShopFolder, person: Person) -> None:
    home = home_of(drops(person, "net.csv", ASKED, "tallow", "2026-12-01", kind="whole"))
    seen = settled(person, home)
    assert "One question: nothing is guessed" in seen
    later = shop.opens()  # another page over the same folder
    listed = words_of(later.sees("/sheets"))
    assert "net.csv Tallow Mill Supply, not filed yet" in listed and "30 days, at most 30 sheets and 500 MB" in listed
    again = settled(later, home)
    question = words_of(seen).split("nothing is guessed")[1][:200]
    assert question in words_of(again)
    fields = {key: value for key, value in fields_of(again, home).items() if key in ("token", "seen")}
    later.sends(home, fields, way="0")
    third = shop.opens()  # what was answered is kept as well
    assert question not in words_of(settled(third, home))


def test_what_is_filed_waits_no_more_and_still_tells_what_it_changed(shop: ShopFolder, person: Person) -> None:
    content = taken_out(shop, "harbour", HARBOUR)
    home = home_of(drops(person, "dealer list.xlsx", content))
    assert len(list(shop.reach.tray.iterdir())) == 1
    later = shop.opens()
    seen = settled(later, home)
    later.sends(f"{home}/file", fields_of(seen, f"{home}/file"))
    assert "would be bought differently" in words_of(settled(later, home))
    assert list(shop.reach.tray.iterdir()) == []
    assert "filed: what it changed" in words_of(later.sees("/sheets"))
    stale = fields_of(seen, home)
    assert later.sends(home, stale).status_code == 409 and "would be bought" in words_of(later.sees(home))
    after = shop.opens()
    after.sees(home, 404)
    assert "dealer list.xlsx" not in after.sees("/sheets").partition("On file")[0]


def test_what_is_thrown_away_is_gone_for_every_page(shop: ShopFolder, person: Person) -> None:
    home = home_of(drops(person, "net.csv", b"part;price\nA1;2.50\n", "tallow", "2026-12-01"))
    later = shop.opens()
    later.sees(home)
    person.sends(f"{home}/away", fields_of(settled(person, home), f"{home}/away"))
    assert "was filed or thrown away" in words_of(later.sees(home, 404))
    assert list(shop.reach.tray.iterdir()) == []


def test_a_page_that_is_killed_leaves_its_sheets_to_the_next_one(tmp_path: Path, kept_sheets: Path) -> None:
    import httpx2

    demo_in(tmp_path)
    with served(tmp_path, kept_sheets) as running, httpx2.Client(base_url=running.address, timeout=60) as client:
        token = fields_of(client.get("/sheets").text, "/sheets")["token"][0]
        said = client.post("/sheets", data={"token": token, "supplier": "tallow", "date": "2026-12-01"},
                           files={"file": ("net.csv", ASKED)})  # fmt: skip
        home = said.headers["location"]
        running.process.kill()
        running.process.wait()
    with served(tmp_path, kept_sheets) as running:
        assert "net.csv" in running.says("/sheets") and "not filed yet" in running.says("/sheets")
        assert "net.csv" in running.says(home)


def test_nothing_that_reads_the_shops_folder_looks_into_it(shop: ShopFolder, person: Person) -> None:
    from sourcing.bookshelf import Bookshelf
    from sourcing.folder import Folder
    from sourcing.page.desk import Desk

    before, state = person.client.get("/api/jobs/exact-block/quote").json(), Desk(shop.reach).state()
    for name in ("interchange.toml", "parts.csv", "2026-04-01 list.csv", "shop.toml"):
        home_of(drops(person, name, b"part;price\nA1;2.50\n", "tallow", "2026-12-01"))
    assert (Bookshelf(shop.reach.catalogs).families, Folder(shop.reach.catalogs).families) == (["larch5"], ["larch5"])
    assert Desk(shop.reach).state() == state
    after = shop.opens().client.get("/api/jobs/exact-block/quote").json()
    assert {key: one for key, one in after.items() if key != "proof"} == {
        key: one for key, one in before.items() if key != "proof"
    }


# -- bounds --


def test_the_oldest_go_and_are_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trays, "MOST_KEPT", 3)
    tray = Tray(tmp_path / "tray")
    keys = [put(tray, f"{number}.csv") for number in range(5)]
    assert [one.key for one in tray.waiting()] == keys[:1:-1]
    assert [told.partition(",")[0] for told in tray.gone] == ["0.csv", "1.csv"]
    assert "too many were waiting" in tray.gone[0]


def test_all_of_them_together_have_a_size_that_they_keep(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trays, "MOST_BYTES", 2500)
    tray = Tray(tmp_path / "tray")
    keys = [put(tray, f"{number}.csv", b"x" * 1000) for number in range(4)]
    assert [one.key for one in tray.waiting()] == [keys[3], keys[2]]
    big = put(tray, "big.csv", b"x" * 9000)  # what somebody looks at now stays, whatever its size
    assert [one.key for one in tray.waiting()] == [big] and tray.of(big)


def test_what_nobody_files_for_a_month_goes_and_that_is_said(shop: ShopFolder, person: Person) -> None:
    home = home_of(drops(person, "old list.csv", b"part;price\nA1;2.50\n", "tallow", "2026-12-01"))
    about = next(shop.reach.tray.glob("*/.about.json"))
    said = json.loads(about.read_text(encoding="utf-8"))
    said["since"] = (datetime.now(UTC) - timedelta(days=31)).isoformat()
    about.write_text(json.dumps(said), encoding="utf-8")
    later = shop.opens()
    words = words_of(later.sees("/sheets"))
    assert "Thrown away unfiled: old list.csv, dropped in on" in words and "nobody filed it for 30 days" in words
    later.sees(home, 404)


@pytest.mark.parametrize("said", [
    "", "[]", "{", "[" * 5000, '{"name": "net.csv"}', '{"name": "../../secret.csv", "supplier": "", "day": "2026-12-01", "since": '
    '"2026-01-01T00:00:00+00:00", "update": null, "answers": {"columns": {}, "sheet": null, "header_row": null, "decimal": null,'
    ' "date_order": null, "encoding": null}}',
])  # fmt: skip
def test_a_folder_that_says_what_cannot_be_is_none_of_ours(tmp_path: Path, said: str) -> None:
    tray = Tray(tmp_path / "tray")
    key, other = put(tray), put(tray, "other.csv")
    (tmp_path / "secret.csv").write_text("x", encoding="utf-8")
    (tmp_path / "tray" / key / ".about.json").write_text(said, encoding="utf-8")
    fresh = Tray(tmp_path / "tray")
    assert [one.key for one in fresh.waiting()] == [other]
    for wrong in (key, "..", ".", "", "../secret.csv", "x" * 16):
        with pytest.raises(NotThere):
            fresh.of(wrong)
    os.utime(tmp_path / "tray" / key, (0, 0))  # an hour later and more it is taken away
    fresh.waiting()
    assert [path.name for path in (tmp_path / "tray").iterdir()] == [other]


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right there")
def test_a_link_is_no_sheet(tmp_path: Path) -> None:
    tray = Tray(tmp_path / "tray")
    key = put(tray)
    (tmp_path / "secret.csv").write_text("x", encoding="utf-8")
    sheet = tmp_path / "tray" / key / "net.csv"
    sheet.unlink()
    sheet.symlink_to(tmp_path / "secret.csv")
    with pytest.raises(NotThere):
        Tray(tmp_path / "tray").of(key)


def test_what_was_said_of_a_sheet_comes_back_as_it_was(tmp_path: Path) -> None:
    tray = Tray(tmp_path / "tray")
    dropped = tray.of(put(tray))
    dropped.update, dropped.day, dropped.supplier = False, date(2026, 12, 2), "harbour"
    dropped.answers = Answers({"price": "Net = ours", "10+": "ten", "stock": ""}, "List", 7, ",", "dmy", "utf-8")
    tray.keep(dropped)
    again = Tray(tmp_path / "tray").of(dropped.key)
    assert (again.update, again.day, again.supplier, again.answers) == (
        False,
        date(2026, 12, 2),
        "harbour",
        dropped.answers,
    )


# -- killed half-way --


OURS = ("tray.py", "dropped.py", "placing.py", "shutil.py")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be copied")
@pytest.mark.parametrize("what", ["put", "keep", "take out"])
def test_killed_at_any_line_a_sheet_is_there_wholly_or_not_at_all(tmp_path: Path, what: str) -> None:
    home, count = tmp_path / "tray", tmp_path / "lines"
    content = b"part;price\n" + b"A1;2.50\n" * 50
    works: dict[str, Callable[[], object]] = {
        "put": lambda: put(Tray(home), "new.csv", content),
        "keep": lambda: _says_more(Tray(home)),
        "take out": lambda: Tray(home).take_out(
            next(one.key for one in Tray(home).waiting() if one.name == "there.csv")
        ),
    }
    seen = set()
    put(Tray(home), "there.csv", content)
    for line in range(1, lines_of(works[what], count, OURS) + 1):
        for one in Tray(home).waiting():
            Tray(home).take_out(one.key)
        put(Tray(home), "there.csv", content)
        killed_before(line, works[what], count, OURS)
        now = Tray(home).waiting()
        for one in now:
            assert one.path.read_bytes() == content and one.supplier in ("tallow", "harbour"), line
        seen.add(tuple(sorted((one.name, one.supplier) for one in now)))
        for path in home.iterdir():
            os.utime(path, (0, 0))
        Tray(home).waiting()
        assert {path.name for path in home.iterdir()} == {one.key for one in now}, line  # nothing is left over
    there, new = ("there.csv", "tallow"), ("new.csv", "tallow")
    assert seen == {"put": {(there,), (new, there)}, "keep": {(there,), (("there.csv", "harbour"),)},
                    "take out": {(there,), ()}}[what]  # fmt: skip


def _says_more(tray: Tray) -> None:
    dropped = next(one for one in tray.waiting() if one.name == "there.csv")
    dropped.supplier = "harbour"
    tray.keep(dropped)
