"""The whole set of papers: approved cell by cell, hostile texts, print set-up, properties, letterhead."""

from __future__ import annotations

import io
import os
import re
import struct
import subprocess
import zipfile
import zlib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from shutil import which

import openpyxl
import pytest
from decision.jobs import cost_only
from demo.make_logo import LOGO, png

from quote.hand import HERE, TERMS, Opened, all_in_hand, block_and_screen, block_sent_back, chosen
from sourcing.faults import BadInput
from sourcing.folder import Folder
from sourcing.letterhead import picture_size
from sourcing.quote.papers import papers_of
from sourcing.quote.workbook import customer_bytes
from sourcing.shop import read_shop

ROOT = Path(__file__).resolve().parents[2]
APPROVED = Path(__file__).resolve().parent / "approved"
JOBS = ("substitute-with-plate", "core-lost", "free-freight")


def told(papers: dict[str, bytes]) -> Iterator[str]:
    """Every cell of every paper that holds something: a formula, or a value."""
    for name, content in sorted(papers.items()):
        if name.endswith(".csv"):
            yield from (f"{name}: {line}" for line in content.decode("utf-8-sig").splitlines())
            continue
        solved = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
        for sheet in openpyxl.load_workbook(io.BytesIO(content)):
            for row in sheet:
                for cell in row:
                    if cell.value is not None:
                        value = solved[sheet.title][cell.coordinate].value
                        shown = f"{cell.value} -> {value!r}" if cell.data_type == "f" else repr(value)
                        yield f"{name} {sheet.title} {cell.coordinate}{'' if cell.protection.locked else ' open'}: {shown}"


