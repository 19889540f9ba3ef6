"""Paths as a person walks them in a browser: with scripts and without, by keyboard alone, two at one job."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import expect

from page.browser.conftest import Opens, Page, Windows, press_save
from page.served import Served, environment

UNIT = {"vehicle-built": "1999-05", "unit-built": "1999-05"}
FACTS = {"fact-lever": "gate", "fact-module": "white", "fact-pan": "shallow"}


def tick(window: Page, name: str, value: str) -> None:
    window.locator(f'input[name="{name}"][value="{value}"]').check()


def quoted(shop: Served, job: str, cache: Path) -> dict[str, object]:
    """What the command line says of a job."""
    words = [sys.executable, "-m", "sourcing", "quote", f"scenarios/{job}.toml", "--json"]
    run = subprocess.run(
        words, cwd=shop.folder, env=environment(cache), capture_output=True, encoding="utf-8", check=True
    )
    said = json.loads(run.stdout)
    assert isinstance(said, dict)
    return said


def numbers_in(path: Path) -> set[Decimal]:
    """Every amount that stands in a workbook, in whole cents."""
    book = openpyxl.load_workbook(path, data_only=True)
    cells = (value for sheet in book for row in sheet.iter_rows(values_only=True) for value in row)
    return {Decimal(str(value)).quantize(Decimal("0.01")) for value in cells if isinstance(value, int | float)}


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts on", "scripts off"])
def test_from_vehicle_and_unit_to_the_downloaded_workbook(
    scripts: bool, opens: Opens, page_of_shop: Served, kept_sheets: Path, tmp_path: Path
) -> None:
    number = f"walk-{scripts}".casefold()
    window = opens("/", java_script_enabled=scripts)
    window.get_by_role("link", name="New job").first.click()
    for name, value in {"number": number, "date": "2026-04-13", **UNIT}.items():
        window.locator(f'input[name="{name}"]').fill(value)
    for name, value in FACTS.items():
        tick(window, name, value)
    if not scripts:
        window.get_by_role("button", name="Show what fits").click()
    window.get_by_role("heading", name="Fits a unit of first blocks, round case plug").wait_for()
    assert not page_of_shop.job(number).exists()
    window.get_by_role("button", name="Begin the job").click()
    window.wait_for_url("**/bench?saved=1")
    tick(window, "mark-solenoids", "6")
    for position, design in {"plate": "plate-1", "body": "body-1", "screen": "screen-s"}.items():
        window.locator(f"#known-{position}").select_option(design)
    window.locator('input[name="keep"][value="body"]').check()
    press_save(window)
    window.get_by_text("Saved.").wait_for()
    steps = window.get_by_role("navigation", name="Steps of the job")
    steps.get_by_role("link", name="Limits").click()
    window.locator("#f-base_hours").fill("13.5")
    press_save(window)
    window.get_by_text("Saved.").wait_for()
    steps.get_by_role("link", name="Answer").click()
    window.get_by_text("Proven: no valid plan is cheaper by a cent").wait_for()
    seen = window.locator(".strip .answer strong").inner_text()
    window.get_by_role("link", name="To the papers").click()
    window.get_by_role("button", name="Make the papers").click()
    window.get_by_text("The papers were made.").wait_for()
    with window.expect_download() as waiting:
        window.locator("ul.files").first.get_by_role("link", name="quote.xlsx").click()
    waiting.value.save_as(tmp_path / "quote.xlsx")
    told = quoted(page_of_shop, number, kept_sheets)
    totals = told["totals"]
    assert isinstance(totals, dict)
    assert seen == f"{totals['whole']} USD"
    assert Decimal(str(totals["whole"])) in numbers_in(tmp_path / "quote.xlsx")


def test_what_is_ticked_changes_the_answer_beside_it_and_nothing_on_file(opens: Opens, page_of_shop: Served) -> None:
    said = page_of_shop.job("mixed-before").read_bytes()
    window = opens("/jobs/mixed-before/bench")
    live = window.locator("#live")
    cost = live.locator(".strip .answer strong")
    before = cost.inner_text()
    tick(window, "mark-solenoids", "8")
    expect(live).to_contain_text("No design of the book has these marks.")
    tick(window, "mark-solenoids", "6")
    expect(live).not_to_contain_text("No design of the book has these marks.")
    expect(cost).to_have_text(before)
    window.locator('input[name="keep"][value="plate"]').uncheck()
    expect(cost).not_to_have_text(before)
    assert page_of_shop.job("mixed-before").read_bytes() == said


def test_where_nothing_is_left_to_look_at_the_bench_says_so(opens: Opens) -> None:
    window = opens("/jobs/exact-block/bench")
    window.locator("#known-jumper").select_option("none")
    expect(window.locator("#live")).to_contain_text("Nothing is left to look at")


def test_a_panel_that_was_not_answered_does_not_keep_what_it_said(opens: Opens) -> None:
    window = opens("/jobs/date-autumn/limits")
    live = window.locator("#live")
    expect(live).to_contain_text("whole cost")
    window.evaluate("document.querySelector('input[name=token]').value = 'old'")
    tick(window, "minimise", "cash")
    expect(live).to_contain_text("opened before the page was started again")
    window.route("**/live", lambda route: route.abort())  # as if the page had ended
    tick(window, "minimise", "landed")
    expect(live).to_have_text("The page does not answer. Look whether it still runs, then change something again.")


def test_boxes_that_count_for_nothing_are_not_shown(opens: Opens) -> None:
    for scripts in (True, False):
        window = opens("/jobs/exact-block/limits", java_script_enabled=scripts)
        box = window.locator('input[name="conditions"][value="new"]')
        assert not box.is_visible()
        tick(window, "some-conditions", "some")
        assert box.is_visible()


def test_the_second_to_save_is_told_in_a_window_of_their_own(opens: Opens, page_of_shop: Served) -> None:
    first, second = opens("/jobs/kit-wins/limits"), opens("/jobs/kit-wins/limits")
    first.locator("#f-base_hours").fill("14")
    press_save(first)
    first.get_by_text("Saved.").wait_for()
    second.locator("#f-base_hours").fill("15")
    press_save(second)
    second.get_by_role("heading", name="Job kit-wins was changed meanwhile").wait_for()
    assert "you both changed it" in second.inner_text("main")
    second.get_by_role("button", name="Save as chosen").click()  # the browser itself asks for the choice
    assert second.evaluate("document.activeElement.name").startswith("take-")
    second.get_by_label("yours: 15").check()
    second.get_by_role("button", name="Save as chosen").click()
    second.get_by_text("Saved.").wait_for()
    assert "base_hours = 15" in page_of_shop.job("kit-wins").read_text(encoding="utf-8")


SEEN = """() => {
  const at = document.activeElement;
  const ringed = [at, at.closest('.pill, .tick, .cell')].filter(Boolean).some(one => {
    const style = getComputedStyle(one);
    return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  });
  const box = (at.closest('.pill, .tick, .cell') || at).getBoundingClientRect();
  return {ringed, inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
          what: at.outerHTML.slice(0, 120)};
}"""


def tab_to(window: Page, selector: str, most: int = 150) -> None:
    """Tab until the focus stands on what a selector names; it must be seen at every step."""
    for _ in range(most):
        window.keyboard.press("Tab")
        if window.evaluate("document.activeElement === document.body"):
            continue
        seen = window.evaluate(SEEN)
        for _ in range(20):  # a panel that is renewed beside it may move it for a moment
            if seen["ringed"] and seen["inside"]:
                break
            window.wait_for_timeout(100)
            seen = window.evaluate(SEEN)
        assert seen["ringed"] and seen["inside"], f"the focus is not seen: {seen['what']}"
        if window.evaluate("one => document.activeElement.matches(one)", selector):
            return
    raise AssertionError(f"no way to {selector} by keyboard")


def follow(window: Page, selector: str) -> None:
    """Tab to a link or button and press it, and wait for the page that answers."""
    tab_to(window, selector)
    with window.expect_navigation():
        window.keyboard.press("Enter")


def choose(window: Page, name: str, value: str) -> None:
    """A choice of several by its arrow keys."""
    tab_to(window, f'input[name="{name}"]')
    for _ in range(20):
        if window.evaluate("document.activeElement.value") == value:
            window.keyboard.press("Space")
            return
        window.keyboard.press("ArrowDown")
    raise AssertionError(f"{name} has no {value}")


def test_the_whole_path_by_keyboard_alone(opens: Opens, page_of_shop: Served) -> None:
    window = opens("/")
    window.keyboard.press("Tab")
    assert window.evaluate("document.activeElement.textContent") == "To the content"
    follow(window, 'a[href="/new"]')
    window.wait_for_url("**/new")
    tab_to(window, "#f-number")
    window.keyboard.type("by-keyboard")
    tab_to(window, "#f-date")
    window.keyboard.type("04132026")
    tab_to(window, "#f-vehicle-built")
    window.keyboard.type("1999-05")
    choose(window, "fact-lever", "gate")
    choose(window, "fact-module", "white")
    tab_to(window, "#f-unit-built")
    window.keyboard.type("1999-05")
    choose(window, "fact-pan", "shallow")
    follow(window, 'button[name="save"]')
    window.wait_for_url("**/by-keyboard/bench?saved=1")
    tab_to(window, "#known-block")
    window.keyboard.type("Block A")
    tab_to(window, 'input[name="keep"][value="body"]')
    window.keyboard.press("Space")
    follow(window, 'button[name="save"]')
    window.get_by_text("Saved.").wait_for()
    follow(window, '.steps a[href$="/answer"]')
    window.get_by_text("Proven: no valid plan is cheaper by a cent").wait_for()
    follow(window, 'a.button[href$="/papers"]')
    window.wait_for_url("**/papers")
    follow(window, "main form button")
    window.get_by_text("The papers were made.").wait_for()
    tab_to(window, 'a[href$="/papers/quote.xlsx"]')
    with window.expect_download() as waiting:
        window.keyboard.press("Enter")
    assert waiting.value.suggested_filename == "by-keyboard quote.xlsx"
    assert 'block = "block-a"' in page_of_shop.job("by-keyboard").read_text(encoding="utf-8")


def test_a_request_to_another_address_would_be_seen(browser: object, page_of_shop: Served) -> None:
    """The check of the checks: a picture from elsewhere is not let through, and is told."""
    windows = Windows(browser, page_of_shop.address)  # type: ignore[arg-type]
    window = windows.opens()
    window.set_content('<img src="http://elsewhere.example/picture.png">')
    window.wait_for_load_state("networkidle")
    windows.close()
    assert windows.elsewhere == ["http://elsewhere.example/picture.png"]
