"""Whatever is typed into the forms of a shop's files is saved or refused with its reason, and what is saved can be read."""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import Any

import pytest

from page.conftest import Person, ShopFolder
from page.test_book import BOOK, KINDS, OF_SHOP
from sourcing.bookshelf import Bookshelf
from sourcing.folder import Folder
from sourcing.page.rates import Rate
from sourcing.tomltext import comments

WORDS = (
    "", "0", "-1", "1.5", "1e9", "nan", "inf", "99999999999999999999", "2026-02-30", "2026-05-25", "a = b", "= =", '"', "'''",
    '"""', "\\", "a\\u0000b", "a\x00b", "\x7f\x1b", "x\x0cy", "a\u2028b", "\ud7ff\U0001f9f0", "# no comment", "[[wanted]]",
    "[supplier.columns]", "{a = 1}", "a\r\nb\r\n= c", "1,2,,3", "block-b", "screen-s, screen-d", "block\nblock-a", "x" * 5000,
    "EUR", "price = Net\nprice = Net", "10+ = ten", "a.b.c = 1", "yes",
)  # fmt: skip
FORMS = {
    **{path: path for path in OF_SHOP},
    **{f"{BOOK}/{kind}?new=1": f"{BOOK}/{kind}" for kind in (*KINDS, "part")},
    f"{BOOK}/inspection?entry=winding": f"{BOOK}/inspection", f"{BOOK}/consumable?entry=fluid": f"{BOOK}/consumable",
    f"{BOOK}/rule?entry=first-body": f"{BOOK}/rule", f"{BOOK}/family": f"{BOOK}/family",
    "/book/suppliers?entry=harbour": "/book/suppliers", "/book/suppliers?new=1": "/book/suppliers",
    "/book/layouts?entry=birkental": "/book/layouts", "/book/layouts?entry=harbour": "/book/layouts",
    **{f"/jobs/free-freight/{step}": f"/jobs/free-freight/{step}" for step in ("unit", "bench", "limits", "charges", "came")},
}  # fmt: skip


def spoilt(fields: dict[str, list[str]], moments: random.Random) -> dict[str, Any]:
    """A form with a few of its fields saying anything."""
    said: dict[str, Any] = dict(fields)
    for name in moments.sample(sorted(said), min(len(said), moments.randint(1, 4))):
        if name not in ("token", "opened", "version", "entry", "form"):
            said[name] = moments.choice(WORDS)
    return said


@pytest.mark.parametrize("path", FORMS)
def test_any_words_are_saved_or_refused(path: str, shop: ShopFolder) -> None:
    person = shop.opens(changes=Rate(10_000, 10_000), reads=Rate(10_000, 10_000))
    if person.client.get(path).status_code == 404:
        path = _one_of(person, FORMS[path])
    action, moments = FORMS.get(path, path.partition("?")[0]), random.Random(path)
    files = [
        path for path in shop.folder.rglob("*") if path.suffix in (".toml", ".csv") and "price-sheets" not in path.parts
    ]
    before = {file: file.read_bytes() for file in files}
    told = set()
    for _ in range(30):
        fields = person.form(path, action)
        sent = spoilt(fields, moments)
        said = person.sends(action, sent)
        assert said.status_code in (200, 422), (sent, said.text[:3000])
        told.add(said.status_code)
        if said.status_code == 422:
            assert all(file.read_bytes() == content for file, content in before.items()), sent
        else:
            _reads(shop.reach.catalogs)
            for file, content in before.items():
                if file.suffix == ".toml":
                    assert sorted(comments(content.decode())) == sorted(comments(file.read_text(encoding="utf-8"))), (
                        sent
                    )
                file.write_bytes(content)
        live = "/jobs/free-freight/live" if path.startswith("/jobs") else f"{action}/live"
        assert person.sends(live, sent).status_code == 200
    assert told


def _one_of(person: Person, action: str) -> str:
    """The first entry of a kind."""
    found = re.search(rf'href="({re.escape(action)}\?entry=[^"]+)"', person.sees(action))
    assert found
    return found[1]


def _reads(catalogs: Path) -> None:
    """The command line reads what was saved."""
    folder = Folder(catalogs)
    for code in Bookshelf(catalogs).families:
        folder.family(code)