@pytest.mark.parametrize("job", JOBS)
def test_the_papers_are_those_that_were_approved_cell_by_cell(job: str) -> None:
    """After a change that is meant: UPDATE_GOLDEN=1 pytest -n0 tests/quote/test_papers.py, then read the difference."""
    plan = cost_only(Folder(ROOT / "catalogs").problems(ROOT / "scenarios" / f"{job}.toml")[0])
    papers = {**papers_of(plan), "quote-customer.xlsx": customer_bytes(plan)}
    found = re.sub(r"'[^']*catalogs/", "'catalogs/", "\n".join(told(papers)) + "\n")
    path = APPROVED / f"{job}.txt"
    if os.environ.get("UPDATE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(found, encoding="utf-8", newline="\n")
    assert found == path.read_text(encoding="utf-8")


HOSTILE = ["=cmd|' /C calc'!A0", "+1+2", "@SUM(1)", "=HYPERLINK(0)", "http://example.invalid/x", "a\\u0001b\\u0007\\tc",
           "\\u05e9\\u05dc\\u05d5\\u05dd \\u0645\\u0631\\u062d\\u0628\\u0627", "\\U0001F468\\u200D\\U0001F527 wrench",
           "\\u202Ereversed",
           "&P &D", "{braces} {0}", "word " * 700]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_text_of_a_file_runs_or_is_lost_in_any_paper(text: str, opened: Opened) -> None:
    quoted, short = f'"{text}"', f'"{text[:100]}"'
    problem = opened(
        ('"Invented: A. Person"', quoted), ('"Block one"', quoted), ('"Northgate Invented"', quoted), ('"Fit the block"', quoted),
        ('"Look at the tracks first."', quoted), ('number = "77"', f'number = "{text[:60]}"'),
        ("quote_days = 30", f"quote_days = 30\nletterhead = {{name = {short}, address = [{short}], terms = {short}}}"),
        ("[labour]", f"[[extra]]\nname = {short}\namount = 1\n[labour]"),
        ('core_return_cost = 12.00', f"core_return_cost = 12.00\ncore_days = 30\ncore_needs = {quoted}"),
    )  # fmt: skip
    plan = block_and_screen(problem)
    plain = {name: shapes(content) for name, content in papers_of(block_and_screen(opened())).items() if "xlsx" in name}
    papers = {**papers_of(plan), "quote-customer.xlsx": customer_bytes(plan)}
    plain["quote-customer.xlsx"] = shapes(
        customer_bytes(block_and_screen(opened(("[labour]", "[[extra]]\nname = 'x'\namount = 1\n[labour]"))))
    )
    for name, content in papers.items():
        if name.endswith(".csv"):
            continue
        if name == "quote.xlsx":
            plain[name] |= shapes(
                papers_of(block_and_screen(opened(("[labour]", "[[extra]]\nname = 'x'\namount = 1\n[labour]"))))[name]
            )
        for sheet in openpyxl.load_workbook(io.BytesIO(content)):
            for row in sheet:
                for cell in row:
                    assert cell.hyperlink is None
                    if cell.data_type == "f":
                        assert shape(cell.value) in plain[name]
                    elif isinstance(cell.value, str):
                        assert all(sign.isprintable() or sign == "\u200d" for sign in cell.value)
                        assert cell.quotePrefix or cell.number_format == "@"
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            assert packed.testzip() is None
            assert not any(b'TargetMode="External"' in packed.read(part) for part in packed.namelist())


def shape(formula: object) -> str:
    return "".join(sign for sign in str(formula) if not sign.isdigit())


def shapes(content: bytes) -> set[str]:
    book = openpyxl.load_workbook(io.BytesIO(content))
    return {shape(cell.value) for sheet in book for row in sheet for cell in row if cell.data_type == "f"}


def test_every_sheet_is_set_up_for_printing_with_its_headings_repeated(opened: Opened) -> None:
    for paper, size in (("letter", "1"), ("a4", "9")):
        problem = opened(("quote_days = 30", f'quote_days = 30\nletterhead = {{paper = "{paper}"}}'))
        for name, content in papers_of(block_and_screen(problem)).items():
            for sheet in openpyxl.load_workbook(io.BytesIO(content)) if name.endswith("xlsx") else ():
                assert sheet.print_title_rows and sheet.print_area, (name, sheet.title)
                assert str(sheet.page_setup.paperSize) == size
                assert sheet.sheet_properties.pageSetUpPr.fitToPage
                assert sheet.oddFooter.left.text and sheet.protection.sheet


def test_the_properties_name_the_paper_and_the_shop_and_no_supplier() -> None:
    plan = cost_only(Folder(ROOT / "catalogs").problems(ROOT / "scenarios" / "substitute-with-plate.toml")[0])
    for content in (customer_bytes(plan), papers_of(plan)["order-harbour-ground.xlsx"]):
        held = openpyxl.load_workbook(io.BytesIO(content)).properties
        assert "1047" in held.title and held.creator == "Larch Lane Rebuilds (invented)"
        assert held.created.date() == plan.problem.job.job.date
    with zipfile.ZipFile(io.BytesIO(customer_bytes(plan))) as packed:
        drawing = packed.read("xl/drawings/drawing1.xml").decode()
        assert packed.read("xl/media/image1.png") == LOGO.read_bytes()
    assert 'descr="Logo of Larch Lane Rebuilds (invented)"' in drawing


def test_the_logo_of_the_demo_is_the_one_that_the_script_draws() -> None:
    assert LOGO.read_bytes() == png()


PICTURE = png()
JPEG = (
    b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xc0\x00\x11\x08\x00\x40\x00\x80\x03"
    + b"\0" * 20
)


def test_a_picture_is_measured_by_its_own_bytes() -> None:
    assert picture_size(PICTURE) == (240, 96)
    assert picture_size(JPEG) == (128, 64)
    for wrong in (b"", PICTURE[:-20], b"GIF89a" + b"\0" * 40, JPEG[:20], b"<svg/>"):
        assert picture_size(wrong) is None


def huge() -> bytes:
    head = struct.pack(">IIBBBBB", 5000, 10, 8, 0, 0, 0, 0)
    return (
        PICTURE[:8]
        + struct.pack(">I", 13)
        + b"IHDR"
        + head
        + struct.pack(">I", zlib.crc32(b"IHDR" + head))
        + PICTURE[33:]
    )


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [("logo.png", b"GIF89a" + b"\0" * 40, "neither"), ("logo.png", PICTURE + b"\0" * 1_000_000, "bytes"),
     ("logo.png", huge(), "pixels"),
     ("missing.png", None, "missing.png"), ("../logo.png", PICTURE, "../logo.png"), ("/etc/hostname", None, "hostname")],
)  # fmt: skip
def test_a_logo_that_cannot_be_printed_is_a_fault(name: str, content: bytes | None, told: str, tmp_path: Path) -> None:
    shop = tmp_path / "shop" / "shop.toml"
    shop.parent.mkdir()
    if content is not None:
        (shop.parent / name).write_bytes(content)
    shop.write_text(f'currency = "USD"\n[letterhead]\nlogo = "{name}"\n', encoding="utf-8")
    with pytest.raises(BadInput, match="letterhead logo") as fault:
        read_shop(shop)
    assert told in str(fault.value)


