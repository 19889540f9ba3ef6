"""A folder to start from: the example is the demo byte for byte, the empty one reads without a fault."""

from __future__ import annotations

import os
import shutil
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from sourcing.bookshelf import Bookshelf
from sourcing.cli import main
from sourcing.faults import BadInput
from sourcing.folder import Folder
from sourcing.newfolder import Start, make_family, make_folder

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "sourcing" / "example"
JOBS = ("exact-block.toml", "substitute-with-plate.toml")


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*")
            if path.is_file() and not path.name.startswith(".")}  # fmt: skip


def test_the_packaged_example_is_the_demo_byte_for_byte() -> None:
    """UPDATE_EXAMPLE=1 copies the demo anew."""
    if os.environ.get("UPDATE_EXAMPLE"):
        shutil.rmtree(EXAMPLE / "catalogs")
        shutil.copytree(ROOT / "catalogs", EXAMPLE / "catalogs", ignore=shutil.ignore_patterns(".*"))
        for name in JOBS:
            shutil.copy(ROOT / "scenarios" / name, EXAMPLE / "scenarios" / name)
    assert contents(EXAMPLE / "catalogs") == contents(ROOT / "catalogs")
    assert contents(EXAMPLE / "scenarios") == {name: (ROOT / "scenarios" / name).read_bytes() for name in JOBS}


def test_everything_of_the_example_goes_into_the_package() -> None:
    import tomllib

    listed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["package-data"]
    packed = {path for pattern in listed["sourcing"] for path in (ROOT / "sourcing").glob(pattern) if path.is_file()}
    assert {path for path in EXAMPLE.rglob("*") if path.is_file()} <= packed


def test_an_example_quotes_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["sourcing", "new", str(tmp_path / "shop"), "--example", "--name", 'Ann "A" & Sons',
                                      "--labour-rate", "99.50"])  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 0 and "sourcing quote scenarios/exact-block.toml" in capsys.readouterr().out
    folder = Folder(tmp_path / "shop" / "catalogs")
    assert (folder.shop.letterhead.name, folder.shop.labour_rate) == ('Ann "A" & Sons', Decimal("99.50"))
    assert folder.problems(tmp_path / "shop" / "scenarios" / "exact-block.toml")[0].offers


def test_an_empty_folder_reads_without_a_fault_and_its_comments_say_what_to_fill_in(tmp_path: Path) -> None:
    catalogs = tmp_path / "catalogs"
    make_folder(
        catalogs, tmp_path / "scenarios", Start("empty", "My shop", "EUR", Decimal("80"), "fir-4", "Fir four-speed")
    )
    folder = Folder(catalogs)
    assert (folder.shop.currency, folder.shop.letterhead.name, folder.suppliers) == ("EUR", "My shop", {})
    family, parts = folder.family("fir-4")
    assert (family.family.name, parts) == ("Fir four-speed", ())
    assert Bookshelf(catalogs).families == ["fir-4"]
    for name in ("shop.toml", "fir-4/interchange.toml"):
        assert "fill in" in (catalogs / name).read_text(encoding="utf-8")


def test_nothing_is_ever_overwritten_and_nothing_is_left_half_made(tmp_path: Path) -> None:
    catalogs, jobs = tmp_path / "catalogs", tmp_path / "scenarios"
    jobs.mkdir()
    (jobs / "exact-block.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match=r"exact-block.toml: expected a place where no such file stands yet"):
        make_folder(catalogs, jobs, Start("example"))
    assert contents(tmp_path) == {"scenarios/exact-block.toml": b"mine"}
    make_folder(catalogs, jobs, Start("empty"))
    before = contents(tmp_path)
    with pytest.raises(BadInput, match="expected a place"):
        make_folder(catalogs, jobs, Start("empty"))
    assert contents(tmp_path) == before


@pytest.mark.parametrize(("start", "words"), [
    (Start("empty", currency="dollars"), "currency"), (Start("empty", currency="JPY"), "two decimals"),
    (Start("empty", labour_rate=Decimal("-1")), "labour_rate"), (Start("empty", family="../evil"), "family code"),
    (Start("empty", family="price-sheets"), "family code"), (Start("empty", name="x" * 500), "letterhead"),
])  # fmt: skip
def test_what_cannot_be_is_said_and_nothing_is_written(tmp_path: Path, start: Start, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        make_folder(tmp_path / "catalogs", tmp_path / "scenarios", start)
    assert not list(tmp_path.iterdir())


def test_a_further_family_is_begun_beside_the_first(tmp_path: Path) -> None:
    make_folder(tmp_path / "catalogs", tmp_path / "scenarios", Start("empty"))
    make_family(tmp_path / "catalogs", "elm", 'Elm "six"')
    assert Bookshelf(tmp_path / "catalogs").family("elm").family.name == 'Elm "six"'
    with pytest.raises(BadInput):
        make_family(tmp_path / "catalogs", "elm", "again")
