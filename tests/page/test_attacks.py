"""Somebody who means harm: what they write into files and forms, what they send, and what they guess."""

from __future__ import annotations

import csv
import io
import json
import logging
import os
import re
import time
from html.parser import HTMLParser
from pathlib import Path

import pytest

from page.conftest import Person, ShopFolder
from sourcing.page.guard import Guard, Rules
from sourcing.page.passwords import hashed
from sourcing.page.rates import Rate
from sourcing.page.reach import Reach
from sourcing.page.sessions import Sessions

LIMITS = "/jobs/exact-block/limits"
SETTLE = "/jobs/exact-block/settle"
SECRET = "correct horse battery"
EVIL = "</title><script>alert(1)</script><img src=x onerror=alert(1)>\" ' {{ 7*7 }} {% raw %} ${7*7} \\u202e txt.exe"
FORMULA = "=HYPERLINK(1)"


class Tags(HTMLParser):
    """The elements of a page, and the names of all attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}


@pytest.fixture
def hostile(shop: ShopFolder) -> ShopFolder:
    """A shop whose every name and sentence wants to be something else: its book, its suppliers, a sheet, a job."""

    def spoil(path: Path, *pairs: tuple[str, str]) -> None:
        text = path.read_text(encoding="utf-8")
        for old, new in pairs:
            text, times = re.subn(old, lambda found, new=new: found.expand(new), text, flags=re.M)  # type: ignore[misc]
            assert times, (path, old)
        path.write_text(text, encoding="utf-8")

    said = json.dumps(EVIL).replace("\\\\u202e", "\\u202e").replace("\\", "\\\\")
    named = rf'\g<1>{said[:-1]} \g<2>"'
    book = shop.reach.catalogs / "larch5" / "interchange.toml"
    spoil(book, (r'^(name = )"(.*)"$', named), (r'^(caution = )"(.*)"$', named), (r'^(ask = )"(.*)"$', named))
    spoil(shop.reach.catalogs / "suppliers.toml", (r'^(name = )"(.*)"$', named), (r'^(core_needs = )"(.*)"$', named))
    spoil(shop.reach.catalogs / "shop.toml", (r'^name = ".*"$', r"name = '<script>alert(1)</script> {{ 7*7 }}'"))
    spoil(shop.job("exact-block"), (r'^(customer = )"(.*)"$', named), (r'^(tag = )"(.*)"$', named))
    sheet = shop.reach.catalogs / "price-sheets" / "quarry" / "2026-03-09.csv"
    spoil(sheet, ("QB-1900", "<b>QB1900"), ("Block Rowan", FORMULA))
    sheet.rename(sheet.with_name("2026-03-09 <img src=x onerror=alert(1)>.csv"))
    return shop


@pytest.mark.skipif(os.name == "nt", reason="such names cannot be files there")
def test_what_files_say_stands_as_text_on_every_page(hostile: ShopFolder) -> None:
    person = hostile.opens()
    plain = ("/", "/new", "/families", "/families/larch5/chart", "/book/letterhead", "/book/shelf", "/book/layouts",
             "/book/layouts?entry=harbour", "/families/larch5/book/family", "/families/larch5/book/consumable?entry=fluid",
             "/families/larch5/book/inspection?entry=winding")  # fmt: skip
    steps = ("unit", "bench", "limits", "charges", "came", "answer", "compare", "trend", "papers")
    for path in (*plain, *(f"/jobs/exact-block/{step}" for step in steps)):
        text = person.sees(path)
        found = Tags(text)
        assert found.tags.count("script") == 2 and "img" not in found.tags and "b" not in found.tags, path
        assert not [name for name in found.attributes if name.startswith("on")], path
        assert "&lt;script&gt;alert(1)" in text, path
        assert "{{ 7*7 }}" in text and not re.search("[\u202a-\u202e\u2066-\u2069]", text), path
    assert "&lt;b&gt;QB1900" in person.sees("/jobs/exact-block/answer")


@pytest.mark.skipif(os.name == "nt", reason="such names cannot be files there")
def test_no_cell_of_an_order_begins_a_formula(hostile: ShopFolder) -> None:
    person = hostile.opens()
    action = "/jobs/exact-block/papers"
    path = hostile.job("exact-block")
    path.write_text(
        path.read_text(encoding="utf-8").replace('number = "1042"', f'number = "{FORMULA}"'), encoding="utf-8"
    )
    made = person.sends(action, person.form(action))
    orders = re.findall(r'href="(/jobs/exact-block/papers/order-[^"]*\.csv)"', made.text)
    assert orders
    for order in orders:
        text = person.client.get(order).content.decode("utf-8-sig")
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        assert any("HYPERLINK" in cell for cell in cells)
        assert not [cell for cell in cells if cell[:1] in "=@\t\r" and cell]
        assert not [cell for cell in cells if cell[:1] in ("+", "-") and not re.fullmatch(r"[-+][\d.]+", cell)]


NAMES = (
    "....//....//etc/passwd", "..%2F..%2Fscenarios%2Fexact-block", "%252e%252e%252fcatalogs%252fshop", "..%255c..%255cshop",
    "..\\..\\catalogs\\shop.toml", "/etc/passwd", "%2Fetc%2Fpasswd", "C:%5CWindows%5Cwin.ini", "%5C%5Chost%5Cshare%5Cx.csv",
    "quote.xlsx%00.csv", "quote.xlsx::$DATA", "NUL", "COM1.csv", "con.xlsx", "%c0%ae%c0%ae%c0%afshop.toml", "%ed%a0%80", ".", "..",
    "%20", "~root", "file:%2F%2F%2Fetc%2Fpasswd", "*", "?x", "#x",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_no_spelling_of_a_name_leads_out_of_the_folder(person: Person, name: str) -> None:
    for path in (f"/jobs/{name}/papers/quote.xlsx", f"/jobs/exact-block/papers/{name}", f"/families/{name}/chart",
                 f"/jobs/exact-block/papers/revisions/1/{name}", f"/static/{name}", f"/api/jobs/{name}/quote"):  # fmt: skip
        said = person.client.get(path, follow_redirects=False)
        assert said.status_code in (303, 307, 404, 405, 422) or (said.status_code == 200 and "_" not in name), path
        assert "root:" not in said.text and "currency" not in said.text, path


@pytest.mark.parametrize("number", ["con", "NUL", "com1", "lpt9", "COM¹", "aux.", "prn"])
def test_a_job_never_gets_a_name_that_is_a_device(number: str) -> None:
    assert Reach(Path("c"), Path("j"), Path("r")).new_job(number).stem.startswith("job-")


def test_folders_that_lead_out_are_not_there(shop: ShopFolder, person: Person, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    (outside / "revisions" / "1").mkdir(parents=True)
    (outside / "quote.xlsx").write_bytes(b"secret")
    (outside / "revisions" / "1" / "quote.xlsx").write_bytes(b"secret")
    (shop.folder / "reports").mkdir()
    (shop.folder / "reports" / "exact-block").symlink_to(outside, target_is_directory=True)
    for path in ("quote.xlsx", "revisions/1/quote.xlsx"):
        assert b"secret" not in person.client.get(f"/jobs/exact-block/papers/{path}").content
    action = "/jobs/exact-block/papers"
    assert person.client.get(action).status_code == 404
    before = sorted(outside.rglob("*"))
    assert person.sends(action, {"token": person.form("/new")["token"]}).status_code == 404
    assert sorted(outside.rglob("*")) == before


@pytest.mark.parametrize("length", ["-1", "1e3", "9" * 30, "9" * 5000, "0x10", "12 34", "\u00b2".encode("latin-1")])
def test_a_length_that_is_no_number_is_refused(person: Person, length: str | bytes) -> None:
    """Asked of the guard itself: a server in front of it may let through what ours does not."""
    import asyncio

    sent: list[int] = []

    async def never(*_: object) -> None:
        raise AssertionError("it passed")

    async def send(message: dict[str, int]) -> None:
        if "status" in message:
            sent.append(message["status"])

    value = length if isinstance(length, bytes) else length.encode()
    scope = {"type": "http", "method": "POST", "path": "/new", "scheme": "http", "client": ("127.0.0.1", 1), "headers": [
        (b"host", b"127.0.0.1"), (b"content-length", value)], "server": ("127.0.0.1", 8765)}  # fmt: skip
    asyncio.run(Guard(never, Rules(), Sessions())(scope, never, send))  # type: ignore[arg-type]
    assert sent == [413]


def test_a_body_that_goes_on_is_cut_off_in_time_and_room(shop: ShopFolder) -> None:
    person, given = shop.opens(form_bytes=50_000), 0

    def endless() -> object:
        nonlocal given
        while given < 20_000_000:
            given += 4096
            yield b"x" * 4096

    said = person.client.post(LIMITS, content=endless(), headers={  # type: ignore[arg-type]
        "content-type": "application/x-www-form-urlencoded"})  # fmt: skip
    assert said.status_code == 413


def test_too_many_fields_and_files_where_none_are_wanted_are_refused(person: Person) -> None:
    fields = person.form(LIMITS)
    assert person.client.post(LIMITS, data={**fields, "require": ["x"] * 3000}).status_code in (400, 413)
    assert person.client.post(LIMITS, data=fields, files={"sheet": b"x"}).status_code in (400, 403, 413)


@pytest.mark.parametrize("charset", [
    "unicode_escape", "utf-16-le", "punycode", "idna", "zlib", "utf-7", "none-such", "utf-8; charset=zlib",
    "x; charset*=utf-8''idna",
])  # fmt: skip
def test_a_charset_of_their_own_makes_no_defect(shop: ShopFolder, person: Person, charset: str) -> None:
    token = person.form(LIMITS)["token"][0]
    parts = {"token": token, "opened": r"\ud800", "base_hours": r"\udfff", "customer": "\\"}
    body = (
        "".join(f'--x\r\ncontent-disposition: form-data; name="{k}"\r\n\r\n{v}\r\n' for k, v in parts.items())
        + "--x--\r\n"
    )
    before = shop.job("exact-block").read_bytes()
    for action in (LIMITS, SETTLE, "/new", "/jobs/exact-block/live"):
        said = person.client.post(
            action, content=body, headers={"content-type": f"multipart/form-data; boundary=x; charset={charset}"}
        )
        assert said.status_code == 415, action
    assert shop.job("exact-block").read_bytes() == before


@pytest.mark.parametrize("opened", [
    "a." * 40_000 + "b=1", "x = '\"'\n{a = '\"', " + "a." * 40_000 + "b = 1, c = '\"'}", "[" + "a." * 40_000 + "b]",
    "a = {" + "b." * 40_000 + "c = 1}", '"a".' * 30_000 + "b=1", "x = 1\n" * 10 + "a='" + "x" * 200_000 + "'",
], ids=["key", "behind quotes", "table", "inline", "quoted", "long"])  # fmt: skip
def test_a_key_of_ten_thousand_parts_costs_nothing(person: Person, opened: str) -> None:
    """The parser's memory grows with the square of a key's parts: 200 kB of such a key would take 40 GB."""
    fields = person.form(LIMITS)
    started = time.process_time()
    assert person.sends(LIMITS, fields, opened=opened).status_code == 403
    edits = json.dumps({opened[:-2]: "1"})
    assert person.sends(SETTLE, {"token": fields["token"], "opened": "", "edits": edits}).status_code == 403
    assert time.process_time() - started < 5


def test_a_text_with_many_full_stops_is_still_a_text(shop: ShopFolder, person: Person) -> None:
    unit = "/jobs/exact-block/unit"
    person.sends(unit, person.form(unit), customer="O. " * 30)
    assert person.sends(LIMITS, person.form(LIMITS), base_hours="12").status_code == 200
    assert "base_hours = 12" in shop.job("exact-block").read_text(encoding="utf-8")


def test_a_value_cannot_go_on_as_a_line_of_its_own(shop: ShopFolder, person: Person) -> None:
    before = shop.job("exact-block").read_bytes()
    fields = person.form(LIMITS)
    edits = json.dumps({"labour.base_hours": '1\n[quote]\ndiscount = "99 %"'})
    said = person.sends(SETTLE, {"token": fields["token"], "opened": fields["opened"], "edits": edits})
    assert said.status_code == 403
    assert shop.job("exact-block").read_bytes() == before


# -- the password --


def test_a_password_stands_in_no_page_and_no_log(shop: ShopFolder, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    person = shop.opens(password=hashed(SECRET))
    for guess in ("a wrong guess", SECRET):
        said = person.sends("/door", person.form("/door"), password=guess)
        assert guess not in said.text
    assert SECRET not in person.sees("/") + person.sees("/new")
    assert SECRET not in caplog.text and "a wrong guess" not in caplog.text
    for path in shop.folder.rglob("*"):
        assert not path.is_file() or SECRET.encode() not in path.read_bytes()


def test_a_defect_at_the_door_logs_no_password(
    shop: ShopFolder, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> bool:
        raise ZeroDivisionError

    person = shop.opens(password=hashed(SECRET))
    fields = person.form("/door")
    monkeypatch.setattr("sourcing.page.views.door.is_right", broken)
    said = person.sends("/door", fields, password=SECRET)
    assert said.status_code == 500 and "a defect of the tool at /door" in caplog.text
    assert SECRET not in said.text + caplog.text


def test_a_guess_costs_time_and_a_long_one_is_not_looked_at(shop: ShopFolder) -> None:
    """Argon2id by its library's own parameters (RFC 9106's second choice) takes tens of milliseconds a guess."""
    person = shop.opens(password=hashed(SECRET), guesses=Rate(50, 50))
    fields = person.form("/door")
    started = time.process_time()
    for guess in range(5):
        assert person.sends("/door", fields, password=f"guess {guess}").status_code == 401
    slow = (time.process_time() - started) / 5
    started = time.process_time()
    for _ in range(5):
        assert person.sends("/door", fields, password="x" * 100_000).status_code == 401
    assert slow > 0.01 and (time.process_time() - started) / 5 < slow + 1


def test_whoever_has_many_addresses_has_one_rate() -> None:
    from sourcing.page.guard import who_is

    assert who_is("2001:db8::1") == who_is("2001:db8::ffff:1") != who_is("2001:db8:0:1::1")
    assert who_is("::ffff:192.0.2.7") == who_is("192.0.2.7") == "192.0.2.7"
    assert who_is("fe80::1%eth0") == who_is("fe80::2%eth1")
    assert (who_is("testclient"), who_is("")) == ("testclient", "")


def test_a_session_that_a_stranger_chose_is_not_taken(shop: ShopFolder) -> None:
    person = shop.opens(password=hashed(SECRET))
    chosen = "A" * 43
    person.client.cookies.set("sourcing_session_8765", chosen)
    given = person.client.get("/door").headers["set-cookie"]
    assert chosen not in given
    person.client.cookies.clear()
    person.sends("/door", person.form("/door"), password=SECRET)
    other = shop.opens()
    other.client.cookies.set("sourcing_session_8765", chosen)
    assert chosen not in other.client.get("/").headers["set-cookie"]


def test_two_pages_on_one_machine_keep_their_sessions_apart(shop: ShopFolder) -> None:
    one, two = shop.opens(), shop.opens()
    two.client.base_url = "http://127.0.0.1:8766"  # type: ignore[assignment]
    names = {person.client.get("/").headers["set-cookie"].split("=")[0] for person in (one, two)}
    assert names == {"sourcing_session_8765", "sourcing_session_8766"}


@pytest.mark.parametrize(
    "cookie", ["", "=", "sourcing_session_8765", "sourcing_session_8765=\x80", "a=b; " * 500, '"', "x" * 9000]
)
def test_a_cookie_that_is_none_begins_a_session(person: Person, cookie: str) -> None:
    assert person.client.get("/families", headers={"cookie": cookie.encode("latin-1")}).status_code == 200


def test_a_refusal_is_told_in_the_panel_that_asked(shop: ShopFolder) -> None:
    """A panel that kept what it said before would answer for a form that says something else."""
    person = shop.opens()
    said = person.client.post(
        "/jobs/exact-block/live", data={"form": "bench", "token": "old"}, headers={"hx-request": "true"}
    )
    assert said.status_code == 403
    assert "<html" not in said.text and "opened before the page was started again" in said.text
