"""The counter page over a copy of the demo, asked as a browser without scripts asks it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from demofolder import ROOT, demo, own_cache
from fastapi.testclient import TestClient
from httpx2 import Response

from sourcing.page.app import create_app
from sourcing.page.guard import Rules
from sourcing.page.reach import Reach

__all__ = ["ROOT", "demo", "own_cache"]


class _Fields(HTMLParser):
    """The fields of the form with an action, as a browser would send them untouched."""

    def __init__(self, action: str) -> None:
        super().__init__()
        self.action, self.inside, self.found = action, False, False
        self.fields: list[tuple[str, str]] = []
        self._select, self._first = "", True
        self._text: str | None = None

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text += data

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "form":
            self.inside = said.get("action") == self.action
            self.found = self.found or self.inside
        if not self.inside:
            return
        name, value = said.get("name"), said.get("value") or ""
        if tag == "input" and name:
            if said.get("type") in ("checkbox", "radio"):
                if "checked" in said:
                    self.fields.append((name, value))
            else:
                self.fields.append((name, value))
        if tag == "textarea" and name:
            self.fields.append((name, ""))
            self._text = ""
        if tag == "select":
            self._select, self._first = name or "", True
        if tag == "option" and self._select:
            if self._first:
                self.fields.append((self._select, value))
                self._first = False
            elif "selected" in said:
                self.fields[-1] = (self._select, value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        if tag == "select":
            self._select = ""
        if tag == "textarea" and self._text is not None:
            self.fields[-1] = (self.fields[-1][0], self._text.removeprefix("\n"))
            self._text = None


@dataclass
class Person:
    """Somebody at a browser of their own, with scripts off."""

    client: TestClient

    def sees(self, path: str, status: int = 200) -> str:
        said = self.client.get(path)
        assert said.status_code == status, said.text
        return said.text

    def form(self, path: str, action: str | None = None) -> dict[str, list[str]]:
        """The fields of a page's form, as they stand."""
        return fields_of(self.sees(path), action or path)

    def sends(self, action: str, fields: dict[str, Any], **changed: Any) -> Response:
        """A form with some fields changed (a dash in a name as "__"), sent; redirects are followed."""
        sent = dict(fields) | {name.replace("__", "-"): value for name, value in changed.items()}
        return self.client.post(action, data=sent)


def fields_of(text: str, action: str) -> dict[str, list[str]]:
    parser = _Fields(action)
    parser.feed(text)
    assert parser.found, f"no form leads to {action}"
    fields: dict[str, list[str]] = {}
    for name, value in parser.fields:
        fields.setdefault(name, []).append(value)
    return fields


def words_of(text: str) -> str:
    """What a page says, without its markup."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<(script|style).*?</\1>", " ", text))).split())


@dataclass(frozen=True)
class ShopFolder:
    """A shop's folder in a temporary place, and its page."""

    folder: Path

    @property
    def reach(self) -> Reach:
        return Reach(self.folder / "catalogs", self.folder / "scenarios", self.folder / "reports")

    def job(self, name: str) -> Path:
        return self.folder / "scenarios" / f"{name}.toml"

    def opens(self, **rules: Any) -> Person:
        """The page anew, with a browser at it."""
        return Person(TestClient(create_app(self.reach, Rules(**rules)), base_url="http://127.0.0.1:8765"))


@pytest.fixture
def shop(demo: Path) -> ShopFolder:
    """A fresh copy of the demo; the tests stand in it."""
    return ShopFolder(demo)


@pytest.fixture
def person(shop: ShopFolder) -> Person:
    return shop.opens()
