"""A real browser at the page, which `sourcing serve` serves over a copy of the demo; skipped where there is no Chromium."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from page.served import Served, demo_in, served

playwright_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright  # noqa: E402

NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM = next(filter(None, map(shutil.which, NAMES)), None)
QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync")  # fmt: skip
PHONE = {"width": 360, "height": 740}
SCREEN = {"width": 1280, "height": 800}
Opens = Callable[..., Page]
expect.set_options(timeout=30_000)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip(f"no browser here: none of {', '.join(NAMES)} is on the path")
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        yield running
        running.close()


@pytest.fixture(scope="module")
def page_of_shop(browser: Browser, tmp_path_factory: pytest.TempPathFactory, kept_sheets: Path) -> Iterator[Served]:
    """The page over a copy of the demo: one for a module, so its tests take jobs of their own."""
    with served(demo_in(tmp_path_factory.mktemp("shop")), kept_sheets) as running:
        yield running


def press_save(window: Page) -> None:
    """Save a form and wait for the page that answers: what an earlier save said may stand on the page that is left."""
    with window.expect_navigation():
        window.get_by_role("button", name="Save", exact=True).click()


class Windows:
    """Browser windows, each of a person of its own; what they ask of an address that is not the page's is kept, and not sent."""

    def __init__(self, browser: Browser, address: str) -> None:
        self._browser, self.address = browser, address
        self._open: list[BrowserContext] = []
        self.elsewhere: list[str] = []
        self.errors: list[str] = []

    def opens(self, path: str = "", size: dict[str, int] = SCREEN, **options: Any) -> Page:
        """A new person's window at a path."""
        context = self._browser.new_context(base_url=self.address, viewport=size, locale="en-US", **options)
        context.set_default_timeout(60_000)
        self._open.append(context)
        context.route(re.compile(f"^(?!{re.escape(self.address)}/)"), self._refuse)
        window = context.new_page()
        window.on("pageerror", lambda error: self.errors.append(str(error)))
        window.on("console", lambda said: self.errors.append(said.text) if "Content Security" in said.text else None)
        if path:
            window.goto(path)
        return window

    def _refuse(self, route: Any) -> None:
        self.elsewhere.append(route.request.url)
        route.abort()

    def close(self) -> None:
        for context in self._open:
            context.close()


@pytest.fixture
def windows(browser: Browser, page_of_shop: Served) -> Iterator[Windows]:
    made = Windows(browser, page_of_shop.address)
    yield made
    made.close()
    assert not made.elsewhere, f"asked of another address: {made.elsewhere}"
    assert not made.errors, made.errors


@pytest.fixture
def opens(windows: Windows) -> Opens:
    return windows.opens
