"""How the pages stand: on a phone, a screen, enlarged, on paper, in grey; and what an accessibility engine finds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from page.browser.conftest import PHONE, SCREEN, Opens, Page, press_save

AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
# Every rule of WCAG 2.0 to 2.2, A and AA (target-size is off in the engine unless it is asked for), and its best practices.
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
}
PAGES = (
    "/", "/new", "/families", "/families/larch5/chart", "/jobs/exact-block/unit", "/jobs/mixed-before/bench",
    "/jobs/changed-mid-year/bench", "/jobs/exact-block/limits", "/jobs/substitute-with-plate/answer",
    "/jobs/nothing-crosses/answer", "/jobs/read-the-label-first/answer", "/jobs/substitute-with-plate/compare",
    "/jobs/date-spring/trend", "/jobs/exact-block/papers", "/jobs/not-there/answer",
    "/together", "/sheets", "/prices", "/book", "/families/larch5/book", "/families/larch5/review", "/families/larch5/wall",
    "/jobs/exact-block/came", "/jobs/free-freight/charges", "/book/shop", "/book/markup", "/book/shelf", "/book/letterhead",
    "/book/layouts", "/book/layouts?entry=birkental", "/book/suppliers?entry=harbour",
    "/families/larch5/book/inspection?entry=winding", "/families/larch5/book/consumable?entry=pan-gasket",
    "/families/larch5/book/family",
)  # fmt: skip

# What is pressed, with the place that takes the finger: its label where it has one. A link in the middle of a sentence is
# as high as its line (WCAG 2.2, 2.5.8, the exception "inline").
SMALL = """least => {
  const shown = one => one.checkVisibility({visibilityProperty: true, opacityProperty: true}) && !one.closest('.skip, .unseen');
  const inSentence = one => one.tagName === 'A' && getComputedStyle(one).display === 'inline'
    && one.parentElement.textContent.trim() !== one.textContent.trim();
  return [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
    .filter(one => shown(one) && !inSentence(one))
    .map(one => ['checkbox', 'radio'].includes(one.type) ? one.closest('label') : one)
    .map(one => [one, one.getBoundingClientRect()])
    .filter(([_, box]) => box.height > 0 && (box.height < least - 0.5 || box.width < 24))
    .map(([one, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${one.outerHTML.slice(0, 90)}`);
}"""
SIDEWAYS = """() => {
  const page = document.scrollingElement;
  if (page.scrollWidth <= page.clientWidth) return [];
  return [...document.querySelectorAll('main *, header *, footer *')]
    .filter(one => !one.parentElement.closest('.scroll, .unseen') && one.getBoundingClientRect().right > page.clientWidth + 1)
    .map(one => one.outerHTML.slice(0, 90)).concat([`${page.scrollWidth} of ${page.clientWidth}`]);
}"""


def violations(window: Page) -> list[str]:
    window.evaluate(f"{AXE};0")
    found: dict[str, Any] = window.evaluate("rules => axe.run(document, rules)", RULES)
    assert len(found["passes"]) > 10
    return [
        f"{one['id']}: {node['html'][:150]} {node['failureSummary']}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_no_fault_of_accessibility_and_fits_phone_and_screen(path: str, opens: Opens) -> None:
    window = opens(path, PHONE, has_touch=True)
    found = [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 44)]
    window.set_viewport_size({"width": 320, "height": 600})  # 1280 wide at 400 %, WCAG 2.2, 1.4.10
    found += window.evaluate(SIDEWAYS)
    window.set_viewport_size({"width": 640, "height": 400})  # 1280 x 800 at 200 %
    found += window.evaluate(SIDEWAYS)
    window.set_viewport_size(SCREEN)
    found += [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 24)]
    assert not found, "\n".join(found)


def test_what_was_saved_meanwhile_has_no_fault_of_accessibility(opens: Opens) -> None:
    path = "/jobs/free-freight/limits"
    first, second = opens(path), opens(path, PHONE)
    for window, hours in ((first, "14"), (second, "15")):
        window.locator("#f-base_hours").fill(hours)
        press_save(window)
    second.get_by_role("heading", name="Job free-freight was changed meanwhile").wait_for()
    assert not [*violations(second), *second.evaluate(SIDEWAYS), *second.evaluate(SMALL, 44)]


def test_what_is_wrong_is_told_without_a_fault_of_accessibility(opens: Opens) -> None:
    window = opens("/jobs/exact-block/unit", PHONE)
    window.locator("#f-vehicle-vin").fill("TOO-SHORT")
    press_save(window)
    window.get_by_role("alert").get_by_text("17 letters and digits").wait_for()
    assert not [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 44)]


def test_rows_are_filled_saved_and_taken_out_on_a_phone_without_a_fault_of_accessibility(opens: Opens) -> None:
    window = opens("/jobs/core-lost/charges", PHONE, has_touch=True)
    assert not window.locator("#f-wanted-design-0").is_visible()
    window.locator('input[name="some-wanted"][value="some"]').check()
    window.get_by_label("Design (Design wanted 1)").select_option("screen-s")
    window.get_by_label("Pieces (Design wanted 1)").fill("two")
    window.get_by_label("Worth of a piece (Design wanted 1)").fill("14.00")
    window.get_by_label("For what (Charge 1)").fill("Towing")
    window.get_by_label("Amount (Charge 1)").fill("60.00")
    window.locator("#live").get_by_text("wanted[1] pieces").wait_for()
    press_save(window)
    window.get_by_role("alert").get_by_text("wanted[1] pieces").wait_for()
    assert not [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 44)]
    window.get_by_label("Pieces (Design wanted 1)").fill("2")
    press_save(window)
    window.get_by_text("Saved.").wait_for()
    assert window.get_by_label("For what (Charge 1)").input_value() == "Towing"
    assert not [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 44)]
    window.get_by_label("Take it out: Charge 1").check()
    press_save(window)
    assert window.get_by_label("For what (Charge 1)").input_value() == ""


def test_a_sheet_that_waits_is_told_without_a_fault_of_accessibility(opens: Opens) -> None:
    window = opens("/sheets", PHONE, has_touch=True)
    sheet = {
        "name": "a rather long name of net prices for december.csv",
        "mimeType": "text/csv",
        "buffer": b"part;price\nA1;2.50\n",
    }
    window.locator("#f-file").set_input_files(sheet)  # type: ignore[arg-type]
    with window.expect_navigation():
        window.get_by_role("button", name="Look at it").click()
    window.goto("/sheets")
    window.get_by_text("not filed yet").wait_for()
    assert not [*violations(window), *window.evaluate(SIDEWAYS), *window.evaluate(SMALL, 44)]


def test_two_on_one_page_of_the_shop_are_told_without_a_fault_of_accessibility(opens: Opens) -> None:
    first, second = opens("/book/markup"), opens("/book/markup", PHONE)
    for window, factor in ((first, "1.75"), (second, "1.80")):
        window.get_by_label("Factor (Step 1)").fill(factor)
        press_save(window)
    second.get_by_text("Somebody changed this mark-up").wait_for()
    assert not [*violations(second), *second.evaluate(SIDEWAYS), *second.evaluate(SMALL, 44)]


@pytest.mark.parametrize(
    "path", ["/jobs/substitute-with-plate/answer", "/families/larch5/chart", "/jobs/mixed-before/bench"]
)
def test_on_paper_stands_what_is_read_and_nothing_to_press(path: str, opens: Opens) -> None:
    window = opens(path)
    window.emulate_media(media="print")
    pressed = window.locator("button, .button, .steps, .top").all()
    assert not [one for one in pressed if one.is_visible()]
    assert window.get_by_role("heading", level=1).is_visible()
    for warning in window.locator(".warned li").all():
        assert warning.is_visible()
    for reason in window.locator("details .why").all():  # on paper nothing can be opened
        assert reason.is_visible()
    paper = window.pdf(format="A4")
    assert paper.startswith(b"%PDF")
    window.set_viewport_size({"width": 700, "height": 1000})  # about what A4 leaves between its margins
    assert window.evaluate(SIDEWAYS) == []


# Relative luminance and contrast as WCAG 2.2 defines them: what is left of a colour in grey.
GREY = """([one, other]) => {
  const light = colour => {
    const [r, g, b] = colour.match(/[0-9.]+/g).map(Number).map(v => v / 255)
      .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = which => getComputedStyle(document.querySelector(which)).backgroundColor;
  const at = which => light(behind(which).replace('rgba(0, 0, 0, 0)', 'rgb(255, 255, 255)'));
  const [a, b] = [at(one), at(other)].sort();
  return (b + 0.05) / (a + 0.05);
}"""


def test_in_grey_words_and_shapes_say_what_colours_say(opens: Opens) -> None:
    window = opens("/jobs/mixed-before/unit")
    assert window.evaluate(GREY, [".steps a[aria-current]", ".steps a:not([aria-current])"]) >= 3
    weights = "which => getComputedStyle(document.querySelector(which)).fontWeight"
    chosen, other = (
        window.evaluate(weights, ".pill:has(:checked)"),
        window.evaluate(weights, ".pill:not(:has(:checked))"),
    )
    assert int(chosen) > int(other)
    said = {"goes-yes": {"fits"}, "goes-no": {"no"}, "goes-depends": {"not always"}}
    verdicts = window.locator(".verdicts > li").all()
    assert verdicts
    for one in verdicts:
        assert one.locator(".sign").inner_text() in said[one.get_attribute("class") or ""]
    window.goto("/families/larch5/chart")
    words = {"goes-yes": "yes", "goes-no": "no", "goes-depends": "if"}
    for kind, word in words.items():
        for cell in window.locator(f"td.{kind}").all_inner_texts()[:40]:
            assert cell.split()[0] == word


def test_with_forced_colours_the_chosen_one_is_still_told(opens: Opens) -> None:
    window = opens("/jobs/mixed-before/unit")
    window.emulate_media(forced_colors="active")
    outline = "which => getComputedStyle(document.querySelector(which)).outlineStyle"
    assert window.evaluate(outline, ".pill:has(:checked)") == "solid"
    assert window.evaluate(outline, ".pill:not(:has(:checked))") == "none"