@pytest.mark.parametrize("line", ['fax = "1"', 'paper = "a3"', 'language = "qq"', 'address = "one line"'])
def test_a_letterhead_with_what_no_shop_can_say_is_a_fault(line: str, tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(f'currency = "USD"\n[letterhead]\n{line}\n', encoding="utf-8")
    with pytest.raises(BadInput, match="letterhead"):
        read_shop(tmp_path / "shop.toml")


def test_the_cores_are_due_from_the_arrival_in_the_state_that_the_supplier_asks(opened: Opened) -> None:
    rows = {row[0].value: [cell.value for cell in row] for row in openpyxl.load_workbook(
        io.BytesIO(papers_of(block_and_screen(opened(TERMS)))["cores.xlsx"])).active}  # fmt: skip
    due = rows["Block one"][4].date().isoformat()
    assert due == "2026-04-03"  # two working days from Monday 2 March, then 30 days
    assert rows["Block one"][5] == "complete, drained, in its box"


def test_an_orders_fee_stands_on_the_order(opened: Opened) -> None:
    plan = chosen(opened(TERMS), {"K-9": 1}, {"block": "K-9", "plate": "K-9"})
    sheet = openpyxl.load_workbook(io.BytesIO(papers_of(plan)["order-nrth-ground.xlsx"]), data_only=True).active
    rows = {row[1].value: row[7].value for row in sheet}  # type: ignore[union-attr]
    assert (rows["Charge for the order"], rows["Freight, by your terms"]) == (4.0, 12.5)
    assert Decimal(str(rows["Total in USD, before taxes that you add"])) * 100 == plan.totals.cash


def test_papers_are_written_for_parts_in_hand_too(opened: Opened) -> None:
    for plan in (all_in_hand(opened(HERE)), block_sent_back(opened(HERE, TERMS))):
        assert {"quote.xlsx", "cores.xlsx", "bench-papers.xlsx"} <= set(papers_of(plan))


@pytest.mark.skipif(
    which("soffice") is None or which("pdfinfo") is None, reason="LibreOffice or pdfinfo is not installed"
)
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_each_paper_that_is_handed_out_is_printed_on_one_page(paper: str, opened: Opened, tmp_path: Path) -> None:
    problem = opened(("quote_days = 30", f'quote_days = 30\nletterhead = {{paper = "{paper}", name = "Invented"}}'))
    plan = block_and_screen(problem)
    papers = {**papers_of(plan), "quote-customer.xlsx": customer_bytes(plan)}
    width = {"letter": 612, "a4": 595}[paper]
    for name, pages in (
        ("quote-customer.xlsx", 1),
        ("bench-papers.xlsx", 2),
        ("order-nrth-ground.xlsx", 1),
        ("cores.xlsx", 1),
    ):
        (tmp_path / name).write_bytes(papers[name])
        profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
        words = [
            "soffice",
            "--headless",
            profile,
            "--convert-to",
            "pdf",
            "--outdir",
            str(tmp_path),
            str(tmp_path / name),
        ]
        subprocess.run(words, check=True, capture_output=True, timeout=600)
        said = subprocess.run(
            ["pdfinfo", str(tmp_path / name.replace("xlsx", "pdf"))], check=True, capture_output=True, text=True
        )
        assert re.search(rf"^Pages:\s+{pages}$", said.stdout, re.M), (name, said.stdout)
        sides = {round(float(side)) for side in re.findall(r"Page size:\s+([\d.]+) x ([\d.]+)", said.stdout)[0]}
        assert width in sides, (name, sides)
