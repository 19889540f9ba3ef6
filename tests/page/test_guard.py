"""The guard: what is refused, and what every answer carries."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from fastapi.routing import APIRoute

from page.conftest import Person, ShopFolder
from sourcing.faults import BadInput
from sourcing.page.app import VIEWS, create_app
from sourcing.page.asked import checked_form
from sourcing.page.guard import SAFE, Rules
from sourcing.page.passwords import hashed, keep_in, kept_in
from sourcing.page.rates import Gate, Rate
from sourcing.page.sessions import IDLE, MOST, Sessions
from sourcing.page.uploads import checked_upload

LIMITS = "/jobs/exact-block/limits"


def routes() -> list[APIRoute]:
    return [route for view in VIEWS for route in view.router.routes if isinstance(route, APIRoute)]


@pytest.mark.parametrize(
    "route", [r for r in routes() if r.methods - SAFE], ids=lambda route: f"{route.methods} {route.path}"
)
def test_every_view_that_changes_something_asks_for_the_token(route: APIRoute) -> None:
    assert {checked_form, checked_upload} & {inner.call for inner in route.dependant.dependencies}


def test_a_form_without_its_token_is_not_done(shop: ShopFolder, person: Person) -> None:
    before = shop.job("exact-block").read_bytes()
    for token in ("", "x", "0" * 43, "\ud800".encode("utf-8", "surrogatepass").decode("latin-1")):
        said = person.sends(LIMITS, person.form(LIMITS), token=token, base_hours="99")
        assert said.status_code == 403
    other = shop.opens()
    assert other.sends(LIMITS, person.form(LIMITS), base_hours="99").status_code == 403  # another session's token
    assert shop.job("exact-block").read_bytes() == before


@pytest.mark.parametrize("headers", [
    {"origin": "http://elsewhere.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"}, {"origin": "http://127.0.0.1:9"},
])  # fmt: skip
def test_a_change_that_another_site_asks_for_is_refused(person: Person, headers: dict[str, str]) -> None:
    fields = person.form(LIMITS)
    assert person.client.post(LIMITS, data=fields, headers=headers).status_code == 403


def test_our_own_origin_passes(person: Person) -> None:
    fields = person.form(LIMITS)
    headers = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}
    assert person.client.post(LIMITS, data=fields, headers=headers).status_code == 200


@pytest.mark.parametrize(
    "host", ["rebound.example", "127.0.0.1.rebound.example", "192.168.1.5", "", "[", "a@b", "localhost.evil"]
)
def test_a_name_that_is_not_ours_is_not_answered(person: Person, host: str) -> None:
    said = person.client.get("/", headers={"host": host})
    assert said.status_code == 421
    assert "Larch" not in said.text


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1", "[::1]:8765", "LOCALHOST"])
def test_this_machine_may_be_called_by_its_own_names(person: Person, host: str) -> None:
    assert person.client.get("/families", headers={"host": host}).status_code == 200


def test_open_to_the_network_addresses_and_given_names_are_ours(shop: ShopFolder) -> None:
    person = shop.opens(password=hashed("a long enough one"), open=True, names=frozenset({"counter.shop"}))
    for host, status in (("192.168.1.5:8765", 303), ("counter.shop", 303), ("rebound.example", 421)):
        assert person.client.get("/", headers={"host": host}, follow_redirects=False).status_code == status


def test_what_a_browser_may_do_is_told_with_every_answer(person: Person) -> None:
    for path in ("/", "/static/page.css", "/api/jobs", "/jobs/none/answer", "/nowhere"):
        headers = person.client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy and "*" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_no_page_needs_a_style_or_a_script_of_its_own(person: Person) -> None:
    paths = ("/", "/new", "/jobs/mixed-before/bench", "/jobs/exact-block/compare", "/families/larch5/chart", LIMITS)
    for path in paths:
        text = person.sees(path)
        assert "<style" not in text and " style=" not in text and "onclick" not in text and "javascript:" not in text
        assert text.count("<script") == 2 and "//" not in text.replace("http://www.w3.org", "").replace("<!-- //", "")


def test_the_cookie_is_for_this_page_alone(shop: ShopFolder) -> None:
    cookie = shop.opens().client.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie and "Secure" not in cookie
    person = shop.opens()
    person.client.base_url = "https://127.0.0.1:8765"  # type: ignore[assignment]
    assert "Secure" in person.client.get("/").headers["set-cookie"]


def test_a_password_is_asked_before_anything_is_told(shop: ShopFolder) -> None:
    person = shop.opens(password=hashed("a long enough one"))
    for path in ("/", "/jobs/exact-block/answer", "/families/larch5/chart"):
        said = person.client.get(path, follow_redirects=False)
        assert (said.status_code, said.headers["location"]) == (303, "/door")
    assert person.client.get("/api/jobs").status_code == 401
    assert person.client.get("/api/openapi.json").status_code == 401
    assert person.client.post("/new", data={}).status_code == 401
    assert person.sends("/door", person.form("/door"), password="a wrong one").status_code == 401
    before = person.client.cookies["sourcing_session_8765"]
    assert "Open jobs" in person.sends("/door", person.form("/door"), password="a long enough one").text
    assert person.client.cookies["sourcing_session_8765"] != before
    person.client.cookies.clear()
    person.client.cookies.set("sourcing_session_8765", before)
    assert person.client.get("/", follow_redirects=False).status_code == 303  # the key from before is worth nothing


def test_who_leaves_must_sign_in_again(shop: ShopFolder) -> None:
    person = shop.opens(password=hashed("a long enough one"))
    person.sends("/door", person.form("/door"), password="a long enough one")
    person.sends("/leave", person.form("/", "/leave"))
    assert person.client.get("/", follow_redirects=False).status_code == 303


def test_guessing_the_password_is_slowed_down(shop: ShopFolder) -> None:
    person = shop.opens(password=hashed("a long enough one"), guesses=Rate(3, 3))
    fields = person.form("/door")
    codes = [person.sends("/door", fields, password=f"guess {n}").status_code for n in range(5)]
    assert codes == [401, 401, 401, 429, 429]


def test_what_is_too_large_is_refused(shop: ShopFolder) -> None:
    person = shop.opens(form_bytes=5_000)
    fields = person.form(LIMITS)
    assert person.sends(LIMITS, fields, customer="x" * 6_000).status_code == 413

    def dripping() -> object:
        for _ in range(100):
            yield b"a=" + b"x" * 100

    assert person.client.post(LIMITS, content=dripping(), headers={  # type: ignore[arg-type]
        "content-type": "application/x-www-form-urlencoded"}).status_code == 413  # fmt: skip
    assert person.client.post(LIMITS, content=b"", headers={"content-length": "x"}).status_code in (400, 413)


def test_too_much_at_once_is_refused(shop: ShopFolder) -> None:
    person = shop.opens(reads=Rate(3, 3))
    codes = [person.client.get("/static/page.css").status_code for _ in range(5)]
    assert codes == [200, 200, 200, 429, 429]


def test_a_gate_opens_again_with_time() -> None:
    now = [0.0]
    gate = Gate(Rate(2, 60), lambda: now[0])
    assert [gate.opens("a"), gate.opens("a"), gate.opens("a"), gate.opens("b")] == [True, True, False, True]
    now[0] = 1.0  # one a second
    assert [gate.opens("a"), gate.opens("a")] == [True, False]


def test_sessions_end_unused_and_strangers_push_out_nobody_who_signed_in() -> None:
    now = [0.0]
    sessions = Sessions(lambda: now[0])
    known = sessions.begin(signed_in=True)
    for _ in range(MOST + 5):
        sessions.begin(signed_in=False)
    assert sessions.of(known.key) is known
    now[0] = IDLE + 1
    assert sessions.of(known.key) is None


@pytest.mark.parametrize("name", [
    "..%2Fcatalogs%2Fshop", "..%2f..%2fetc%2fpasswd", "%2e%2e%2fcatalogs", "..%5ccatalogs", "%00", "exact-block%00",
    "exact-block.toml",
    "a" * 5000, ".jobs", "%f0%9f%92%a9", "CON",
])  # fmt: skip
def test_no_name_leads_out_of_the_folder(person: Person, name: str) -> None:
    for path in (f"/jobs/{name}/answer", f"/jobs/{name}/papers/quote.xlsx", f"/api/jobs/{name}", f"/jobs/exact-block/papers/{name}",
                 f"/families/{name}/chart", f"/jobs/exact-block/papers/revisions/1/{name}", f"/static/{name}"):  # fmt: skip
        assert person.client.get(path).status_code in (404, 422), path


def test_a_link_that_leads_out_is_not_there(shop: ShopFolder, person: Person, tmp_path: Path) -> None:
    secret = tmp_path / "secret.toml"
    secret.write_text(shop.job("exact-block").read_text(encoding="utf-8"), encoding="utf-8")
    (shop.folder / "scenarios" / "linked.toml").symlink_to(secret)
    assert "linked" not in person.sees("/")
    person.sees("/jobs/linked/answer", 404)
    (shop.folder / "reports" / "exact-block").mkdir(parents=True)
    (shop.folder / "reports" / "exact-block" / "secret.csv").symlink_to(secret)
    person.sees("/jobs/exact-block/papers/secret.csv", 404)
    (shop.folder / "reports" / "core-lost").symlink_to(tmp_path / "catalogs", target_is_directory=True)
    person.sees("/jobs/core-lost/papers/logo.png", 404)


def test_a_job_number_never_makes_a_path(shop: ShopFolder, person: Person) -> None:
    fields = person.form("/new")
    said = person.sends("/new", fields, number="../../../evil", date="2026-04-13")
    assert said.status_code == 200
    assert shop.job("evil").is_file()
    assert not list(shop.folder.parent.glob("evil*"))


def test_whatever_a_file_says_stands_as_text(shop: ShopFolder, person: Person) -> None:
    evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)> {{ 7*7 }}"
    path = shop.job("exact-block")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('customer = "', f"customer = '''{evil}''' #\"", 1), encoding="utf-8")
    for page in ("/", "/jobs/exact-block/unit", "/jobs/exact-block/answer"):
        seen = person.sees(page)
        assert "<script>alert" not in seen and "<img" not in seen and "49" not in seen.split("&lt;script")[1][:200]


def test_a_password_file_holds_a_hash_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "password"
    assert keep_in(path, "a long enough one") == kept_in(path)
    assert "long enough" not in path.read_text(encoding="utf-8")
    if os.name == "posix":
        assert path.stat().st_mode & 0o077 == 0
    path.write_text("a long enough one\n", encoding="utf-8")
    with pytest.raises(BadInput, match="expected the hash that"):
        kept_in(path)
    with pytest.raises(BadInput, match="expected 10 to 500 signs; found 5 signs"):
        hashed("short")


def test_the_description_names_no_page_and_no_outside_address(shop: ShopFolder) -> None:
    described = create_app(shop.reach, Rules()).openapi()
    assert all(path.startswith("/api/") for path in described["paths"])


def test_a_defect_of_ours_is_answered_without_telling_of_the_inside(
    shop: ShopFolder, person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a secret of the inside")

    monkeypatch.setattr("sourcing.page.views.jobs.listed", broken)
    said = person.client.get("/")
    assert said.status_code == 500
    assert "a defect of the tool" in said.text and "secret" not in said.text
    assert "default-src 'none'" in said.headers["content-security-policy"]


HOSTILE = (
    "",
    "x",
    "[" * 3000,
    "a = [" + "[" * 2000,
    "\x00",
    "job.family = 5",
    'job.family = "../larch5"',
    "={}",
    "\u202e",
    "1e999",
)


@pytest.mark.parametrize(
    "field", ["opened", "version", "number", "date", "family", "edits", "form", "vehicle-vin", "onward"]
)
def test_no_hostile_field_makes_the_page_fail(shop: ShopFolder, person: Person, field: str) -> None:
    before = shop.job("exact-block").read_bytes()
    for value in HOSTILE:
        for action in (
            "/jobs/exact-block/unit",
            "/jobs/exact-block/live",
            "/jobs/exact-block/settle",
            "/new",
            "/new/live",
        ):
            path = "/new" if action.startswith("/new") else "/jobs/exact-block/unit"
            said = person.sends(action, person.form(path), **{field: value, "show": ""})
            assert said.status_code < 500, (action, value)
    assert shop.job("exact-block").read_bytes() == before


def test_an_address_that_cannot_be_understood_is_a_page_too(person: Person) -> None:
    assert "Not understood" in person.sees("/jobs/exact-block/unit?saved=perhaps", 422)
    assert "Not understood" in person.sees("/jobs/exact-block/papers/revisions/one/quote.xlsx", 422)
